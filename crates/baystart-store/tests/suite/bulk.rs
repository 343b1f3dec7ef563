//! Imports: one decision on the whole shop's book, one commit.

use crate::both;
use crate::day;
use crate::place::{Backend, fresh_shop};
use crate::support::{book, done, named, new_part, now, part, sound};
use baystart_core::book::Book;
use baystart_core::command::Command;
use baystart_core::decide::{Context, decide};
use baystart_core::ids::ShopId;
use baystart_core::refusal::{Reason, Refusal};
use baystart_store::{Bulk, BulkDecision, ImportedKeys, Store, StoreError, StoreOptions};
use std::sync::{Arc, Mutex};
use std::time::Instant;
use uuid::Uuid;

type Seen = Arc<Mutex<(Book, ImportedKeys)>>;

/// A bulk of commands; keeps the book after it and the keys before it.
fn bulk(shop: ShopId, id: Uuid, commands: Vec<Command>, seen: &Seen) -> Bulk {
    let seen = seen.clone();
    let decide_all = move |book: &mut Book, context: &mut Context<'_>, keys: &ImportedKeys| {
        let mut changes = Vec::new();
        for command in &commands {
            changes.extend(decide(book, context, command)?.changes);
        }
        let imported = vec![("PARTS".to_owned(), "P".to_owned(), [7; 32])];
        *seen.lock().unwrap() = (book.clone(), keys.clone());
        let answer = Box::new(|revision, _| format!("revision {revision}").into_bytes());
        Ok::<_, Refusal>(BulkDecision { changes, imported, answer })
    };
    Bulk {
        shop,
        actor: "parts desk".into(),
        request_id: id,
        digest: [5; 32],
        now: now(),
        dry_run: false,
        decide: Some(Box::new(decide_all)),
        abandoned: Box::new(|| false),
    }
}

both!(
    /// The database holds what the book held after the decision; a repeat is
    /// replayed, another digest refused, a dry run keeps nothing.
    a_bulk_is_one_commit,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        is_one_commit(&store, shop).await;
    }
);

both!(
    /// The same where each import is made ready aside first.
    a_bulk_that_is_made_ready_aside_is_one_commit,
    |backend: Backend| async move {
        let (_, shop, place) = fresh_shop(backend).await;
        let options = StoreOptions { aside_rows_min: 1, ..StoreOptions::default() };
        let store = Store::open(&place.url, options).await.unwrap();
        is_one_commit(&store, shop).await;
        // Totals that are there and totals that are not, in one import.
        let (a, b) = (crate::support::adjust("RELAY-1", "A1", 5), crate::support::bin("Z9"));
        let c = crate::support::adjust("RELAY-1", "Z9", 7);
        let seen = Seen::default();
        let more = bulk(shop, Uuid::now_v7(), vec![a, b, c], &seen);
        store.submit_bulk(more).await.unwrap();
        let mut kept = book(&store, shop).await;
        kept.tokens.clear();
        assert_eq!(kept, seen.lock().unwrap().0);
        sound(&store, shop).await;
    }
);

async fn is_one_commit(store: &Store, shop: ShopId) {
    let seen = Seen::default();
    let mut commands: Vec<Command> = day::catalogue();
    commands.extend(day::work());
    // A bulk draws no secrets.
    commands.retain(|command| !matches!(command, Command::IssueToken { .. }));
    let mut dry = bulk(shop, Uuid::now_v7(), commands.clone(), &seen);
    dry.dry_run = true;
    assert_eq!(store.submit_bulk(dry).await.unwrap().bytes, b"revision 0");
    assert!(book(store, shop).await.parts.is_empty());
    let id = Uuid::now_v7();
    let answer = store.submit_bulk(bulk(shop, id, commands.clone(), &seen)).await.unwrap();
    assert_eq!((answer.bytes.as_slice(), answer.replayed), (&b"revision 1"[..], false));
    let mut kept = book(store, shop).await;
    kept.tokens.clear();
    assert_eq!(kept, seen.lock().unwrap().0);
    let answer = store.submit_bulk(bulk(shop, id, commands, &seen)).await.unwrap();
    assert!(answer.replayed);
    let mut other = bulk(shop, id, vec![part("X")], &seen);
    other.digest = [6; 32];
    match store.submit_bulk(other).await {
        Err(StoreError::Refused(refusal)) => assert_eq!(refusal.reason, Reason::RequestReused),
        other => panic!("{other:?}"),
    }
    let next = bulk(shop, Uuid::now_v7(), vec![part("X")], &seen);
    store.submit_bulk(next).await.unwrap();
    let keys = seen.lock().unwrap().1.clone();
    assert_eq!(keys.get(&("PARTS".to_owned(), "P".to_owned())), Some(&[7; 32]));
    sound(store, shop).await;
}

both!(
    /// A refusal in the middle leaves nothing, and commands go on after it.
    a_refused_bulk_leaves_nothing,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let seen = Seen::default();
        let commands = vec![part("A"), part("B"), part("a")];
        let result = store.submit_bulk(bulk(shop, Uuid::now_v7(), commands, &seen)).await;
        match result {
            Err(StoreError::Refused(refusal)) => assert_eq!(refusal.reason, Reason::PartExists),
            other => panic!("{other:?}"),
        }
        assert!(book(&store, shop).await.parts.is_empty());
        done(&store, shop, part("A")).await;
        sound(&store, shop).await;
    }
);

both!(
    /// Thousands of rows in one commit, kits among them.
    thousands_of_rows,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let seen = Seen::default();
        let mut commands = Vec::new();
        for count in 0..3000 {
            let mut each = new_part(&format!("P{count:05}"));
            if count % 100 == 99 {
                each.components =
                    vec![(named(&format!("P{:05}", count - 1)), crate::support::units(2))];
            }
            commands.push(Command::CreatePart { part: each });
        }
        let since = Instant::now();
        store.submit_bulk(bulk(shop, Uuid::now_v7(), commands, &seen)).await.unwrap();
        println!("{backend:?}: 3000 parts in {:?}", since.elapsed());
        let mut kept = book(&store, shop).await;
        kept.tokens.clear();
        assert_eq!(kept, seen.lock().unwrap().0);
        sound(&store, shop).await;
    }
);
