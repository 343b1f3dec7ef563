//! Opening a database: pools, session settings, migration.

use crate::api::StoreOptions;
use crate::entity::shop;
use crate::error::{Fault, StoreError};
use crate::txn::{Committed, Held, Txn};
use crate::write::Pass;
use baystart_core::ids::ShopId;
use sea_orm::{
    ConnectionTrait, DatabaseConnection, EntityTrait, QuerySelect, SqlxPostgresConnector,
    SqlxSqliteConnector,
};
use sqlx::postgres::{PgConnectOptions, PgPool, PgPoolOptions};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePool, SqlitePoolOptions,
    SqliteSynchronous,
};
use sqlx::{ConnectOptions, Connection as _, Executor};
use std::str::FromStr;
use std::sync::atomic::{AtomicI32, Ordering};
use std::time::Duration;

/// Connections of one kind.
#[derive(Clone, Debug)]
pub(crate) enum Pool {
    Sqlite(SqlitePool),
    Postgres(PgPool),
}

impl Pool {
    async fn acquire(&self) -> Result<Held, Fault> {
        Ok(match self {
            Self::Sqlite(pool) => Held::Sqlite(pool.acquire().await?),
            Self::Postgres(pool) => Held::Postgres(pool.acquire().await?),
        })
    }

    fn single(self) -> DatabaseConnection {
        match self {
            Self::Sqlite(pool) => SqlxSqliteConnector::from_sqlx_sqlite_pool(pool),
            Self::Postgres(pool) => SqlxPostgresConnector::from_sqlx_postgres_pool(pool),
        }
    }

    async fn close(&self) {
        match self {
            Self::Sqlite(pool) => pool.close().await,
            Self::Postgres(pool) => pool.close().await,
        }
    }
}

/// The connections of one database.
#[derive(Debug)]
pub(crate) struct Database {
    /// Read-only, one consistent snapshot per transaction.
    reader: Pool,
    /// Those of the workers.
    writer: Pool,
    /// For single statements that read: whose token, was the commit seen. Apart
    /// from the readers, which slow callers may hold for long.
    pub single: DatabaseConnection,
    /// SQLite's connections for large imports.
    aside: Option<Pool>,
    /// Keeps a database that lives in memory while its one other connection is
    /// replaced.
    keeper: Option<tokio::sync::Mutex<SqliteConnection>>,
    /// How often it was asked whether it takes a commit.
    beats: AtomicI32,
    pub options: StoreOptions,
}

