//! Books that stay warm: what is read from one is what is there, whoever wrote it.

use crate::both;
use crate::day;
use crate::place::{Backend, fresh_shop};
use crate::support::{adjust, decided, done, sql};
use baystart_core::book::Book;
use baystart_core::command::{Command, Scope};
use baystart_core::ids::ShopId;
use baystart_store::{Store, StoreOptions};
use std::time::Duration;

fn all() -> Scope {
    Scope { all: true, ..Scope::default() }
}

/// As the service reads: the state first.
async fn seen(store: &Store, shop: ShopId) -> Book {
    let at = store.state(shop).await.unwrap();
    store.read_at(shop, &all(), at).await.unwrap().book
}

async fn loaded(store: &Store, shop: ShopId) -> Book {
    store.read(shop, &all()).await.unwrap().book
}

/// Reads until a book is kept.
async fn warmed(store: &Store, shop: ShopId) {
    for _ in 0..500 {
        seen(store, shop).await;
        if store.warm_size().0 > 0 {
            return;
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("no book was kept");
}

both!(
    /// Each command decided on the warm book leaves what is loaded.
    a_day_on_a_warm_book_is_a_day,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        warmed(&store, shop).await;
        for command in day::catalogue().into_iter().chain(day::work()) {
            decided(&store, shop, command.clone()).await;
            assert_eq!(store.warm_size().0, 1, "the book was thrown away");
            assert!(seen(&store, shop).await == loaded(&store, shop).await, "after {command:?}");
        }
    }
);

both!(
    /// A server reads what another wrote, and decides on it.
    two_servers_see_each_other,
    |backend: Backend| async move {
        let (first, shop, place) = fresh_shop(backend).await;
        let second = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        let mut commands = day::catalogue().into_iter().chain(day::work());
        // The log leads from the first revision on.
        decided(&first, shop, commands.next().unwrap()).await;
        for store in [&first, &second] {
            warmed(store, shop).await;
        }
        for (round, command) in commands.enumerate() {
            let (writes, reads) = match round % 2 {
                0 => (&first, &second),
                _ => (&second, &first),
            };
            decided(writes, shop, command.clone()).await;
            let there = loaded(writes, shop).await;
            for store in [writes, reads] {
                assert!(seen(store, shop).await == there, "after {command:?}");
                // Brought up to date, not thrown away.
                assert_eq!(store.warm_size().0, 1, "after {command:?}");
            }
        }
    }
);

both!(
    /// Rows that are changed by hand are seen as soon as the commit id is renewed.
    rows_changed_by_hand_are_seen,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in day::catalogue() {
            done(&store, shop, command).await;
        }
        let second = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        for store in [&store, &second] {
            warmed(store, shop).await;
        }
        let fresh = match backend {
            Backend::Sqlite => "randomblob(16)",
            Backend::Postgres => "gen_random_uuid()",
        };
        let change = format!("UPDATE shop SET reserve_window_days = 77, commit_id = {fresh}");
        sql(&place.url, &change).await.unwrap();
        let book = seen(&store, shop).await;
        assert_eq!(book.settings.unwrap().reserve_window_days, 77);
        // And decided on.
        done(&store, shop, adjust("RELAY-1", "A1", 1)).await;
        assert_eq!(seen(&store, shop).await.settings.unwrap().reserve_window_days, 77);
        // The other server's book is of before the change, and the log leads from there only in part.
        let description = "changed by hand";
        let change = format!("UPDATE part SET description = '{description}', version = version + 1");
        sql(&place.url, &change).await.unwrap();
        sql(&place.url, &format!("UPDATE shop SET commit_id = {fresh}")).await.unwrap();
        done(&store, shop, adjust("RELAY-1", "A1", 1)).await;
        for store in [&store, &second] {
            assert!(seen(store, shop).await == loaded(store, shop).await);
        }
    }
);

both!(
    /// A token that was revoked on one server is refused by the other at once.
    a_revoked_token_is_seen_by_the_other_server,
    |backend: Backend| async move {
        let (first, shop, place) = fresh_shop(backend).await;
        let second = Store::open(&place.url, StoreOptions::default()).await.unwrap();
        let issue = Command::IssueToken {
            name: "a reader".to_owned(),
            roles: vec![baystart_core::book::model::Role::ReadOnly],
        };
        done(&first, shop, issue).await;
        // The support's submissions give every fresh secret this hash.
        let caller = second.caller([9; 32]).await.unwrap().unwrap();
        assert_eq!(second.caller([9; 32]).await.unwrap().unwrap().at, caller.at);
        done(&first, shop, Command::RevokeToken { token: caller.token.0 }).await;
        assert_eq!(second.caller([9; 32]).await.unwrap(), None);
        assert_eq!(first.caller([9; 32]).await.unwrap(), None);
        assert!(second.caller([1; 32]).await.unwrap().is_some());
    }
);
