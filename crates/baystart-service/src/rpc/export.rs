//! ExportService: every file of one consistent snapshot, sent while it is made.

use crate::export::{self, History, Source};
use crate::fault;
use crate::reckon::GoOn;
use crate::shared::{Answered, Guest, HISTORIES, Rpc, Shared, caller};
use baystart_proto::v1;
use baystart_proto::v1::export_files_response::Event;
use baystart_proto::v1::export_service_server::ExportService;
use futures::FutureExt as _;
use std::panic::AssertUnwindSafe;
use std::pin::Pin;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot};
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Request, Response, Status};

/// Messages that wait for a slow reader.
const WAITING_MAX: usize = 4;
/// Batches of past lines that wait to be written.
const BATCHES_WAITING: usize = 2;
/// Bytes of a file in one message.
const CHUNK_BYTES: usize = 64 * 1024;

type Sender = mpsc::Sender<Result<v1::ExportFilesResponse, Status>>;

#[tonic::async_trait]
impl ExportService for Rpc {
    type ExportFilesStream = Pin<
        Box<dyn futures::Stream<Item = Result<v1::ExportFilesResponse, Status>> + Send + 'static>,
    >;

    async fn export_files(
        &self,
        request: Request<v1::ExportFilesRequest>,
    ) -> Answered<Self::ExportFilesStream> {
        let caller = caller(&request)?;
        let live_builds_only = request.get_ref().live_builds_only;
        let place = self.0.place(&self.0.pools.histories, &caller, HISTORIES).await?;
        let (sender, receiver) = mpsc::channel(WAITING_MAX);
        let shared = Arc::clone(&self.0);
        let work = async move {
            let _place = place;
            let export = export(&shared, &caller, live_builds_only, &sender);
            // Without this a panic would look like an end without a report.
            let status = match AssertUnwindSafe(export).catch_unwind().await {
                Ok(Ok(())) => return,
                Ok(Err(status)) => status,
                Err(_) => fault::internal("an export panicked"),
            };
            // The caller may have gone.
            let _ = sender.send(Err(status)).await;
        };
        tokio::spawn(tracing::Instrument::instrument(work, tracing::Span::current()));
        Ok(Response::new(Box::pin(ReceiverStream::new(receiver))))
    }
}

/// Sends a message; false when nobody takes it: the gate drops the stream of a
/// reader that reads nothing, and with it the transaction that stands open.
async fn send(sender: &Sender, event: Event) -> bool {
    sender.send(Ok(v1::ExportFilesResponse { event: Some(event) })).await.is_ok()
}

async fn send_bytes(sender: &Sender, bytes: &[u8]) -> bool {
    for chunk in bytes.chunks(CHUNK_BYTES) {
        if !send(sender, Event::Chunk(chunk.to_vec())).await {
            return false;
        }
    }
    true
}

async fn export(
    shared: &Arc<Shared>,
    caller: &Guest,
    live_builds_only: bool,
    sender: &Sender,
) -> Result<(), Status> {
    let (snapshot, taken) = oneshot::channel();
    let (rows, mut past) = mpsc::channel(BATCHES_WAITING);
    let (store, shop) = (shared.store.clone(), caller.shop);
    // A task of its own: its transaction ends by itself when nobody takes the rows.
    let reading = tokio::spawn(async move { store.export(shop, snapshot, rows).await });
    let Ok(exported) = taken.await else {
        return match reading.await.map_err(fault::internal)? {
            Ok(()) => Err(fault::internal("an export was not read")),
            Err(error) => Err(fault::store(&error)),
        };
    };
    let revision = exported.snapshot.revision;
    let reckoned = move |_: GoOn<'_>| {
        let files = export::files(&Source::new(&exported, live_builds_only))?;
        Ok::<_, export::Unwritable>((files, History::new(&exported.snapshot.book)?))
    };
    let (files, mut history) = shared.reckon(caller, reckoned).await?.map_err(fault::internal)?;
    let mut report = v1::ExportReport { files: Vec::new(), revision, left_out: Vec::new() };
    report.left_out.extend(export::LEFT_OUT.map(str::to_owned));
    let counted = |file: &str, rows| v1::ExportFileReport { file: file.to_owned(), rows };
    for file in files {
        report.files.push(counted(file.name, file.rows));
        let header = v1::ExportFileHeader { name: file.name.to_owned() };
        if !send(sender, Event::File(header)).await || !send_bytes(sender, &file.bytes).await {
            return Ok(());
        }
    }
    let name = "history.csv";
    if !send(sender, Event::File(v1::ExportFileHeader { name: name.to_owned() })).await {
        return Ok(());
    }
    while let Some(batch) = past.recv().await {
        let bytes = history.take(&batch).map_err(fault::internal)?;
        if !send_bytes(sender, &bytes).await {
            return Ok(());
        }
    }
    reading.await.map_err(fault::internal)?.map_err(|error| fault::store(&error))?;
    let (bytes, rows) = history.finish().map_err(fault::internal)?;
    report.files.push(counted(name, rows));
    if send_bytes(sender, &bytes).await {
        send(sender, Event::Report(report)).await;
    }
    Ok(())
}