/// How long a starting server waits for another one that migrates.
const MIGRATION_WAIT: Duration = Duration::from_secs(60);
/// Key of PostgreSQL's advisory lock around migrations; any fixed number.
const MIGRATION_LOCK: i64 = 0x0062_6179_7374_6172;
/// A statement that takes longer is given up.
const STATEMENT_MAX: Duration = Duration::from_secs(30);
/// Connections for single statements.
const SINGLE_CONNECTIONS: u32 = 4;
/// Waits of `busy_timeout` each for another program that holds the file.
const ASIDE_TRIES: u32 = 4;
/// Large imports that are made ready at once on SQLite.
const ASIDE_CONNECTIONS: u32 = 2;
/// How long a shop waits for SQLite's one writer while other shops write; each
/// holds it for one short commit.
const SQLITE_WRITER_WAIT: Duration = Duration::from_secs(30);

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

    /// One on whose connections nothing can be written.
    pub fn to_look_at(pool: Pool, options: StoreOptions) -> Self {
        Self {
            reader: pool.clone(),
            writer: pool.clone(),
            single: pool.single(),
            aside: None,
            keeper: None,
            beats: AtomicI32::new(1),
            options,
        }
    }

    pub const fn is_sqlite(&self) -> bool {
        matches!(self.writer, Pool::Sqlite(_))
    }

    /// A transaction that writes. On SQLite it holds the file's write lock
    /// from the start; a deferred one could fail half way.
    pub async fn begin_write(&self) -> Result<Txn, Fault> {
        let text = if self.is_sqlite() { "BEGIN IMMEDIATE" } else { "BEGIN" };
        Txn::begin(self.writer.acquire().await?, text).await
    }

    /// A connection of its own for an import of so many rows that SQLite's one
    /// writer should not wait while they are made ready; None where nobody would.
    ///
    /// # Errors
    /// The database cannot be used.
    pub async fn begin_aside(&self, rows: usize) -> Result<Option<Txn>, Fault> {
        let Some(aside) = self.aside.as_ref().filter(|_| rows >= self.options.aside_rows_min)
        else {
            return Ok(None);
        };
        let mut txn = Txn::begin(aside.acquire().await?, "BEGIN").await?;
        txn.close_at_end().await;
        txn.pass = Pass::stage();
        Ok(Some(txn))
    }

    /// Goes on with such a connection as the one that writes; the writer's own is
    /// held meanwhile, so that others of this server wait in line.
    pub async fn write_aside(&self, txn: &mut Txn) -> Result<Held, Fault> {
        let turn = self.writer.acquire().await?;
        let mut tries = 0;
        while let Err(fault) = txn.go_on("BEGIN IMMEDIATE").await {
            tries += 1;
            // Another program holds the file: what was made ready is worth a wait.
            if !matches!(fault, Fault::Conflict(_)) || tries >= ASIDE_TRIES {
                return Err(fault);
            }
        }
        txn.pass = Pass::keep();
        Ok(turn)
    }

    /// Takes the lock that serialises a shop's writers, whichever server they
    /// come from, and reads its row. SQLite's write lock is held already.
    pub async fn lock_shop(&self, txn: &Txn, shop: ShopId) -> Result<shop::Model, Fault> {
        let mut row = shop::Entity::find_by_id(shop.0);
        if !self.is_sqlite() {
            row = row.lock_exclusive();
        }
        row.one(txn).await?.ok_or_else(|| no_shop(shop))
    }

    /// Lets the statements of this transaction take longer.
    pub async fn allow_long(&self, txn: &Txn) -> Result<(), Fault> {
        if !self.is_sqlite() {
            let limits = "SET LOCAL statement_timeout = 300000;
                SET LOCAL idle_in_transaction_session_timeout = 300000";
            txn.execute_unprepared(limits).await?;
        }
        Ok(())
    }

    /// A transaction that reads one snapshot.
    pub async fn begin_read(&self) -> Result<Txn, Fault> {
        Txn::begin(self.reader.acquire().await?, "BEGIN").await
    }

    /// Looks from another connection whether a commit is there, before anybody
    /// is told: the shop must be at the revision, or past it.
    ///
    /// # Errors
    /// It is not there, or nobody can say: `Unavailable`, and the connection is
    /// closed.
    pub async fn see(&self, done: Committed, shop: ShopId, revision: i64) -> Result<(), Fault> {
        if self.keeper.is_some() {
            // In memory: one connection, whose word is all there is.
            done.seen();
            return Ok(());
        }
        let row = shop::Entity::find_by_id(shop.0).one(&self.single).await.map_err(|error| {
            // Whatever it is: the commit may well be there.
            let text = format!(
                "nobody can say whether the commit was kept ({error}): repeat with the same \
                 request id"
            );
            Fault::Fatal(StoreError::Unavailable(text))
        })?;
        let now = row.map(|row| row.revision);
        if now.is_some_and(|now| now >= revision) {
            done.seen();
            return Ok(());
        }
        tracing::error!(%shop, revision, ?now, "a commit was answered and is not there");
        let text = "a commit was not kept by the database: repeat with the same request id";
        Err(Fault::Fatal(StoreError::Unavailable(text.to_owned())))
    }

    /// Commits a write that changes nothing of anybody's: on SQLite the number
    /// that a program may keep in the file's header, on PostgreSQL only the
    /// transaction's own id, whose commit record goes to the log all the same.
    pub async fn beat(&self) -> Result<(), Fault> {
        let txn = self.begin_write().await?;
        let written = match self.is_sqlite() {
            true => {
                let beat = self.beats.fetch_add(1, Ordering::Relaxed);
                txn.execute_unprepared(&format!("PRAGMA user_version = {beat}")).await
            }
            false => txn.execute_unprepared("SELECT pg_current_xact_id()").await,
        };
        if let Err(error) = written {
            let _ = txn.rollback().await;
            return Err(error.into());
        }
        txn.commit().await?.seen();
        Ok(())
    }

    pub async fn close(&self) {
        self.reader.close().await;
        if let Some(aside) = &self.aside {
            aside.close().await;
        }
        let _ = self.single.close_by_ref().await;
        self.writer.close().await;
    }
}

