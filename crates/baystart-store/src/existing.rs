//! Opening a database to look at it: nothing is made, migrated or written.

use crate::api::StoreOptions;
use crate::database::{Database, Pool};
use crate::error::{StoreError, opening};
use crate::files::beside;
use baystart_migrations::{Migrator, MigratorTrait};
use sea_orm::{ConnectionTrait, DbBackend, Statement};
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use sqlx::{ConnectOptions, Connection as _};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// A database that was opened to be looked at.
pub(crate) struct Existing {
    pub database: Database,
    /// Read without locks, since no server had it open: the file that appears
    /// when one opens it.
    pub appears: Option<PathBuf>,
}

impl Database {
    /// Opens a database that must be there and of this program's schema.
    pub(crate) async fn open_existing(
        url: &str,
        options: StoreOptions,
    ) -> Result<Existing, StoreError> {
        let found = if url.starts_with("postgres://") || url.starts_with("postgresql://") {
            postgres(url, options).await?
        } else if url.starts_with("sqlite:") {
            sqlite(url, options).await?
        } else {
            return Err(crate::database::no_address(url));
        };
        match same_schema(&found.database).await {
            Ok(()) => Ok(found),
            Err(error) => {
                found.database.close().await;
                Err(error)
            }
        }
    }
}

async fn sqlite(url: &str, options: StoreOptions) -> Result<Existing, StoreError> {
    let connect = SqliteConnectOptions::from_str(url)
        .map_err(|error| StoreError::Settings(format!("the database address: {error}")))?
        .busy_timeout(options.busy_timeout)
        .create_if_missing(false)
        .read_only(true)
        .disable_statement_logging();
    let path = connect.get_filename().to_owned();
    if !path.is_file() {
        return Err(missing(&path));
    }
    // While anybody has the database open its log is there, and SQLite's locks are needed. Else
    // reading with locks would leave a log and an index behind: the file is read as it lies.
    let log = beside(&path, "-wal");
    let appears = Some(log).filter(|log| !log.exists());
    let connect = connect.immutable(appears.is_some());
    let pool = SqlitePoolOptions::new()
        .max_connections(1)
        .acquire_timeout(options.connection_timeout)
        .connect_with(connect)
        .await
        .map_err(|error| opening(&error, &path.display().to_string()))?;
    Ok(Existing { database: Database::to_look_at(Pool::Sqlite(pool), options), appears })
}

fn missing(path: &Path) -> StoreError {
    let name = path.display();
    StoreError::Settings(match path.exists() {
        true => format!("{name} is no file, so it can be no database"),
        false => format!("there is no database {name}: check the path"),
    })
}

async fn postgres(url: &str, options: StoreOptions) -> Result<Existing, StoreError> {
    let connect = PgConnectOptions::from_str(url)
        .map_err(|error| StoreError::Settings(format!("the database address: {error}")))?
        .application_name("baystart")
        .options([("default_transaction_read_only", "on")])
        .disable_statement_logging();
    reach(&connect).await?;
    let pool = PgPoolOptions::new()
        .max_connections(1)
        .acquire_timeout(options.connection_timeout)
        .connect_with(connect)
        .await?;
    Ok(Existing { database: Database::to_look_at(Pool::Postgres(pool), options), appears: None })
}

/// Whether the server can be reached, lets us in and has the database: a pool
/// would try again and again and say only that it took too long.
///
/// # Errors
/// It cannot; the message names host, user and database, never the password.
pub(crate) async fn reach(connect: &PgConnectOptions) -> Result<(), StoreError> {
    let (host, port) = (connect.get_host(), connect.get_port());
    let database = connect.get_database().unwrap_or_else(|| connect.get_username());
    let place = format!("{host}:{port}/{database} (user {})", connect.get_username());
    let connection = match tokio::time::timeout(REACH_MAX, connect.connect()).await {
        Ok(connected) => connected.map_err(|error| opening(&error, &place))?,
        Err(_) => {
            let text = format!("the database {place} does not answer in {} s", REACH_MAX.as_secs());
            return Err(StoreError::Unreachable(text));
        }
    };
    // What cannot be said goodbye to is gone.
    let _ = connection.close().await;
    Ok(())
}

/// How long a database may take to let us in.
const REACH_MAX: std::time::Duration = std::time::Duration::from_secs(10);

/// Whether the database has exactly the steps that this program knows.
async fn same_schema(database: &Database) -> Result<(), StoreError> {
    let reader = &database.single;
    let backend = reader.get_database_backend();
    let table = match backend {
        DbBackend::Sqlite => {
            "SELECT COUNT(*) AS n FROM sqlite_master WHERE name = 'seaql_migrations'"
        }
        _ => {
            "SELECT COUNT(*) AS n FROM pg_tables WHERE tablename = 'seaql_migrations' \
              AND schemaname = current_schema()"
        }
    };
    let count = reader.query_one_raw(Statement::from_string(backend, table)).await?;
    let count: i64 = count.map_or(Ok(0), |row| row.try_get("", "n"))?;
    if count == 0 {
        let text = "the database holds no Baystart data: check its address, or set a shop up first";
        return Err(StoreError::Settings(text.to_owned()));
    }
    let statement = Statement::from_string(backend, "SELECT version FROM seaql_migrations");
    let mut done = BTreeSet::new();
    for row in reader.query_all_raw(statement).await? {
        done.insert(row.try_get::<String>("", "version")?);
    }
    let known: BTreeSet<String> =
        Migrator::migrations().iter().map(|step| step.name().to_owned()).collect();
    if let Some(beyond) = done.difference(&known).next() {
        return Err(StoreError::Settings(format!(
            "the database was written by a newer program (its step {beyond} is not known to this \
             one): use that version"
        )));
    }
    if let Some(lacking) = known.difference(&done).next() {
        return Err(StoreError::Settings(format!(
            "the database is of an older program (it lacks the step {lacking}): back it up, then \
             start the server, which upgrades it; or use the version that wrote it"
        )));
    }
    Ok(())
}
