//! Short ways to say what a test does.

use baystart_core::book::Book;
use baystart_core::book::model::Role;
use baystart_core::command::{BinQuantity, Command, Scope, StockCommand};
use baystart_core::decide::Decision;
use baystart_core::decide::words::sentence;
use baystart_core::ids::ShopId;
use baystart_core::quantity::Quantity;
use baystart_core::testing;
pub use baystart_core::testing::{by as named, number, part as new_part};
use baystart_store::{Answer, Store, StoreError, Submission};
use jiff::Timestamp;
use sqlx::{AnyConnection, Connection, Executor};
use std::sync::{Arc, Mutex};
use uuid::Uuid;

/// Runs a test on both databases: `both!(name, |backend| async move { ... })`.
#[macro_export]
macro_rules! both {
    ($(#[$doc:meta])* $name:ident, $body:expr) => {
        $(#[$doc])*
        mod $name {
            use super::*;
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn sqlite() {
                let run = $body;
                run($crate::place::Backend::Sqlite).await;
            }
            #[tokio::test(flavor = "multi_thread", worker_threads = 2)]
            async fn postgres() {
                let run = $body;
                run($crate::place::Backend::Postgres).await;
            }
        }
    };
}

/// Monday 14 September 2026, 08:00 in London.
pub fn now() -> Timestamp {
    "2026-09-14T07:00:00.123456Z".parse().unwrap()
}

pub fn units(count: i64) -> Quantity {
    Quantity::whole(count)
}

pub fn submission(shop: ShopId, id: Uuid, command: Command) -> Submission {
    Submission {
        shop,
        actor: "parts desk".into(),
        request_id: id,
        command,
        now: now(),
        secret_hash: Some([9; 32]),
        stated_chance: None,
        stock_points: Vec::new(),
        render: Box::new(|rendered| format!("revision {}", rendered.revision).into_bytes()),
    }
}

pub async fn submit(store: &Store, shop: ShopId, command: Command) -> Result<Answer, StoreError> {
    store.submit(submission(shop, Uuid::now_v7(), command)).await
}

pub async fn done(store: &Store, shop: ShopId, command: Command) -> Answer {
    let said = format!("{command:?}");
    submit(store, shop, command).await.unwrap_or_else(|error| panic!("{said}: {error:?}"))
}

/// Submits; returns the decision, and what it said of the slice on which it was made.
pub async fn decided(store: &Store, shop: ShopId, command: Command) -> (Decision, Vec<String>) {
    let said = format!("{command:?}");
    let seen = Arc::new(Mutex::new(None));
    let sink = seen.clone();
    let mut submission = submission(shop, Uuid::now_v7(), command);
    submission.render = Box::new(move |rendered| {
        let effects = rendered.decision.effects.iter();
        let told = effects.map(|effect| sentence(rendered.book, effect)).collect();
        *sink.lock().unwrap() = Some((rendered.decision.clone(), told));
        Vec::new()
    });
    store.submit(submission).await.unwrap_or_else(|error| panic!("{said}: {error:?}"));
    let decision = seen.lock().unwrap().take();
    decision.unwrap()
}

pub fn all() -> Scope {
    Scope { all: true, tokens: true, ..Scope::default() }
}

pub async fn book(store: &Store, shop: ShopId) -> Book {
    store.read(shop, &all()).await.unwrap().book
}

pub async fn sound(store: &Store, shop: ShopId) {
    assert_eq!(store.verify(shop).await.unwrap(), Vec::new());
}

/// A plain connection beside the store, for what the store would never do.
pub async fn beside(url: &str) -> AnyConnection {
    sqlx::any::install_default_drivers();
    AnyConnection::connect(url).await.unwrap()
}

pub async fn sql(url: &str, text: &str) -> Result<(), sqlx::Error> {
    let mut connection = beside(url).await;
    connection.execute(sqlx::AssertSqlSafe(text.to_owned())).await.map(|_| ())
}

pub fn part(text: &str) -> Command {
    Command::CreatePart { part: new_part(text) }
}

pub fn bin(text: &str) -> Command {
    Command::CreateBin { code: number(text), description: String::new() }
}

pub fn at(part: &str, bin: &str, count: i64) -> BinQuantity {
    testing::at(part, bin, "", count)
}

pub fn adjust(part: &str, bin: &str, count: i64) -> Command {
    Command::Stock(StockCommand::Adjust {
        at: at(part, bin, count),
        reason: "counted".to_owned(),
        expires_on: None,
        opening: false,
        quarantined: false,
        occurred_on: None,
    })
}

pub fn token(name: &str) -> Command {
    Command::IssueToken { name: name.to_owned(), roles: vec![Role::Parts, Role::ReadOnly] }
}
