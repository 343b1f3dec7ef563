//! ImportService: files come in by chunks; all rows are kept or none.

use crate::fault;
use crate::import::{self, BadRow, Booked, File, Manner, Sheets};
use crate::shared::{Answered, Guest, Rpc, Shared, caller};
use baystart_core::refusal::{Reason, Refusal};
use baystart_proto::convert::{scalar, wire};
use baystart_proto::v1;
use baystart_proto::v1::import_files_request::Step;
use baystart_proto::v1::import_files_response::Event;
use baystart_proto::v1::import_service_server::ImportService;
use baystart_store::{Bulk, BulkDecision, Caller, StoreError};
use futures::FutureExt as _;
use prost::Message;
use sha2::{Digest, Sha256};
use std::future::Future;
use std::panic::AssertUnwindSafe;
use std::pin::Pin;
use std::sync::{Arc, Mutex};
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status, Streaming};
use uuid::Uuid;

/// Messages that wait for a slow reader; progress beyond is left out.
const WAITING_MAX: usize = 64;
/// Rows between two progress messages.
const PROGRESS_ROWS: i64 = 200;

/// Where the messages of an import go.
pub(super) type Told<T> = mpsc::Sender<Result<T, Status>>;
/// The messages of an import.
type Messages<T> = Pin<Box<dyn futures::Stream<Item = Result<T, Status>> + Send + 'static>>;
type Sender = Told<v1::ImportFilesResponse>;

#[tonic::async_trait]
impl ImportService for Rpc {
    type ImportFilesStream = Messages<v1::ImportFilesResponse>;

    async fn import_files(
        &self,
        request: Request<Streaming<v1::ImportFilesRequest>>,
    ) -> Answered<Self::ImportFilesStream> {
        let caller = caller(&request)?;
        let shared = Arc::clone(&self.0);
        begin(&self.0, caller.clone(), |sender| async move {
            import_all(&shared, &caller, request.into_inner(), &sender).await
        })
        .await
    }

    type ImportHistoryStream = Messages<v1::ImportHistoryResponse>;

    async fn import_history(
        &self,
        request: Request<Streaming<v1::ImportHistoryRequest>>,
    ) -> Answered<Self::ImportHistoryStream> {
        let caller = caller(&request)?;
        let shared = Arc::clone(&self.0);
        begin(&self.0, caller.clone(), |sender| async move {
            super::import_history::run(&shared, &caller, request.into_inner(), &sender).await
        })
        .await
    }
}

/// Runs an import as a task of its own and answers what it tells; its status
/// comes last.
async fn begin<T, W>(
    shared: &Shared,
    guest: Guest,
    import: impl FnOnce(Told<T>) -> W,
) -> Answered<Messages<T>>
where
    T: Send + 'static,
    W: Future<Output = Result<(), Status>> + Send + 'static,
{
    let place = shared.place(&shared.pools.imports, &guest, "imports").await?;
    let (sender, receiver) = mpsc::channel(WAITING_MAX);
    let import = import(sender.clone());
    let work = async move {
        let _places = (place, guest);
        // Without this a panic would look like an end without a report.
        let status = match AssertUnwindSafe(import).catch_unwind().await {
            Ok(Ok(())) => return,
            Ok(Err(status)) => status,
            Err(_) => fault::internal("an import panicked"),
        };
        // The caller may have gone.
        let _ = sender.send(Err(status)).await;
    };
    tokio::spawn(tracing::Instrument::instrument(work, tracing::Span::current()));
    Ok(Response::new(Box::pin(ReceiverStream::new(receiver))))
}

/// What a caller sent.
struct Upload {
    request_id: Uuid,
    files: Vec<File>,
    dry_run: bool,
}