/// What is said of a shop that is not there.
pub(crate) fn no_shop(shop: ShopId) -> Fault {
    Fault::Fatal(StoreError::Corrupt(format!("there is no shop {shop}")))
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
        .acquire_timeout(SQLITE_WRITER_WAIT)
        .connect_with(write.clone())
        .await?;
    baystart_migrations::up(&SqlxSqliteConnector::from_sqlx_sqlite_pool(pool.clone())).await?;
    let writer = Pool::Sqlite(pool.clone());
    if in_memory {
        // One connection writes and reads; a second one, idle, keeps the data.
        let keeper = Some(tokio::sync::Mutex::new(SqliteConnection::connect_with(&write).await?));
        let single = SqlxSqliteConnector::from_sqlx_sqlite_pool(pool.clone());
        return Ok(Database {
            reader: Pool::Sqlite(pool),
            writer,
            single,
            aside: None,
            keeper,
            beats: AtomicI32::new(1),
            options,
        });
    }
    let aside = SqlitePoolOptions::new()
        .max_connections(ASIDE_CONNECTIONS)
        .acquire_timeout(options.bulk_timeout)
        .connect_lazy_with(write);
    let read = base.read_only(true);
    let reader = sqlite_readers(&read, options.readers, &options).await?;
    let single = sqlite_readers(&read, SINGLE_CONNECTIONS, &options).await?;
    let single = SqlxSqliteConnector::from_sqlx_sqlite_pool(single);
    Ok(Database {
        reader: Pool::Sqlite(reader),
        writer,
        single,
        keeper: None,
        aside: Some(Pool::Sqlite(aside)),
        beats: AtomicI32::new(1),
        options,
    })
}

async fn sqlite_readers(
    read: &SqliteConnectOptions,
    connections: u32,
    options: &StoreOptions,
) -> Result<SqlitePool, StoreError> {
    let pool = SqlitePoolOptions::new()
        .max_connections(connections.max(1))
        .acquire_timeout(options.connection_timeout)
        .connect_with(read.clone())
        .await?;
    Ok(pool)
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
    let reader = postgres_pool(&connect, options.readers, snapshot.clone(), &options).await?;
    let single = postgres_pool(&connect, SINGLE_CONNECTIONS, snapshot, &options).await?;
    Ok(Database {
        reader: Pool::Postgres(reader),
        writer: Pool::Postgres(writer),
        single: SqlxPostgresConnector::from_sqlx_postgres_pool(single),
        keeper: None,
        aside: None,
        beats: AtomicI32::new(1),
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
        .acquire_timeout(options.connection_timeout)
        .test_before_acquire(false)
        .after_connect(move |connection, _| {
            let session = session.clone();
            Box::pin(
                async move { connection.execute(sqlx::AssertSqlSafe(session)).await.map(|_| ()) },
            )
        })
        // Shows a dead connection before it is lent. No transaction is ever left
        // open here (see `txn`); should one be, it ends with this: BEGIN first
        // keeps the server from warning about a ROLLBACK without one.
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
    let migrated = baystart_migrations::up(&database).await;
    // Closing the only connection frees the lock, whatever came of the steps.
    pool.close().await;
    Ok(migrated?)
}
