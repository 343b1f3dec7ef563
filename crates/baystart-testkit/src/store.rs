//! Fresh databases for tests: an SQLite file of its own, or a PostgreSQL
//! database of its own in the cluster that `BAYSTART_TEST_POSTGRES` names.
//!
//! The store's own tests take this file in by its path, so that they need not
//! build the server.

use baystart_core::book::model::{Role, Settings};
use baystart_core::ids::ShopId;
use baystart_core::money::Currency;
use baystart_store::{NewToken, Store, StoreOptions};
use jiff::Timestamp;
use sqlx::{Connection, Executor};
use std::sync::Arc;
use uuid::Uuid;

/// On which database a test runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Backend {
    Sqlite,
    Postgres,
}

impl Backend {
    /// Both, for tests that run the same suite twice.
    pub const ALL: [Self; 2] = [Self::Sqlite, Self::Postgres];
}

/// An empty database; an SQLite file goes with the last clone. PostgreSQL's
/// databases go with the throwaway cluster.
#[derive(Clone, Debug)]
pub struct TestDatabase {
    /// What `Store::open` takes.
    pub url: String,
    _folder: Option<Arc<tempfile::TempDir>>,
}

impl TestDatabase {
    /// A database that somebody else made and removes.
    #[must_use]
    pub fn at(url: &str) -> Self {
        Self { url: url.to_owned(), _folder: None }
    }
}

/// Address of the cluster in which tests make databases.
///
/// # Panics
/// The variable is not set: tests do not skip a database.
#[must_use]
#[allow(clippy::panic)]
pub fn cluster_url() -> String {
    match std::env::var("BAYSTART_TEST_POSTGRES") {
        Ok(url) if !url.is_empty() => url,
        _ => panic!(
            "BAYSTART_TEST_POSTGRES is not set: give the URL of a PostgreSQL on which tests may \
             create databases, or run tests/run, which starts a throwaway one"
        ),
    }
}

/// Makes an empty database.
///
/// # Panics
/// It cannot be made.
#[allow(clippy::expect_used)]
pub async fn fresh_place(backend: Backend) -> TestDatabase {
    match backend {
        Backend::Sqlite => {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let url = format!("sqlite:{}", folder.path().join("shop.db").display());
            TestDatabase { url, _folder: Some(Arc::new(folder)) }
        }
        Backend::Postgres => {
            let cluster = cluster_url();
            let name = format!("t_{}", Uuid::new_v4().simple());
            let mut connection =
                sqlx::PgConnection::connect(&cluster).await.expect("the test cluster answers");
            let create = format!("CREATE DATABASE {name} STRATEGY wal_log");
            connection.execute(sqlx::AssertSqlSafe(create)).await.expect("a database is made");
            let (server, _) = cluster.rsplit_once('/').expect("the URL names a database");
            TestDatabase { url: format!("{server}/{name}"), _folder: None }
        }
    }
}

/// A store on an empty database.
///
/// # Panics
/// It cannot be made.
#[allow(clippy::expect_used)]
pub async fn fresh_store(backend: Backend) -> (Store, TestDatabase) {
    let place = fresh_place(backend).await;
    let store = Store::open(&place.url, StoreOptions::default()).await.expect("a store opens");
    (store, place)
}

/// A store with one shop, whose admin token has the hash `[1; 32]`.
///
/// # Panics
/// It cannot be made.
pub async fn fresh_shop(backend: Backend) -> (Store, ShopId, TestDatabase) {
    let (store, place) = fresh_store(backend).await;
    let shop = add_shop(&store, "Glen Orran Vehicle Works", [1; 32]).await;
    (store, shop, place)
}

/// Makes a shop that works and orders on weekdays.
///
/// # Panics
/// It cannot be made.
#[allow(clippy::expect_used)]
pub async fn add_shop(store: &Store, name: &str, hash: [u8; 32]) -> ShopId {
    let token = NewToken {
        name: "first admin".to_owned(),
        roles: vec![Role::Admin],
        hash,
        issued_at: Timestamp::UNIX_EPOCH,
    };
    store.create_shop(weekday_settings(name), token).await.expect("a shop is made")
}

/// Settings of an invented Scottish shop.
///
/// # Panics
/// Never: the currency is known.
#[must_use]
#[allow(clippy::expect_used)]
pub fn weekday_settings(name: &str) -> Settings {
    let weekdays = [true, true, true, true, true, false, false];
    Settings {
        name: name.to_owned(),
        time_zone: "Europe/London".to_owned(),
        currency: Currency::parse("GBP").expect("a known currency"),
        working_days: weekdays,
        ordering_days: weekdays,
        reserve_window_days: 20,
        stall_tolerance: 0.05,
        bays: 0,
        learning: baystart_core::book::model::LearningSettings::default(),
        ways: baystart_core::book::model::Ways::default(),
        version: 1,
    }
}
