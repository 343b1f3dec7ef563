//! Imports beside other work: they hold nobody up, whoever dawdles.

use crate::both;
use crate::place::{Backend, TestDatabase, add_shop, fresh_shop};
use crate::support::{beside, book, done, named, now, number, part, sound, submission};
use baystart_core::book::Book;
use baystart_core::command::Command;
use baystart_core::decide::{Context, decide};
use baystart_core::ids::{ShopId, SupplierId};
use baystart_store::{
    Answer, Bulk, BulkDecision, HistoryImport, HistoryStep, ImportedKeys, PastRow, Store,
    StoreError,
};
use sqlx::{Executor, Row};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::sync::mpsc;
use uuid::Uuid;

/// Within what a command of a quiet shop must be answered here.
const SOON: Duration = Duration::from_secs(3);

async fn soon(store: &Store, shop: ShopId, text: &str) {
    let answer = store.submit(submission(shop, Uuid::now_v7(), part(text)));
    let answer = tokio::time::timeout(SOON, answer).await;
    answer.unwrap_or_else(|_| panic!("{text} waits")).unwrap();
}

async fn supplier(store: &Store, shop: ShopId) -> SupplierId {
    let new = Command::CreateSupplier { code: number("CORRIE"), name: "invented".to_owned() };
    done(store, shop, new).await;
    book(store, shop).await.find_supplier(&named("CORRIE")).unwrap().id
}

fn rows(supplier: SupplierId, quantity: i64) -> Vec<PastRow> {
    let row = |at: u32| crate::history_import::row(supplier, at);
    let quantity = crate::support::units(quantity);
    (0..50).map(|at| PastRow { quantity, ..row(at) }).collect()
}

fn history(shop: ShopId, steps: mpsc::Receiver<HistoryStep>) -> HistoryImport {
    HistoryImport {
        shop,
        actor: "parts desk".into(),
        request_id: Uuid::now_v7(),
        now: now(),
        steps,
        told: Box::new(|_| {}),
        answer: Box::new(|done| format!("{:?}", done.counts).into_bytes()),
    }
}

async fn import(store: &Store, shop: ShopId, rows: Vec<PastRow>) -> Result<Answer, StoreError> {
    let (sender, steps) = mpsc::channel(2);
    sender.send(HistoryStep::Rows(rows)).await.unwrap();
    let finish = HistoryStep::Finish { digest: [1; 32], dry_run: false, refused: false };
    sender.send(finish).await.unwrap();
    store.import_history(history(shop, steps)).await
}

/// All rows that the table holds, whether they count or not.
async fn lines(place: &TestDatabase) -> i64 {
    let mut connection = beside(&place.url).await;
    let text = "SELECT CAST(COUNT(*) AS BIGINT) FROM past_line";
    connection.fetch_one(text).await.unwrap().get(0)
}

/// Waits until the background has cleared the table down to so many rows.
async fn cleared(place: &TestDatabase, left: i64) {
    for _ in 0..100 {
        if lines(place).await == left {
            return;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    assert_eq!(lines(place).await, left, "rows that do not count are still there");
}

both!(
    /// While the rows of one import trickle in, every shop writes on, its own too.
    rows_that_trickle_hold_nobody,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        let other = add_shop(&store, "Other", [2; 32]).await;
        let corrie = supplier(&store, shop).await;
        let (sender, steps) = mpsc::channel(1);
        let importing = tokio::spawn({
            let store = store.clone();
            async move { store.import_history(history(shop, steps)).await }
        });
        sender.send(HistoryStep::Rows(rows(corrie, 2))).await.unwrap();
        while lines(&place).await == 0 {
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        soon(&store, other, "A").await;
        soon(&store, shop, "A").await;
        assert!(store.history(shop).await.unwrap().history.lines.is_empty(), "not finished");
        let second = import(&store, shop, rows(corrie, 3)).await;
        assert!(matches!(second, Err(StoreError::Busy(_))), "{second:?}");
        let finish = HistoryStep::Finish { digest: [1; 32], dry_run: false, refused: false };
        sender.send(finish).await.unwrap();
        importing.await.unwrap().unwrap();
        assert_eq!(store.history(shop).await.unwrap().history.lines.len(), 50);
        sound(&store, shop).await;
    }
);

both!(
    /// What an import replaces counts no more at once, and is cleared away; so are
    /// the rows of one that came to nothing.
    what_does_not_count_is_cleared_away,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        let corrie = supplier(&store, shop).await;
        import(&store, shop, rows(corrie, 2)).await.unwrap();
        for quantity in [3, 4, 4, 5] {
            import(&store, shop, rows(corrie, quantity)).await.unwrap();
            assert_eq!(store.history(shop).await.unwrap().history.lines.len(), 50);
        }
        cleared(&place, 50).await;
        let (sender, steps) = mpsc::channel(1);
        sender.send(HistoryStep::Rows(rows(corrie, 6))).await.unwrap();
        drop(sender);
        let answer = store.import_history(history(shop, steps)).await;
        assert!(matches!(answer, Err(StoreError::Unavailable(_))), "{answer:?}");
        cleared(&place, 50).await;
        let again = import(&store, shop, rows(corrie, 5)).await.unwrap();
        let text = String::from_utf8(again.bytes).unwrap();
        assert!(text.contains("created: 0, changed: 0, unchanged: 50"), "{text}");
    }
);

/// A bulk that makes one part, and runs `first` before it decides.
fn bulk(shop: ShopId, first: impl Fn(usize) + Send + 'static, gone: Arc<AtomicBool>) -> Bulk {
    let decisions = AtomicUsize::new(0);
    let decide_one = move |book: &mut Book, context: &mut Context<'_>, _: &ImportedKeys| {
        first(decisions.fetch_add(1, Ordering::SeqCst));
        let changes = decide(book, context, &part("BULK"))?.changes;
        let answer: baystart_store::BulkAnswer =
            Box::new(|revision, _| format!("revision {revision}").into_bytes());
        Ok(BulkDecision { changes, imported: Vec::new(), answer })
    };
    Bulk {
        shop,
        actor: "parts desk".into(),
        request_id: Uuid::now_v7(),
        digest: [5; 32],
        now: now(),
        dry_run: false,
        decide: Some(Box::new(decide_one)),
        abandoned: Box::new(move || gone.load(Ordering::SeqCst)),
    }
}

