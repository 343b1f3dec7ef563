//! A transaction on one held connection, with its BEGIN, COMMIT and ROLLBACK as
//! plain statements.
//!
//! The libraries' own transactions keep a count of how deep they are. SQLite
//! takes a failed COMMIT back by itself (and whatever a full disk or an I/O
//! error struck), the count stays, and the next "transaction" is a savepoint in
//! one that nobody ends: its commits are answered and lost. Here the database
//! itself refuses a BEGIN inside a transaction, and a connection on which one of
//! the three failed, or that was left in the middle, is closed and never used
//! again.

use crate::error::{Fault, classify_sqlx};
use crate::write::Pass;
use async_stream::try_stream;
use futures::{Stream, TryStreamExt as _};
use sea_orm::{
    ConnectionTrait, DbBackend, DbErr, ExecResult, QueryResult, RuntimeErr, Statement, StreamTrait,
};
use sea_query_sqlx::SqlxValues;
use sqlx::pool::PoolConnection;
use sqlx::sqlite::SqliteQueryResult;
use sqlx::{AssertSqlSafe, Executor, Postgres, Sqlite};
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;
use tokio::sync::Mutex;

/// A connection that is held from BEGIN to the end.
#[derive(Debug)]
pub(crate) enum Held {
    Sqlite(PoolConnection<Sqlite>),
    Postgres(PoolConnection<Postgres>),
}

impl Held {
    async fn run(&mut self, text: &'static str) -> Result<(), Fault> {
        match self {
            Self::Sqlite(connection) => connection.execute(text).await?.rows_affected(),
            Self::Postgres(connection) => connection.execute(text).await?.rows_affected(),
        };
        Ok(())
    }

    /// A connection on which a disk or a network failed is not lent again: SQLite
    /// may have opened the file for reading only, for example. A rule of the
    /// database that refused a row, or another writer in the way, says nothing
    /// against it.
    fn judge(&mut self, error: &sqlx::Error) {
        if matches!(classify_sqlx(error), Fault::Fatal(_)) {
            self.spoil();
        }
    }

    /// Keeps the pool from lending it again.
    fn spoil(&mut self) {
        match self {
            Self::Sqlite(connection) => connection.close_on_drop(),
            Self::Postgres(connection) => connection.close_on_drop(),
        }
    }
}

/// A transaction. Dropped before its end, its connection is closed, and with it
/// goes all that it did.
#[derive(Debug)]
pub(crate) struct Txn {
    held: Arc<Mutex<Held>>,
    backend: DbBackend,
    ended: bool,
    /// What only this connection sees is committed.
    aside_done: bool,
    /// What becomes of many rows for one table.
    pub pass: Pass,
}

/// What was committed, on a connection that is not given back before somebody
/// says that the commit was seen: dropped without, it is closed.
#[derive(Debug)]
pub(crate) struct Committed(Txn);

impl Committed {
    /// The commit was seen from another connection.
    pub fn seen(mut self) {
        self.0.ended = true;
    }
}

impl Txn {
    /// Begins one. The connection belongs to it before the statement is sent, so
    /// that a caller who goes away in the middle leaves no open transaction.
    pub async fn begin(held: Held, text: &'static str) -> Result<Self, Fault> {
        let backend = match held {
            Held::Sqlite(_) => DbBackend::Sqlite,
            Held::Postgres(_) => DbBackend::Postgres,
        };
        let held = Arc::new(Mutex::new(held));
        let txn = Self { held, backend, ended: false, aside_done: false, pass: Pass::Direct };
        txn.held.lock().await.run(text).await?;
        Ok(txn)
    }

    /// Sends COMMIT. A failure says nothing of what became of it.
    pub async fn commit(self) -> Result<Committed, Fault> {
        self.held.lock().await.run("COMMIT").await?;
        Ok(Committed(self))
    }

    /// Takes all back.
    pub async fn rollback(mut self) -> Result<(), Fault> {
        self.held.lock().await.run("ROLLBACK").await?;
        self.ended = true;
        Ok(())
    }

    /// Commits what only this connection sees, and goes on with a transaction of
    /// its own.
    pub async fn go_on(&mut self, text: &'static str) -> Result<(), Fault> {
        let held = Arc::clone(&self.held);
        let mut held = held.lock().await;
        if !self.aside_done {
            held.run("COMMIT").await?;
            self.aside_done = true;
        }
        held.run(text).await
    }

    /// The connection knows what no other should see: it is not lent again.
    pub async fn close_at_end(&self) {
        self.held.lock().await.spoil();
    }

    /// Ends a transaction that only read.
    pub async fn done(mut self) -> Result<(), Fault> {
        self.held.lock().await.run("COMMIT").await?;
        self.ended = true;
        Ok(())
    }
}

impl Drop for Txn {
    fn drop(&mut self) {
        if self.ended {
            return;
        }
        // Nobody else has it: a stream of its rows borrows the transaction.
        if let Ok(mut held) = self.held.try_lock() {
            held.spoil();
        }
    }
}

