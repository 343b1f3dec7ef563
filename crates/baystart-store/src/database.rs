//! Opening a database: pools, session settings, migration.

use crate::api::StoreOptions;
use crate::entity::shop;
use crate::error::{Fault, StoreError};
use baystart_core::ids::ShopId;
use baystart_migrations::{Migrator, MigratorTrait};
use sea_orm::{
    ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, EntityTrait, QuerySelect,
    SqliteTransactionMode, SqlxPostgresConnector, SqlxSqliteConnector, TransactionOptions,
    TransactionTrait,
};
use sqlx::postgres::{PgConnectOptions, PgPool, PgPoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{ConnectOptions, Executor};
use std::str::FromStr;
use std::time::Duration;

/// The two pools of one database.
#[derive(Debug)]
pub(crate) struct Database {
    /// Read-only connections, one consistent snapshot per transaction.
    pub reader: DatabaseConnection,
    /// Connections of the workers.
    pub writer: DatabaseConnection,
    pub options: StoreOptions,
}

/// How long a starting server waits for another one that migrates.
const MIGRATION_WAIT: Duration = Duration::from_secs(60);
/// Key of PostgreSQL's advisory lock around migrations; any fixed number.
const MIGRATION_LOCK: i64 = 0x0062_6179_7374_6172;
/// A statement that takes longer is given up.
const STATEMENT_MAX: Duration = Duration::from_secs(30);

impl Database {
    pub async fn open(url: &str, options: StoreOptions) -> Result<Self, StoreError> {
        if url.starts_with("postgres://") || url.starts_with("postgresql://") {
            return open_postgres(url, options).await;
        }
        if url.starts_with("sqlite:") {
            return open_sqlite(url, options).await;
        }
        Err(no_address(url))
    }

    pub fn is_sqlite(&self) -> bool {
        self.writer.get_database_backend() == DbBackend::Sqlite
    }

    /// A transaction that writes. On SQLite it holds the file's write lock
    /// from the start; a deferred one could fail half way.
    pub async fn begin_write(&self) -> Result<DatabaseTransaction, Fault> {
        let options = TransactionOptions {
            sqlite_transaction_mode: Some(SqliteTransactionMode::Immediate),
            ..TransactionOptions::default()
        };
        Ok(self.writer.begin_with_options(options).await?)
    }

    /// Takes the lock that serialises a shop's writers, whichever server they
    /// come from. SQLite's write lock is held already.
    pub async fn lock_shop(&self, txn: &DatabaseTransaction, shop: ShopId) -> Result<(), Fault> {
        if self.is_sqlite() {
            return Ok(());
        }
        shop::Entity::find_by_id(shop.0).lock_exclusive().one(txn).await?;
        Ok(())
    }

    /// Lets the statements of this transaction take longer.
    pub async fn allow_long(&self, txn: &DatabaseTransaction) -> Result<(), Fault> {
        if !self.is_sqlite() {
            let limits = "SET LOCAL statement_timeout = 300000;
                SET LOCAL idle_in_transaction_session_timeout = 300000";
            txn.execute_unprepared(limits).await?;
        }
        Ok(())
    }

    /// A transaction that reads one snapshot.
    pub async fn begin_read(&self) -> Result<DatabaseTransaction, Fault> {
        Ok(self.reader.begin().await?)
    }

    pub async fn close(&self) {
        let _ = self.reader.close_by_ref().await;
        let _ = self.writer.close_by_ref().await;
    }
}

/// What is said of an address of another kind; of the address, which may hold a
/// password, only the scheme is shown.
pub(crate) fn no_address(url: &str) -> StoreError {
    let scheme = url.split_once("://").map_or("", |(scheme, _)| scheme);
    let not = match scheme {
        "" => String::new(),
        scheme => format!(", not with \"{scheme}://\""),
    };
    let text = format!("a database address begins with sqlite: or postgres://{not}");
    StoreError::Settings(text)
}

async fn open_sqlite(url: &str, options: StoreOptions) -> Result<Database, StoreError> {
    let base = SqliteConnectOptions::from_str(url)
        .map_err(|error| StoreError::Settings(format!("the database address: {error}")))?
        .busy_timeout(options.busy_timeout)
        .foreign_keys(true)
        .disable_statement_logging();
    let in_memory = url.contains(":memory:") || url.contains("mode=memory");
    if !in_memory {
        crate::files::prepare(base.get_filename())?;
    }
    let write = base
        .clone()
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full);
    let pool = SqlitePoolOptions::new()
        .min_connections(1)
        .max_connections(1)
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(options.lock_timeout)
        .connect_with(write)
        .await?;
    let writer = SqlxSqliteConnector::from_sqlx_sqlite_pool(pool);
    Migrator::up(&writer, None).await?;
    // An in-memory database lives in its one connection, which then reads too.
    if in_memory {
        return Ok(Database { reader: writer.clone(), writer, options });
    }
    let pool = SqlitePoolOptions::new()
        .max_connections(options.readers.max(1))
        .acquire_timeout(options.lock_timeout)
        .connect_with(base.read_only(true))
        .await?;
    let reader = SqlxSqliteConnector::from_sqlx_sqlite_pool(pool);
    Ok(Database { reader, writer, options })
}