async fn import_all(
    shared: &Arc<Shared>,
    caller: &Caller,
    stream: Streaming<v1::ImportFilesRequest>,
    sender: &Sender,
) -> Result<(), Status> {
    let upload = tokio::select! {
        upload = receive(shared, stream) => upload?,
        () = sender.closed() => return Ok(()),
    };
    let Upload { request_id, files, dry_run } = upload;
    let digest = digest(&files);
    let names: Vec<String> = files.iter().map(|file| file.name.clone()).collect();
    let rows_max = shared.limits.import_rows_max;
    let told = sender.clone();
    let sheets = tokio::task::spawn_blocking(move || {
        import::read(&files, rows_max, &mut |read| tell(&told, read, 0, 0))
    })
    .await
    .map_err(fault::internal)?;
    let total: i64 = sheets.counts.iter().sum();
    let bad: Arc<Mutex<Vec<BadRow>>> = Arc::default();
    let bulk = Bulk {
        shop: caller.shop,
        actor: caller.into(),
        request_id,
        digest,
        now: shared.clock.now(),
        dry_run,
        decide: Some(decider(
            sheets,
            names.clone(),
            dry_run,
            Arc::clone(&bad),
            sender.clone(),
            total,
        )),
        abandoned: {
            let sender = sender.clone();
            Box::new(move || sender.is_closed())
        },
    };
    let answer = shared.store.submit_bulk(bulk).await;
    let bad = std::mem::take(&mut *bad.lock().map_err(fault::internal)?);
    match answer {
        Err(StoreError::Refused(refusal)) if !bad.is_empty() => {
            refuse(shared, &names, bad, &refusal, sender).await
        }
        Err(error) => Err(fault::store(&error)),
        Ok(answer) => {
            let report =
                v1::ImportReport::decode(answer.bytes.as_slice()).map_err(fault::internal)?;
            let event = Some(Event::Report(report));
            // The caller may have gone; the import stands.
            let _ = sender.send(Ok(v1::ImportFilesResponse { event })).await;
            Ok(())
        }
    }
}

/// Sends every bad row, then the refusal.
async fn refuse(
    shared: &Shared,
    names: &[String],
    mut bad: Vec<BadRow>,
    refusal: &Refusal,
    sender: &Sender,
) -> Result<(), Status> {
    bad.sort();
    bad.dedup();
    for row in bad.iter().take(shared.limits.import_bad_rows_max) {
        let file = names.get(row.place.file).cloned().unwrap_or_default();
        let event = Event::BadRow(bad_row(file, row));
        let message = v1::ImportFilesResponse { event: Some(event) };
        if sender.send(Ok(message)).await.is_err() {
            return Ok(());
        }
    }
    Err(mistakes(bad.len(), &refusal.message))
}

/// The refusal that ends an import with bad rows.
pub(super) fn mistakes(count: usize, cause: &str) -> Status {
    let message = match count {
        1 => "1 mistake; nothing was kept".to_owned(),
        n => format!("{n} mistakes; nothing was kept"),
    };
    let refusal = Refusal::new(Reason::ImportRefused, message);
    fault::refused(&refusal.with("bad_rows", count).with("cause", cause))
}

/// A bad row of a file as it is sent.
pub(super) fn bad_row(file: String, row: &BadRow) -> v1::ImportBadRow {
    v1::ImportBadRow {
        file,
        line: i64::try_from(row.place.line).unwrap_or(i64::MAX),
        field: row.field.clone(),
        value: row.value.clone(),
        reason: row.reason.clone(),
    }
}

/// The id of a request.
pub(super) fn request_id(text: &str) -> Result<Uuid, Status> {
    scalar::uuid(text).ok_or_else(|| {
        let text = format!("\"{}\" is no UUID", scalar::shown(text));
        fault::field("request_id", Reason::RequestIdInvalid, text)
    })
}

/// A chunk of a file, unless it is too large.
pub(super) fn check_chunk(shared: &Shared, chunk: &[u8]) -> Result<(), Status> {
    let bytes_max = shared.limits.import_chunk_bytes_max;
    if chunk.len() <= bytes_max {
        return Ok(());
    }
    let text = format!("{} bytes; at most {bytes_max} are taken at once", chunk.len());
    Err(fault::field("chunk", Reason::TooMany, text))
}

/// How a file's cells are written.
pub(super) fn manner(said: Option<v1::ImportManner>) -> Result<Manner, Status> {
    Manner::of(said).map_err(|(field, reason)| fault::field(field, Reason::ValueInvalid, reason))
}

