//! The statements that a reservation and its release write, by sqlx alone: no
//! RPC, no ORM, no reading of the shop, no decision.

use chrono::{DateTime, Utc};
use sqlx::postgres::{PgPool, PgPoolOptions};
use sqlx::sqlite::{
    SqliteConnectOptions, SqliteJournalMode, SqlitePool, SqlitePoolOptions, SqliteSynchronous,
};
use std::str::FromStr;
use std::time::Duration;
use uuid::Uuid;

/// One unit, in thousandths.
const UNIT: i64 = 1000;
/// About as long as what the store writes.
const SUMMARY: &str = r#"{"effects":[{"build":"B-0","kind":"Reserved","line":1,"part":"WH-10","quantity":"1","stage":"Body","text":"Reserved 1 of WH-10 for build B-0, stage Body"}]}"#;
const STATE: &str = r#"{"held":1000,"id":"019a21e5-4b1c-7cc0-8d55-0123456789ab","issued":0,"key":{"lot":"","part":"019a21e5-4b1c-7cc0-8d55-0123456789ab"},"line":"019a21e5-4b1c-7cc0-8d55-0123456789ab","made":1000,"moved":0,"released":0}"#;

/// Whose line takes the part's stock.
#[derive(Clone, Copy, Debug)]
pub struct Requirement {
    pub shop: Uuid,
    pub part: Uuid,
    pub line: Uuid,
}

const LOCK: &str = "UPDATE shop SET revision = revision + 1 WHERE id = $1 RETURNING revision";
const STOCK: &str = "UPDATE stock SET reserved = reserved + $1 \
    WHERE shop = $2 AND part = $3 AND lot = '' AND reserved + $1 BETWEEN 0 AND usable";
const MADE: &str = "INSERT INTO reservation \
    (shop, id, line, part, lot, made, held, issued, released, moved) \
    VALUES ($1, $2, $3, $4, '', $5, $5, 0, 0, 0)";
const RELEASED: &str = "UPDATE reservation SET held = held - $3, released = released + $3 \
    WHERE shop = $1 AND id = $2";
const LOG: &str = "INSERT INTO change_log \
    (shop, revision, recorded_at, actor, request, command, subject, summary) \
    VALUES ($1, $2, $3, 'first admin', $4, 'Bind.Reserve', '', $5)";
const REQUEST: &str = "INSERT INTO request (shop, id, digest, revision, response) \
    VALUES ($1, $2, $3, $4, $5)";
const HISTORY: &str = "INSERT INTO row_history (shop, revision, kind, id, other_id, state) \
    VALUES ($1, $2, 'reservation', $3, $3, $4)";

macro_rules! command {
    ($connection:expr, $row:expr, $reservation:expr, $gain:expr) => {{
        let (connection, row, reservation): (_, Requirement, Uuid) =
            ($connection, $row, $reservation);
        let now: DateTime<Utc> = Utc::now();
        let request = Uuid::now_v7();
        let lock = sqlx::query_scalar(LOCK).bind(row.shop);
        let revision: i64 = lock.fetch_one(&mut *connection).await.unwrap();
        let stock = sqlx::query(STOCK).bind($gain).bind(row.shop).bind(row.part);
        assert_eq!(stock.execute(&mut *connection).await.unwrap().rows_affected(), 1);
        let change = match $gain > 0 {
            true => {
                let made = sqlx::query(MADE).bind(row.shop).bind(reservation);
                made.bind(row.line).bind(row.part).bind(UNIT)
            }
            false => sqlx::query(RELEASED).bind(row.shop).bind(reservation).bind(UNIT),
        };
        assert_eq!(change.execute(&mut *connection).await.unwrap().rows_affected(), 1);
        let log = sqlx::query(LOG).bind(row.shop).bind(revision).bind(now).bind(request);
        log.bind(SUMMARY).execute(&mut *connection).await.unwrap();
        let request = sqlx::query(REQUEST).bind(row.shop).bind(request).bind(vec![7_u8; 32]);
        let request = request.bind(revision).bind(vec![7_u8; 160]);
        request.execute(&mut *connection).await.unwrap();
        let history = sqlx::query(HISTORY).bind(row.shop).bind(revision).bind(reservation);
        history.bind(STATE).execute(&mut *connection).await.unwrap();
    }};
}

const WAIT: Duration = Duration::from_secs(60);

macro_rules! caller {
    ($(#[$doc:meta])* $name:ident, $pool:ident, $begin:literal) => {
        $(#[$doc])*
        #[derive(Clone)]
        pub struct $name {
            pool: $pool,
            rows: Vec<Requirement>,
            at: usize,
        }

        impl $name {
            fn each(pool: &$pool, rows: &[Vec<Requirement>]) -> Vec<Self> {
                rows.iter().map(|rows| Self { pool: pool.clone(), rows: rows.clone(), at: 0 }).collect()
            }

            /// Reserves and releases, a transaction each.
            pub async fn pair(mut self) -> Self {
                let reservation = Uuid::now_v7();
                for gain in [UNIT, -UNIT] {
                    let mut txn = self.pool.begin_with($begin).await.unwrap();
                    command!(&mut *txn, self.rows[self.at], reservation, gain);
                    txn.commit().await.unwrap();
                }
                self.at = (self.at + 1) % self.rows.len();
                self
            }
        }
    };
}

caller!(
    /// A caller on an SQLite file: all take turns on the one writer.
    SqliteCaller, SqlitePool, "BEGIN IMMEDIATE"
);
caller!(
    /// A caller on PostgreSQL, with a connection of its own.
    PgCaller, PgPool, "BEGIN"
);

impl SqliteCaller {
    pub async fn all(url: &str, rows: &[Vec<Requirement>]) -> Vec<Self> {
        let options = SqliteConnectOptions::from_str(url)
            .unwrap()
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true);
        let pool = SqlitePoolOptions::new().max_connections(1).acquire_timeout(WAIT);
        Self::each(&pool.connect_with(options).await.unwrap(), rows)
    }
}

impl PgCaller {
    pub async fn all(url: &str, rows: &[Vec<Requirement>]) -> Vec<Self> {
        let connections = u32::try_from(rows.len()).unwrap();
        let pool = PgPoolOptions::new().max_connections(connections).acquire_timeout(WAIT);
        Self::each(&pool.test_before_acquire(false).connect(url).await.unwrap(), rows)
    }
}
