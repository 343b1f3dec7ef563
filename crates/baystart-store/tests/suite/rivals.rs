//! Several writers, several servers, callers that go away.

use crate::both;
use crate::place::{Backend, fresh_place, fresh_shop};
use crate::support::{adjust, all, bin, book, done, part, sound, submission, submit};
use baystart_core::command::{Command, StockCommand};
use baystart_store::{Store, StoreError, StoreOptions};
use std::time::Duration;
use uuid::Uuid;

both!(
    /// Two servers write one shop at once: nothing is lost, no revision twice.
    two_servers_share_a_shop,
    |backend: Backend| async move {
        let (first, shop, place) = fresh_shop(backend).await;
        done(&first, shop, part("P")).await;
        done(&first, shop, bin("A1")).await;
        let second = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        let mut tasks = Vec::new();
        for number in 0..120 {
            let store = if number % 2 == 0 { first.clone() } else { second.clone() };
            tasks.push(tokio::spawn(async move {
                submit(&store, shop, adjust("P", "A1", 1)).await.unwrap()
            }));
        }
        let mut answers = Vec::new();
        for task in tasks {
            answers.push(String::from_utf8(task.await.unwrap().bytes).unwrap());
        }
        answers.sort();
        answers.dedup();
        assert_eq!(answers.len(), 120, "each command has a revision of its own");
        let snapshot = second.read(shop, &all()).await.unwrap();
        assert_eq!(snapshot.revision, 122);
        assert_eq!(snapshot.book.stock.values().next().unwrap().usable.milli(), 120_000);
        sound(&first, shop).await;
    }
);

both!(
    /// Rivals for the last units: exactly as many get one as there are.
    the_last_units_go_once,
    |backend: Backend| async move {
        let (first, shop, place) = fresh_shop(backend).await;
        for command in [part("P"), bin("A1"), bin("B1"), adjust("P", "A1", 10)] {
            done(&first, shop, command).await;
        }
        let second = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        let mut tasks = Vec::new();
        for number in 0..32 {
            let store = if number % 2 == 0 { first.clone() } else { second.clone() };
            tasks.push(tokio::spawn(async move {
                let scrap = Command::Stock(StockCommand::Scrap {
                    at: crate::support::at("P", "A1", 1),
                    reason: "bent".to_owned(),
                    from_quarantine: false,
                    occurred_on: None,
                });
                submit(&store, shop, scrap).await
            }));
        }
        let (mut got, mut refused) = (0, 0);
        for task in tasks {
            match task.await.unwrap() {
                Ok(_) => got += 1,
                Err(StoreError::Refused(_)) => refused += 1,
                Err(other) => panic!("{other:?}"),
            }
        }
        assert_eq!((got, refused), (10, 22));
        sound(&first, shop).await;
    }
);

both!(
    /// Callers that go away at any moment: what was queued takes effect once,
    /// and no connection is left in a transaction.
    callers_that_go_away,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        done(&store, shop, part("P")).await;
        done(&store, shop, bin("A1")).await;
        let mut ids = Vec::new();
        for number in 0..60_u64 {
            let id = Uuid::now_v7();
            ids.push(id);
            let copy = store.clone();
            let task = tokio::spawn(async move {
                let _ = copy.submit(submission(shop, id, adjust("P", "A1", 1))).await;
            });
            let reader = store.clone();
            let reading = tokio::spawn(async move { reader.read(shop, &all()).await.map(|_| ()) });
            tokio::time::sleep(Duration::from_micros(number * 60)).await;
            task.abort();
            reading.abort();
        }
        // Every id again: those that took effect answer, the others do now.
        let mut replayed = 0;
        for id in ids {
            let again = submission(shop, id, adjust("P", "A1", 1));
            replayed += i32::from(store.submit(again).await.unwrap().replayed);
        }
        assert!(replayed > 0, "no aborted call took effect: the test shows nothing");
        let book = book(&store, shop).await;
        assert_eq!(book.stock.values().next().unwrap().usable.milli(), 60_000);
        sound(&store, shop).await;
    }
);

both!(
    /// Servers that start at once on an empty database.
    servers_that_start_together,
    |backend: Backend| async move {
        let place = fresh_place(backend).await;
        // One SQLite file has one server; starting twice in turn is its case.
        let servers = if backend == Backend::Postgres { 4 } else { 1 };
        let mut tasks = Vec::new();
        for _ in 0..servers {
            let url = place.url.clone();
            let options = StoreOptions::default();
            tasks.push(tokio::spawn(async move { Store::open(&url, options).await }));
        }
        for task in tasks {
            let store = task.await.unwrap().unwrap();
            store.ping().await.unwrap();
            assert!(store.shops().await.unwrap().is_empty());
        }
        Store::open(&place.url, StoreOptions::default()).await.unwrap().ping().await.unwrap();
    }
);

both!(
    /// Readers that go away within BEGIN (sqlx 0.9.0 leaves the transaction
    /// open): the next borrower of the connection sees no old snapshot.
    readers_that_go_away,
    |backend: Backend| async move {
        let place = fresh_place(backend).await;
        let options = StoreOptions { readers: 1, ..StoreOptions::default() };
        let store = Store::open(&place.url, options).await.unwrap();
        let shop = crate::place::add_shop(&store, "Glen Orran", [1; 32]).await;
        for number in 0..40_u32 {
            for step in 0..10_u32 {
                let reader = store.clone();
                let reading =
                    tokio::spawn(async move { reader.read(shop, &all()).await.map(|_| ()) });
                let pause = Duration::from_micros(u64::from(number * 10 + step) * 2);
                let since = std::time::Instant::now();
                while since.elapsed() < pause {
                    tokio::task::yield_now().await;
                }
                reading.abort();
            }
            // A statement without a transaction of its own, twice around a
            // change: in a transaction left open both would see one snapshot.
            match store.caller([9; 32]).await.unwrap() {
                Some(caller) => {
                    let token = caller.token.0;
                    done(&store, shop, Command::RevokeToken { token }).await;
                    assert_eq!(store.caller([9; 32]).await.unwrap(), None);
                }
                None => {
                    done(&store, shop, crate::support::token("bench")).await;
                    assert!(store.caller([9; 32]).await.unwrap().is_some());
                }
            }
        }
    }
);