/// Books the rows inside the transaction, and makes the report.
fn decider(
    sheets: Sheets,
    names: Vec<String>,
    dry_run: bool,
    bad: Arc<Mutex<Vec<BadRow>>>,
    sender: Sender,
    total: i64,
) -> baystart_store::BulkDecide {
    Box::new(move |book, context, known| {
        let mut progress = |booked: i64| tell(&sender, total, booked, total);
        let booked = import::book(&sheets, book, context, known, &mut progress)?;
        let Booked { changes, told, imported, tallies, bad: bad_rows } = booked;
        if !bad_rows.is_empty() {
            let text = format!("{} rows are bad", bad_rows.len());
            if let Ok(mut bad) = bad.lock() {
                *bad = bad_rows;
            }
            return Err(Refusal::new(Reason::ImportRefused, text));
        }
        let files = names
            .iter()
            .cloned()
            .zip(&sheets.counts)
            .zip(tallies)
            .map(|((file, rows), tally)| v1::ImportFileReport {
                file,
                rows: *rows,
                created: tally.created,
                changed: tally.changed,
                unchanged: tally.unchanged,
            })
            .collect();
        let effects: Vec<_> = told.iter().map(|told| told.said(book)).collect();
        let answer = move |revision, recorded_at| {
            let commit = Some(wire::commit(revision, recorded_at, effects));
            v1::ImportReport { files, dry_run, commit }.encode_to_vec()
        };
        Ok(BulkDecision { changes, imported, answer: Box::new(answer) })
    })
}

/// Tells progress now and then; it is left out where the caller is slow.
fn tell(sender: &Sender, rows_read: i64, rows_booked: i64, rows_total: i64) {
    let step = if rows_booked > 0 { rows_booked } else { rows_read };
    if step % PROGRESS_ROWS != 0 && rows_booked != rows_total {
        return;
    }
    let progress = v1::ImportProgress { rows_read, rows_booked, rows_total };
    let event = Some(Event::Progress(progress));
    let _ = sender.try_send(Ok(v1::ImportFilesResponse { event }));
}

fn digest(files: &[File]) -> [u8; 32] {
    let mut hash = Sha256::new();
    for file in files {
        hash.update(format!("{:?}\u{1f}{}\u{1f}{}\u{1e}", file.kind, file.name, file.bytes.len()));
        hash.update(&file.bytes);
        if !file.manner.is_default() {
            hash.update(format!("{:?}", file.manner));
        }
    }
    hash.finalize().into()
}

/// A message that does not fit where it came.
pub(super) fn wrong_step(message: impl Into<String>) -> Status {
    fault::field("step", Reason::ValueInvalid, message)
}

/// Takes the whole upload into memory, within the limits.
async fn receive(
    shared: &Shared,
    mut stream: Streaming<v1::ImportFilesRequest>,
) -> Result<Upload, Status> {
    let limits = &shared.limits;
    let mut id = None;
    let mut files: Vec<File> = Vec::new();
    let mut bytes_total = 0_usize;
    while let Some(message) = stream.message().await.map_err(fault::dressed)? {
        match (message.step, id) {
            (Some(Step::RequestId(text)), None) => id = Some(request_id(&text)?),
            (Some(_), None) => return Err(wrong_step("the first message must be the request id")),
            (Some(Step::RequestId(_)), Some(_)) => {
                return Err(wrong_step("the request id was sent already"));
            }
            (Some(Step::File(header)), Some(_)) => {
                if files.len() >= limits.import_files_max {
                    let text = format!("more than {} files", limits.import_files_max);
                    return Err(fault::field("file", Reason::TooMany, text));
                }
                let Some(kind) = import::kind(header.kind()) else {
                    return Err(fault::field("file.kind", Reason::FieldMissing, "is needed"));
                };
                let name = scalar::shown(&header.name);
                let manner = manner(header.manner)?;
                files.push(File { kind, name, manner, bytes: Vec::new() });
            }
            (Some(Step::Chunk(chunk)), Some(_)) => {
                bytes_total = bytes_total.saturating_add(chunk.len());
                check_chunk(shared, &chunk)?;
                if bytes_total > limits.import_bytes_max {
                    let text = format!("more than {} bytes in all", limits.import_bytes_max);
                    return Err(fault::field("chunk", Reason::TooMany, text));
                }
                match files.last_mut() {
                    Some(file) => file.bytes.extend_from_slice(&chunk),
                    None => return Err(wrong_step("a chunk needs a file header before it")),
                }
            }
            (Some(Step::Finish(finish)), Some(request_id)) => {
                if files.is_empty() {
                    return Err(wrong_step("no file was sent"));
                }
                return Ok(Upload { request_id, files, dry_run: finish.dry_run });
            }
            (None, _) => return Err(wrong_step("a message without a step")),
        }
    }
    Err(wrong_step("the stream ended before the finish message: nothing was kept"))
}
