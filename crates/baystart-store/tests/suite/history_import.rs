//! Imports of past order lines: rows stream in, one commit or nothing.

use crate::both;
use crate::place::{Backend, fresh_shop};
use crate::support::{book, done, named, now, number, part, sound, units};
use baystart_core::command::Command;
use baystart_core::ids::{ShopId, SupplierId};
use baystart_core::leadtime::history::CancelledBy;
use baystart_core::refusal::Reason;
use baystart_store::{
    Answer, FirstRow, HISTORY_STEP_ROWS_MAX, HistoryEvent, HistoryImport, HistoryStep, PastRow,
    Store, StoreError, StoreOptions,
};
use jiff::ToSpan;
use jiff::civil::date;
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::mpsc;
use uuid::Uuid;

/// What an import told.
type Told = Arc<Mutex<Vec<HistoryEvent>>>;

async fn supplier(store: &Store, shop: ShopId, code: &str) -> SupplierId {
    let new = Command::CreateSupplier { code: number(code), name: format!("invented {code}") };
    done(store, shop, new).await;
    book(store, shop).await.find_supplier(&named(code)).unwrap().id
}

pub fn row(supplier: SupplierId, at: u32) -> PastRow {
    let placed_on = date(2024, 1, 1) + i64::from(at % 700).days();
    PastRow {
        file_line: u64::from(at) + 2,
        supplier,
        order: number(&format!("p-{}", 1000 + at / 3)),
        line: at % 3,
        part: number(&format!("old-{}", at % 7)),
        quantity: units(2),
        quoted_days: Some(10),
        placed_on,
        promises: vec![(placed_on + 12.days(), placed_on + 1.day())],
        despatched_on: None,
        received_on: Some(placed_on + 13.days()),
        cancelled: None,
        last_known_open_on: None,
        recorded_on: None,
        entered: baystart_store::Entered::default(),
        rejected: baystart_core::quantity::Quantity::ZERO,
    }
}

fn rows(supplier: SupplierId, count: u32) -> Vec<PastRow> {
    (0..count).map(|at| row(supplier, at)).collect()
}

struct Import {
    request_id: Uuid,
    digest: [u8; 32],
    dry_run: bool,
    refused: bool,
    finish: bool,
}

impl Default for Import {
    fn default() -> Self {
        let request_id = Uuid::now_v7();
        Self { request_id, digest: [3; 32], dry_run: false, refused: false, finish: true }
    }
}

impl Import {
    /// Sends the rows, a batch a step.
    async fn run(
        self,
        store: &Store,
        shop: ShopId,
        rows: Vec<PastRow>,
    ) -> (Result<Answer, StoreError>, Vec<HistoryEvent>) {
        let (sender, steps) = mpsc::channel(1);
        let told = Told::default();
        let sink = told.clone();
        let import = HistoryImport {
            shop,
            actor: "parts desk".into(),
            request_id: self.request_id,
            now: now(),
            steps,
            told: Box::new(move |event| sink.lock().unwrap().push(event)),
            answer: Box::new(|done| format!("{} {:?}", done.revision, done.counts).into_bytes()),
        };
        let send = async move {
            for batch in rows.chunks(HISTORY_STEP_ROWS_MAX) {
                if sender.send(HistoryStep::Rows(batch.to_vec())).await.is_err() {
                    return;
                }
            }
            let Self { digest, dry_run, refused, .. } = self;
            if self.finish {
                let _ = sender.send(HistoryStep::Finish { digest, dry_run, refused }).await;
            }
        };
        let (answer, ()) = tokio::join!(store.import_history(import), send);
        let told = std::mem::take(&mut *told.lock().unwrap());
        (answer, told)
    }

    async fn answer(self, store: &Store, shop: ShopId, rows: Vec<PastRow>) -> String {
        let (answer, told) = self.run(store, shop, rows).await;
        assert!(!told.iter().any(|event| matches!(event, HistoryEvent::Twice { .. })), "{told:?}");
        String::from_utf8(answer.unwrap().bytes).unwrap()
    }
}

fn counts(revision: i64, created: i64, changed: i64, unchanged: i64, unknown: i64) -> String {
    format!(
        "{revision} HistoryCounts {{ created: {created}, changed: {changed}, \
         unchanged: {unchanged}, parts_unknown: {unknown} }}"
    )
}

async fn kept(store: &Store, shop: ShopId) -> (usize, i64, i64) {
    let history = store.history(shop).await.unwrap();
    (history.history.lines.len(), history.revision, history.evidence_revision)
}

both!(
    /// Created, then unchanged, then one changed; a dry run keeps nothing; only
    /// what changes something touches the evidence.
    an_import_is_one_commit_and_safe_to_repeat,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let corrie = supplier(&store, shop, "CORRIE").await;
        done(&store, shop, part("old-1")).await;
        let known = i64::try_from((0..2000).filter(|at| at % 7 == 1).count()).unwrap();
        let unknown = 2000 - known;
        let mut all = rows(corrie, 2000);
        let before = kept(&store, shop).await;
        assert_eq!((before.0, before.1), (0, 2));

        let dry = Import { dry_run: true, ..Import::default() };
        assert_eq!(dry.answer(&store, shop, all.clone()).await, counts(2, 2000, 0, 0, unknown));
        assert_eq!(kept(&store, shop).await, before);

        let answer = Import::default().answer(&store, shop, all.clone()).await;
        assert_eq!(answer, counts(3, 2000, 0, 0, unknown));
        assert_eq!(kept(&store, shop).await, (2000, 3, 3));

        let answer = Import::default().answer(&store, shop, all.clone()).await;
        assert_eq!(answer, counts(4, 0, 0, 2000, unknown));
        assert_eq!(kept(&store, shop).await, (2000, 4, 3), "nothing new to learn");

        all[7].received_on = None;
        all[7].cancelled = Some((CancelledBy::Supplier, date(2024, 3, 1)));
        all[8].promises.push((date(2024, 4, 1), date(2024, 2, 1)));
        let answer = Import::default().answer(&store, shop, all.clone()).await;
        assert_eq!(answer, counts(5, 0, 2, 1998, unknown));
        assert_eq!(kept(&store, shop).await, (2000, 5, 5));

        let history = store.history(shop).await.unwrap();
        let cancelled = history.history.lines.iter().filter(|line| line.cancelled.is_some());
        assert_eq!(cancelled.count(), 1);
        let promised = history.history.lines.iter().filter(|line| line.promises.len() == 2);
        assert_eq!(promised.count(), 1);
        sound(&store, shop).await;
    }
);

