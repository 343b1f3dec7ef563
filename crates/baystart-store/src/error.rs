//! What can go wrong in the store, and what a database's error means.

use baystart_core::refusal::Refusal;
use sea_orm::DbErr;
use thiserror::Error;

/// Why the store did not do what was asked. Nothing is half done.
#[derive(Clone, Debug, Error)]
pub enum StoreError {
    /// A rule refused it; trying again changes nothing by itself.
    #[error(transparent)]
    Refused(Refusal),
    /// Others were in the way: a lock, a full queue. Try again.
    #[error("{0}")]
    Busy(String),
    /// The database is stopped, full or not reachable. What was submitted may
    /// or may not have taken effect: repeat it with the same request id.
    #[error("{0}")]
    Unavailable(String),
    /// The database holds what it must not hold, or the store has a fault.
    #[error("{0}")]
    Corrupt(String),
    /// Nobody answers at the database's address.
    #[error("{0}")]
    Unreachable(String),
    /// The address or an option cannot be used.
    #[error("{0}")]
    Settings(String),
}

impl From<Refusal> for StoreError {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

/// What a failed statement or transaction means for the one who ran it.
#[derive(Debug)]
pub(crate) enum Fault {
    /// Another writer was in the way: the transaction can be run again.
    Conflict(String),
    /// A CHECK, unique or foreign key of the database refused the rows.
    Constraint(String),
    /// Anything else.
    Fatal(StoreError),
}

impl From<Fault> for StoreError {
    fn from(fault: Fault) -> Self {
        match fault {
            Fault::Conflict(text) => Self::Busy(text),
            Fault::Constraint(text) => Self::Corrupt(format!("a constraint refused: {text}")),
            Fault::Fatal(error) => error,
        }
    }
}

impl From<StoreError> for Fault {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Busy(text) => Self::Conflict(text),
            other => Self::Fatal(other),
        }
    }
}

impl From<DbErr> for Fault {
    fn from(error: DbErr) -> Self {
        classify(&error)
    }
}

impl From<sqlx::Error> for Fault {
    fn from(error: sqlx::Error) -> Self {
        classify_sqlx(&error)
    }
}

impl From<DbErr> for StoreError {
    fn from(error: DbErr) -> Self {
        classify(&error).into()
    }
}

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        classify_sqlx(&error).into()
    }
}

fn classify(error: &DbErr) -> Fault {
    match error {
        DbErr::ConnectionAcquire(sea_orm::ConnAcquireErr::Timeout) => {
            unavailable("no connection came free in time")
        }
        DbErr::ConnectionAcquire(_) => unavailable("the database connections are closed"),
        DbErr::Conn(sea_orm::RuntimeErr::SqlxError(inner))
        | DbErr::Exec(sea_orm::RuntimeErr::SqlxError(inner))
        | DbErr::Query(sea_orm::RuntimeErr::SqlxError(inner)) => classify_sqlx(inner),
        other => Fault::Fatal(StoreError::Corrupt(format!("database fault: {other}"))),
    }
}

fn unavailable(text: impl std::fmt::Display) -> Fault {
    Fault::Fatal(StoreError::Unavailable(format!(
        "the database cannot be used now ({text}): repeat with the same request id"
    )))
}

/// What an error means that came when the database at `place` was opened: then it
/// is the settings that are wrong, or the server that is not there. Codes of
/// PostgreSQL 15, appendix A (read): class 28 authorization, 3D000 no such
/// database; of SQLite: 14 CANTOPEN, 23 AUTH.
pub(crate) fn opening(error: &sqlx::Error, place: &str) -> StoreError {
    match error {
        sqlx::Error::Database(inner) => {
            let (code, said) = (inner.code().unwrap_or_default(), inner.message());
            let sqlite = inner.try_downcast_ref::<sqlx::sqlite::SqliteError>().is_some();
            let settings = match sqlite {
                true => code.parse::<u32>().is_ok_and(|code| matches!(code & 0xff, 14 | 23)),
                false => code.starts_with("28") || code == "3D000",
            };
            match settings {
                true => StoreError::Settings(format!(
                    "the database {place} cannot be opened: {said}; check its address, user and password"
                )),
                false => classify_sqlx(error).into(),
            }
        }
        sqlx::Error::Io(_) | sqlx::Error::Tls(_) | sqlx::Error::Protocol(_) => {
            StoreError::Unreachable(format!("the database {place} cannot be reached: {error}"))
        }
        sqlx::Error::Configuration(_) => {
            StoreError::Settings(format!("the database {place} cannot be opened: {error}"))
        }
        _ => classify_sqlx(error).into(),
    }
}

