//! ImportHistory: rows are checked and written while their file comes in.
//!
//! Three stages with short queues between them, each on its own task: messages
//! to bytes (here), bytes to checked rows (a thread), rows to the database (the
//! shop's worker). When one ends early, so do the others, and nothing is kept.

use super::import::{Told, bad_row, check_chunk, manner, mistakes, request_id, wrong_step};
use crate::fault;
use crate::import::history::{BadRows, Known, Reading, RowLimits, Sink};
use crate::import::{BadRow, Manner};
use crate::shared::Shared;
use baystart_core::command::Scope;
use baystart_proto::convert::{scalar, wire};
use baystart_proto::v1;
use baystart_proto::v1::import_history_request::Step;
use baystart_proto::v1::import_history_response::Event;
use baystart_store::{
    Answer, Caller, HistoryAnswer, HistoryDone, HistoryEvent, HistoryImport, HistoryStep, PastRow,
    StoreError,
};
use prost::Message;
use sha2::{Digest, Sha256};
use std::pin::pin;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::{mpsc, oneshot};
use tonic::{Status, Streaming};
use uuid::Uuid;

/// Chunks that wait to be read.
const CHUNKS_WAITING: usize = 4;
/// Batches of rows that wait to be written.
const STEPS_WAITING: usize = 2;
/// Rows between two progress messages, at least.
const PROGRESS_ROWS: i64 = 5_000;

type Sender = Told<v1::ImportHistoryResponse>;
type Bad = Arc<Mutex<BadRows>>;

/// What comes over the wire, for the thread that reads rows.
enum Piece {
    Bytes(Vec<u8>),
    End { digest: [u8; 32], dry_run: bool },
}

/// Imports one file; the report is sent, or the bad rows.
pub(super) async fn run(
    shared: &Arc<Shared>,
    caller: &Caller,
    mut stream: Streaming<v1::ImportHistoryRequest>,
    sender: &Sender,
) -> Result<(), Status> {
    let import = async {
        let start = start(&mut stream).await?;
        import(shared, caller, start, stream, sender).await
    };
    tokio::select! {
        done = import => done,
        // Dropping the stages lets go of what was written.
        () = sender.closed() => Ok(()),
    }
}

/// What a caller says first.
struct Start {
    request_id: Uuid,
    name: String,
    manner: Manner,
}

async fn start(stream: &mut Streaming<v1::ImportHistoryRequest>) -> Result<Start, Status> {
    match stream.message().await.map_err(fault::dressed)?.map(|message| message.step) {
        Some(Some(Step::Start(start))) => Ok(Start {
            request_id: request_id(&start.request_id)?,
            name: scalar::shown(&start.name),
            manner: manner(start.manner)?,
        }),
        _ => Err(wrong_step("the first message must be the start with the request id")),
    }
}

async fn import(
    shared: &Arc<Shared>,
    caller: &Caller,
    start: Start,
    stream: Streaming<v1::ImportHistoryRequest>,
    sender: &Sender,
) -> Result<(), Status> {
    let Start { request_id, name, manner } = start;
    let mut hash = Sha256::new();
    hash.update(format!("HISTORY\u{1f}{name}\u{1f}"));
    if !manner.is_default() {
        hash.update(format!("{manner:?}"));
    }
    let reading = Reading::new(known(shared, caller).await?, row_limits(shared), manner);
    let bad: Bad = Arc::new(Mutex::new(BadRows::new(shared.limits.import_bad_rows_max)));
    let rows_read = Arc::new(AtomicI64::new(0));
    let (pieces, pieces_in) = mpsc::channel(CHUNKS_WAITING);
    let (steps, steps_in) = mpsc::channel(STEPS_WAITING);
    let (first, first_step) = oneshot::channel();
    let writer = Writer {
        steps,
        first: Some(first),
        bad: Arc::clone(&bad),
        rows_read: Arc::clone(&rows_read),
    };
    let reader = tokio::task::spawn_blocking(move || read(reading, pieces_in, writer));
    let booked = async {
        // Others wait for the import as soon as the store has it: not before
        // there is something to write.
        first_step.await.ok()?;
        let history = HistoryImport {
            shop: caller.shop,
            actor: caller.into(),
            request_id,
            now: shared.clock.now(),
            steps: steps_in,
            told: teller(Arc::clone(&bad), rows_read, sender.clone()),
            answer: answer(name.clone()),
        };
        Some(shared.store.import_history(history).await)
    };
    let booked = {
        let mut booked = pin!(booked);
        tokio::select! {
            // It ended early: nothing more is taken.
            booked = &mut booked => booked,
            sent = pump(shared, hash, stream, pieces) => {
                sent?;
                booked.await
            }
        }
    };
    reader.await.map_err(fault::internal)?;
    report(booked, &bad, &name, sender).await
}

/// Takes the messages; the digest is of the name and the manner, which are in it already, and of
/// all bytes.
async fn pump(
    shared: &Shared,
    mut hash: Sha256,
    mut stream: Streaming<v1::ImportHistoryRequest>,
    pieces: mpsc::Sender<Piece>,
) -> Result<(), Status> {
    while let Some(message) = stream.message().await.map_err(fault::dressed)? {
        let (piece, last) = match message.step {
            Some(Step::Chunk(chunk)) => {
                check_chunk(shared, &chunk)?;
                hash.update(&chunk);
                (Piece::Bytes(chunk), false)
            }
            Some(Step::Finish(finish)) => {
                let digest = hash.clone().finalize().into();
                (Piece::End { digest, dry_run: finish.dry_run }, true)
            }
            Some(Step::Start(_)) => return Err(wrong_step("the start was sent already")),
            None => return Err(wrong_step("a message without a step")),
        };
        // Nobody takes more: what the store says is the reason.
        if pieces.send(piece).await.is_err() || last {
            return Ok(());
        }
    }
    Err(wrong_step("the stream ended before the finish message: nothing was kept"))
}