both!(
    /// An order line that comes twice is told with where it stood first, in the
    /// same batch and in an earlier one, and nothing is kept.
    an_order_line_that_comes_twice_is_bad,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let corrie = supplier(&store, shop, "CORRIE").await;
        let mut all = rows(corrie, 2000);
        for (line, of) in [(3000, 5), (3001, 1990)] {
            let again = PastRow { file_line: line, ..row(corrie, of) };
            all.push(PastRow { order: number(&again.order.written().to_uppercase()), ..again });
        }
        let (answer, told) = Import::default().run(&store, shop, all).await;
        match answer {
            Err(StoreError::Refused(refusal)) => assert_eq!(refusal.reason, Reason::ImportRefused),
            other => panic!("{other:?}"),
        }
        let twice = |event: &HistoryEvent| match event {
            HistoryEvent::Twice { row, first } => Some((row.file_line, *first)),
            HistoryEvent::Written(_) => None,
        };
        let mut told: Vec<_> = told.iter().filter_map(twice).collect();
        told.sort_by_key(|(line, _)| *line);
        // Line 3000 says again what the first batch wrote.
        let first = FirstRow::PlacedOn(row(corrie, 5).placed_on);
        assert_eq!(told, [(3000, first), (3001, FirstRow::Line(1992))]);
        assert_eq!(kept(&store, shop).await, (0, 1, 0));
    }
);

both!(
    /// What the request id answered stands, bad rows or not; other bytes are refused.
    a_repeat_answers_what_was_answered,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let corrie = supplier(&store, shop, "CORRIE").await;
        let request_id = Uuid::now_v7();
        let all = rows(corrie, 10);
        let first = Import { request_id, ..Import::default() };
        let first = first.run(&store, shop, all.clone()).await.0.unwrap();
        assert!(!first.replayed);
        let before = kept(&store, shop).await;
        for refused in [false, true] {
            let again = Import { request_id, refused, ..Import::default() };
            let again = again.run(&store, shop, all.clone()).await.0.unwrap();
            assert_eq!((again.replayed, &again.bytes), (true, &first.bytes));
        }
        let other = Import { request_id, digest: [4; 32], ..Import::default() };
        match other.run(&store, shop, rows(corrie, 20)).await.0 {
            Err(StoreError::Refused(refusal)) => assert_eq!(refusal.reason, Reason::RequestReused),
            other => panic!("{other:?}"),
        }
        assert_eq!(kept(&store, shop).await, before);
    }
);

both!(
    /// Bad rows, an end without the last step, a file that stops coming: nothing
    /// is kept, and the shop's next command goes through.
    what_does_not_finish_leaves_nothing,
    |backend: Backend| async move {
        let (_, shop, place) = fresh_shop(backend).await;
        let step_timeout = Duration::from_millis(300);
        let options = StoreOptions { step_timeout, ..StoreOptions::default() };
        let store = Store::open(&place.url, options).await.unwrap();
        let corrie = supplier(&store, shop, "CORRIE").await;
        let refused = Import { refused: true, ..Import::default() };
        let (answer, _) = refused.run(&store, shop, rows(corrie, 1000)).await;
        assert!(matches!(answer, Err(StoreError::Refused(_))), "{answer:?}");
        let ended = Import { finish: false, ..Import::default() };
        let (answer, told) = ended.run(&store, shop, rows(corrie, 1000)).await;
        assert!(matches!(answer, Err(StoreError::Unavailable(_))), "{answer:?}");
        assert_eq!(told.last(), Some(&HistoryEvent::Written(1000)));

        let (sender, steps) = mpsc::channel(1);
        sender.send(HistoryStep::Rows(rows(corrie, 10))).await.unwrap();
        let answer = store.import_history(HistoryImport {
            shop,
            actor: "parts desk".into(),
            request_id: Uuid::now_v7(),
            now: now(),
            steps,
            told: Box::new(|_| {}),
            answer: Box::new(|_| Vec::new()),
        });
        assert!(matches!(answer.await, Err(StoreError::Busy(_))));
        drop(sender);
        assert_eq!(kept(&store, shop).await.0, 0);
        done(&store, shop, part("A")).await;
        sound(&store, shop).await;
    }
);

both!(
    /// A supplier of another shop is no supplier of this one.
    a_foreign_supplier_is_refused_by_the_database,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let other = crate::place::add_shop(&store, "Other", [2; 32]).await;
        let foreign = supplier(&store, other, "CORRIE").await;
        let (answer, _) = Import::default().run(&store, shop, rows(foreign, 3)).await;
        assert!(matches!(answer, Err(StoreError::Corrupt(_))), "{answer:?}");
        assert_eq!(kept(&store, shop).await.0, 0);
    }
);