pub(crate) fn classify_sqlx(error: &sqlx::Error) -> Fault {
    match error {
        sqlx::Error::Database(inner) => {
            let code = inner.code().unwrap_or_default();
            match inner.try_downcast_ref::<sqlx::sqlite::SqliteError>() {
                Some(_) => classify_sqlite(&code, inner.message()),
                None => classify_postgres(&code, inner.message()),
            }
        }
        sqlx::Error::PoolTimedOut => unavailable("no connection came free in time"),
        sqlx::Error::Io(_)
        | sqlx::Error::Tls(_)
        | sqlx::Error::Protocol(_)
        | sqlx::Error::PoolClosed
        | sqlx::Error::WorkerCrashed => unavailable(error),
        other => Fault::Fatal(StoreError::Corrupt(format!("database fault: {other}"))),
    }
}

/// Codes of PostgreSQL 15, appendix A (read): class 08 connection, 53
/// resources, 57 operator intervention, 58 system error, 23 integrity.
fn classify_postgres(code: &str, message: &str) -> Fault {
    match code {
        // Serialization failure, deadlock, lock not available.
        "40001" | "40P01" | "55P03" => {
            Fault::Conflict(format!("another writer was in the way ({message}): try again"))
        }
        "23514" | "23505" | "23503" => Fault::Constraint(message.to_owned()),
        // Statement cancelled by its timeout.
        "57014" => Fault::Conflict(format!("the database was too slow ({message}): try again")),
        _ if ["08", "53", "57", "58", "25", "3D"].iter().any(|class| code.starts_with(class)) => {
            unavailable(message)
        }
        _ => Fault::Fatal(StoreError::Corrupt(format!("database fault {code}: {message}"))),
    }
}

/// Result codes of SQLite (read, its documentation): the low byte is the
/// primary code, constraint faults are 19 with a kind in the next byte.
fn classify_sqlite(code: &str, message: &str) -> Fault {
    let code: u32 = code.parse().unwrap_or(0);
    match code & 0xff {
        // BUSY, LOCKED.
        5 | 6 => Fault::Conflict(format!("another writer was in the way ({message}): try again")),
        19 => match code {
            // CHECK, FOREIGN KEY, PRIMARY KEY, UNIQUE.
            275 | 787 | 1555 | 2067 => Fault::Constraint(message.to_owned()),
            _ => Fault::Fatal(StoreError::Corrupt(format!("database fault {code}: {message}"))),
        },
        // NOTADB: the address names another kind of file.
        26 => {
            Fault::Fatal(StoreError::Settings(format!("the database cannot be opened: {message}")))
        }
        // READONLY, IOERR, FULL, CANTOPEN.
        8 | 10 | 13 | 14 => unavailable(message),
        _ => Fault::Fatal(StoreError::Corrupt(format!("database fault {code}: {message}"))),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
    use sqlx::{Connection, Executor};

    async fn memory() -> SqliteConnection {
        let options = SqliteConnectOptions::new().in_memory(true).pragma("max_page_count", "20");
        let mut connection = SqliteConnection::connect_with(&options).await.unwrap();
        let table = "CREATE TABLE t (id INTEGER PRIMARY KEY, n INTEGER CHECK (n >= 0), b BLOB)";
        connection.execute(table).await.unwrap();
        connection
    }

    /// A real full database: SQLite's own page limit is reached.
    #[tokio::test]
    async fn a_full_database_is_unavailable() {
        let mut connection = memory().await;
        let fill = "INSERT INTO t (n, b) VALUES (1, zeroblob(200000))";
        let error = connection.execute(fill).await.unwrap_err();
        let fault = classify_sqlx(&error);
        assert!(matches!(fault, Fault::Fatal(StoreError::Unavailable(_))), "{fault:?}");
    }

    /// Constraints are told apart from faults.
    #[tokio::test]
    async fn constraints_are_constraints() {
        let mut connection = memory().await;
        connection.execute("INSERT INTO t (id, n) VALUES (1, 1)").await.unwrap();
        for statement in ["INSERT INTO t (n) VALUES (-1)", "INSERT INTO t (id, n) VALUES (1, 1)"] {
            let fault = classify_sqlx(&connection.execute(statement).await.unwrap_err());
            assert!(matches!(fault, Fault::Constraint(_)), "{fault:?}");
        }
        let fault = classify_sqlx(&connection.execute("SELECT nothing").await.unwrap_err());
        assert!(matches!(fault, Fault::Fatal(StoreError::Corrupt(_))), "{fault:?}");
    }

    #[test]
    fn codes_of_postgres() {
        for code in ["40001", "40P01", "55P03", "57014"] {
            assert!(matches!(classify_postgres(code, ""), Fault::Conflict(_)), "{code}");
        }
        for code in ["53100", "57P01", "57P03", "08006", "53300"] {
            let fault = classify_postgres(code, "");
            assert!(matches!(fault, Fault::Fatal(StoreError::Unavailable(_))), "{code}");
        }
        assert!(matches!(classify_postgres("23514", ""), Fault::Constraint(_)));
    }
}