/// Reads the bytes as rows, on a thread of its own.
fn read(mut reading: Reading, mut pieces: mpsc::Receiver<Piece>, mut writer: Writer) {
    while let Some(piece) = pieces.blocking_recv() {
        match piece {
            Piece::Bytes(bytes) => {
                if !reading.take(&bytes, &mut writer) {
                    return;
                }
                writer.rows_read.store(reading.rows(), Ordering::Relaxed);
            }
            Piece::End { digest, dry_run } => {
                if !reading.end(&mut writer) {
                    return;
                }
                writer.rows_read.store(reading.rows(), Ordering::Relaxed);
                let refused = lock(&writer.bad).count() > 0;
                writer.send(HistoryStep::Finish { digest, dry_run, refused });
                return;
            }
        }
    }
}

/// Gives rows to the store, and notes those that are wrong.
struct Writer {
    steps: mpsc::Sender<HistoryStep>,
    /// Told when the first step is on its way.
    first: Option<oneshot::Sender<()>>,
    bad: Bad,
    rows_read: Arc<AtomicI64>,
}

impl Writer {
    fn send(&mut self, step: HistoryStep) -> bool {
        if let Some(first) = self.first.take() {
            // The step has room at once.
            let _ = first.send(());
        }
        self.steps.blocking_send(step).is_ok()
    }
}

impl Sink for Writer {
    fn rows(&mut self, rows: Vec<PastRow>) -> bool {
        self.send(HistoryStep::Rows(rows))
    }

    fn bad(&mut self, row: BadRow) {
        lock(&self.bad).add(row);
    }
}

fn lock(bad: &Bad) -> std::sync::MutexGuard<'_, BadRows> {
    bad.lock().unwrap_or_else(PoisonError::into_inner)
}

async fn known(shared: &Shared, caller: &Caller) -> Result<Known, Status> {
    let book = shared.snapshot(caller, &Scope::default()).await?.book;
    let today = shared.as_of(&book, None);
    let suppliers =
        book.suppliers.values().map(|supplier| (supplier.code.normal().to_owned(), supplier.id));
    Ok(Known { suppliers: suppliers.collect(), today })
}

fn row_limits(shared: &Shared) -> RowLimits {
    let limits = &shared.limits;
    RowLimits { rows_max: limits.history_rows_max, line_bytes_max: limits.history_line_bytes_max }
}

/// Tells progress now and then; it is left out where the caller is slow.
fn teller(
    bad: Bad,
    rows_read: Arc<AtomicI64>,
    sender: Sender,
) -> Box<dyn FnMut(HistoryEvent) + Send> {
    let mut told = 0;
    Box::new(move |event| match event {
        HistoryEvent::Twice { row, first } => lock(&bad).add_twice(&row, first),
        HistoryEvent::Written(rows) => {
            if rows < told + PROGRESS_ROWS {
                return;
            }
            told = rows;
            let rows_read = rows_read.load(Ordering::Relaxed).max(rows);
            let progress = v1::ImportProgress { rows_read, rows_booked: rows, rows_total: 0 };
            let event = Some(Event::Progress(progress));
            let _ = sender.try_send(Ok(v1::ImportHistoryResponse { event }));
        }
    })
}

fn answer(file: String) -> HistoryAnswer {
    Box::new(move |done| {
        let HistoryDone { counts, dry_run, revision, recorded_at } = *done;
        let file = v1::ImportFileReport {
            file,
            rows: counts.rows(),
            created: counts.created,
            changed: counts.changed,
            unchanged: counts.unchanged,
        };
        v1::ImportHistoryReport {
            file: Some(file),
            dry_run,
            commit: Some(wire::commit(revision, recorded_at, Vec::new())),
            parts_unknown: counts.parts_unknown,
        }
        .encode_to_vec()
    })
}

/// Sends the report; or every bad row, then the refusal.
async fn report(
    booked: Option<Result<Answer, StoreError>>,
    bad: &Bad,
    name: &str,
    sender: &Sender,
) -> Result<(), Status> {
    let refusal = match booked {
        None => return Err(fault::internal("an import had no first step")),
        Some(Ok(answer)) => {
            let report = v1::ImportHistoryReport::decode(answer.bytes.as_slice())
                .map_err(fault::internal)?;
            let event = Some(Event::Report(report));
            // The caller may have gone; the import stands.
            let _ = sender.send(Ok(v1::ImportHistoryResponse { event })).await;
            return Ok(());
        }
        Some(Err(StoreError::Refused(refusal))) => refusal,
        Some(Err(error)) => return Err(fault::store(&error)),
    };
    let (count, rows) = {
        let bad = lock(bad);
        (bad.count(), bad.first().map(|row| bad_row(name.to_owned(), row)).collect::<Vec<_>>())
    };
    if count == 0 || refusal.reason != baystart_core::refusal::Reason::ImportRefused {
        return Err(fault::refused(&refusal));
    }
    for row in rows {
        let event = Some(Event::BadRow(row));
        if sender.send(Ok(v1::ImportHistoryResponse { event })).await.is_err() {
            return Ok(());
        }
    }
    Err(mistakes(count, &refusal.message))
}