both!(
    /// Every shop writes on while an import is decided; what was decided on a shop
    /// that moved meanwhile is decided again, in the end with its queue held.
    an_import_is_decided_beside_other_commands,
    |backend: Backend| async move {
        for moves in [0, 1, 3] {
            let (store, shop, _place) = fresh_shop(backend).await;
            let other = add_shop(&store, "Other", [2; 32]).await;
            let runtime = tokio::runtime::Handle::current();
            let decided = Arc::new(AtomicUsize::new(0));
            let first = {
                let (store, decided) = (store.clone(), decided.clone());
                move |at: usize| {
                    decided.fetch_add(1, Ordering::SeqCst);
                    if at < moves {
                        runtime.block_on(soon(&store, shop, &format!("P{at}")));
                        runtime.block_on(soon(&store, other, &format!("P{at}")));
                    }
                }
            };
            let answer = store.submit_bulk(bulk(shop, first, Arc::default())).await.unwrap();
            assert_eq!(answer.bytes, format!("revision {}", moves + 1).into_bytes());
            assert_eq!(decided.load(Ordering::SeqCst), moves + 1);
            assert_eq!(book(&store, shop).await.parts.len(), moves + 1);
            sound(&store, shop).await;
        }
    }
);

both!(
    /// An import whose caller went away while it was decided keeps nothing.
    an_import_ends_with_its_caller,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let gone = Arc::new(AtomicBool::new(false));
        let leave = {
            let gone = gone.clone();
            move |_| gone.store(true, Ordering::SeqCst)
        };
        let answer = store.submit_bulk(bulk(shop, leave, gone)).await;
        assert!(matches!(answer, Err(StoreError::Unavailable(_))), "{answer:?}");
        assert!(book(&store, shop).await.parts.is_empty());
        soon(&store, shop, "A").await;
    }
);

both!(
    /// A repeat is answered at once though another import is under way, and what
    /// keeps nothing leaves no trace that grows.
    repeats_and_dry_runs_leave_nothing_that_grows,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        let corrie = supplier(&store, shop).await;
        let steps = |dry_run| {
            let (sender, steps) = mpsc::channel(2);
            sender.try_send(HistoryStep::Rows(rows(corrie, 2))).unwrap();
            let finish = HistoryStep::Finish { digest: [1; 32], dry_run, refused: false };
            sender.try_send(finish).unwrap();
            steps
        };
        let request_id = Uuid::now_v7();
        let first = HistoryImport { request_id, ..history(shop, steps(false)) };
        let first = store.import_history(first).await.unwrap();
        let (open, trickling) = mpsc::channel(1);
        let other = tokio::spawn({
            let store = store.clone();
            async move { store.import_history(history(shop, trickling)).await }
        });
        tokio::time::sleep(Duration::from_millis(100)).await;
        let again = HistoryImport { request_id, ..history(shop, steps(false)) };
        let again = tokio::time::timeout(SOON, store.import_history(again)).await.unwrap().unwrap();
        assert_eq!((again.replayed, again.bytes), (true, first.bytes));
        drop(open);
        let other = other.await.unwrap();
        assert!(matches!(other, Err(StoreError::Unavailable(_))), "{other:?}");
        for dry_run in [true, false, true, false, true] {
            store.import_history(history(shop, steps(dry_run))).await.unwrap();
        }
        cleared(&place, 50).await;
        let mut connection = beside(&place.url).await;
        let text = "SELECT CAST(COUNT(*) AS BIGINT) FROM past_batch";
        for _ in 0..100 {
            if connection.fetch_one(text).await.unwrap().get::<i64, _>(0) <= 3 {
                return;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        let left: i64 = connection.fetch_one(text).await.unwrap().get(0);
        panic!("{left} batches are remembered");
    }
);