async fn open_postgres(url: &str, options: StoreOptions) -> Result<Database, StoreError> {
    let connect = PgConnectOptions::from_str(url)
        .map_err(|error| StoreError::Settings(format!("the database address: {error}")))?
        .application_name("baystart")
        .disable_statement_logging();
    crate::existing::reach(&connect).await?;
    migrate_postgres(&connect).await?;
    let limits = format!(
        "SET lock_timeout = {}; SET statement_timeout = {};
         SET idle_in_transaction_session_timeout = {};",
        options.lock_timeout.as_millis(),
        STATEMENT_MAX.as_millis(),
        2 * STATEMENT_MAX.as_millis(),
    );
    let snapshot = format!(
        "{limits} SET SESSION CHARACTERISTICS AS TRANSACTION ISOLATION LEVEL REPEATABLE READ,
         READ ONLY;"
    );
    let committed = format!(
        "{limits} SET SESSION CHARACTERISTICS AS TRANSACTION ISOLATION LEVEL READ COMMITTED;"
    );
    let writer = postgres_pool(&connect, options.writers, committed, &options).await?;
    let reader = postgres_pool(&connect, options.readers, snapshot, &options).await?;
    Ok(Database {
        reader: SqlxPostgresConnector::from_sqlx_postgres_pool(reader),
        writer: SqlxPostgresConnector::from_sqlx_postgres_pool(writer),
        options,
    })
}

async fn postgres_pool(
    connect: &PgConnectOptions,
    connections: u32,
    session: String,
    options: &StoreOptions,
) -> Result<PgPool, StoreError> {
    let pool = PgPoolOptions::new()
        .max_connections(connections.max(1))
        .acquire_timeout(options.lock_timeout)
        .test_before_acquire(false)
        .after_connect(move |connection, _| {
            let session = session.clone();
            Box::pin(
                async move { connection.execute(sqlx::AssertSqlSafe(session)).await.map(|_| ()) },
            )
        })
        // A future dropped within BEGIN leaves the transaction open for the
        // next borrower (sqlx 0.9.0). BEGIN first keeps the server from warning
        // about a ROLLBACK without one; in a failed transaction it errs, and
        // the connection is then thrown away. It also shows a dead connection.
        .before_acquire(|connection, _| {
            Box::pin(async move { Ok(connection.execute("BEGIN; ROLLBACK").await.is_ok()) })
        })
        .connect_with(connect.clone())
        .await?;
    Ok(pool)
}

/// Servers that start at once on one empty database would break each other's
/// steps, so the steps run under an advisory lock of one connection.
async fn migrate_postgres(connect: &PgConnectOptions) -> Result<(), StoreError> {
    let pool = PgPoolOptions::new()
        .max_connections(1)
        .min_connections(1)
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(MIGRATION_WAIT)
        .connect_with(connect.clone())
        .await?;
    let wait = format!("SET lock_timeout = {}", MIGRATION_WAIT.as_millis());
    pool.execute(sqlx::AssertSqlSafe(wait)).await?;
    let lock = format!("SELECT pg_advisory_lock({MIGRATION_LOCK})");
    pool.execute(sqlx::AssertSqlSafe(lock)).await?;
    let database = SqlxPostgresConnector::from_sqlx_postgres_pool(pool.clone());
    let migrated = Migrator::up(&database, None).await;
    // Closing the only connection frees the lock, whatever came of the steps.
    pool.close().await;
    Ok(migrated?)
}