type SqliteQuery<'q> = sqlx::query::Query<'q, Sqlite, SqlxValues>;
type PostgresQuery<'q> = sqlx::query::Query<'q, Postgres, SqlxValues>;

fn of_sqlite(statement: &Statement) -> SqliteQuery<'_> {
    let values = statement.values.clone().unwrap_or(sea_orm::sea_query::Values(Vec::new()));
    sqlx::query_with(AssertSqlSafe(statement.sql.as_str()), SqlxValues(values))
}

fn of_postgres(statement: &Statement) -> PostgresQuery<'_> {
    let values = statement.values.clone().unwrap_or(sea_orm::sea_query::Values(Vec::new()));
    sqlx::query_with(AssertSqlSafe(statement.sql.as_str()), SqlxValues(values))
}

fn exec(error: sqlx::Error) -> DbErr {
    DbErr::Exec(RuntimeErr::SqlxError(Arc::new(error)))
}

fn query(error: sqlx::Error) -> DbErr {
    DbErr::Query(RuntimeErr::SqlxError(Arc::new(error)))
}

#[async_trait::async_trait]
impl ConnectionTrait for Txn {
    fn get_database_backend(&self) -> DbBackend {
        self.backend
    }

    async fn execute_raw(&self, statement: Statement) -> Result<ExecResult, DbErr> {
        if self.pass.leaves_out(&statement.sql) {
            return Ok(SqliteQueryResult::default().into());
        }
        let mut held = self.held.lock().await;
        let done = match &mut *held {
            Held::Sqlite(connection) => {
                of_sqlite(&statement).execute(&mut **connection).await.map(Into::into)
            }
            Held::Postgres(connection) => {
                of_postgres(&statement).execute(&mut **connection).await.map(Into::into)
            }
        };
        done.inspect_err(|error| held.judge(error)).map_err(exec)
    }

    async fn execute_unprepared(&self, sql: &str) -> Result<ExecResult, DbErr> {
        let text = AssertSqlSafe(sql.to_owned());
        let mut held = self.held.lock().await;
        let done = match &mut *held {
            Held::Sqlite(connection) => connection.execute(text).await.map(Into::into),
            Held::Postgres(connection) => connection.execute(text).await.map(Into::into),
        };
        done.inspect_err(|error| held.judge(error)).map_err(exec)
    }

    async fn query_one_raw(&self, statement: Statement) -> Result<Option<QueryResult>, DbErr> {
        let mut held = self.held.lock().await;
        let found = match &mut *held {
            Held::Sqlite(connection) => of_sqlite(&statement)
                .fetch_optional(&mut **connection)
                .await
                .map(|row| row.map(Into::into)),
            Held::Postgres(connection) => of_postgres(&statement)
                .fetch_optional(&mut **connection)
                .await
                .map(|row| row.map(Into::into)),
        };
        found.inspect_err(|error| held.judge(error)).map_err(query)
    }

    async fn query_all_raw(&self, statement: Statement) -> Result<Vec<QueryResult>, DbErr> {
        let mut held = self.held.lock().await;
        let found = match &mut *held {
            Held::Sqlite(connection) => of_sqlite(&statement)
                .fetch_all(&mut **connection)
                .await
                .map(|rows| rows.into_iter().map(Into::into).collect()),
            Held::Postgres(connection) => of_postgres(&statement)
                .fetch_all(&mut **connection)
                .await
                .map(|rows| rows.into_iter().map(Into::into).collect()),
        };
        found.inspect_err(|error| held.judge(error)).map_err(query)
    }
}

type Rows<'a> = Pin<Box<dyn Stream<Item = Result<QueryResult, DbErr>> + Send + 'a>>;

impl StreamTrait for Txn {
    type Stream<'a> = Rows<'a>;

    fn get_database_backend(&self) -> DbBackend {
        self.backend
    }

    fn stream_raw<'a>(
        &'a self,
        statement: Statement,
    ) -> Pin<Box<dyn Future<Output = Result<Self::Stream<'a>, DbErr>> + 'a + Send>> {
        let rows = try_stream! {
            // A stream that breaks off leaves the transaction without its end, and
            // so its connection is closed.
            match &mut *self.held.lock().await {
                Held::Sqlite(connection) => {
                    let mut rows = of_sqlite(&statement).fetch(&mut **connection);
                    while let Some(row) = rows.try_next().await.map_err(query)? {
                        yield row.into();
                    }
                }
                Held::Postgres(connection) => {
                    let mut rows = of_postgres(&statement).fetch(&mut **connection);
                    while let Some(row) = rows.try_next().await.map_err(query)? {
                        yield row.into();
                    }
                }
            }
        };
        Box::pin(async move { Ok(Box::pin(rows) as Rows<'a>) })
    }
}
