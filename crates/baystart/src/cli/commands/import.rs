//! `import`: files that the shop exports from its sheets, all rows or none.

use super::import_files::{Chosen, ImportFile, choose};
use crate::cli::fail::{Failure, exit};
use crate::cli::session::Session;
use crate::cli::show::imported as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use baystart_proto::v1::import_files_request::Step;
use baystart_proto::v1::import_files_response::Event;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::time::Duration;
use tokio::io::AsyncReadExt as _;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

/// Bytes of a file that travel in one message.
const CHUNK_BYTES: usize = 64 * 1024;
/// Messages that may wait for a slow server.
const CHUNKS_WAITING: usize = 8;
/// How long the reader may take to notice that the server has answered.
const READER_END: Duration = Duration::from_secs(2);

/// What is imported.
#[derive(Clone, Debug, clap::Args)]
pub struct ImportArgs {
    /// Folder, file (parts.csv, open_orders.csv ...), or KIND=FILE
    #[arg(value_name = "PATH", required = true)]
    paths: Vec<String>,
    /// Check every row, keep nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
///
/// # Errors
/// A file cannot be read, a row is bad, or the server refused.
pub async fn run(s: &mut Session<'_>, args: ImportArgs) -> Result<(), Failure> {
    let Chosen { files, passed_over } = choose(&args.paths)?;
    for path in passed_over {
        s.note(&format!("passed over: {} (its name says no kind)", path.display()))?;
    }
    let bar = progress_bar(s, &files);
    let (sender, receiver) = mpsc::channel(CHUNKS_WAITING);
    let request_id = s.request_id();
    let mut reader = tokio::spawn(send(files, request_id, args.dry_run, sender, bar.clone()));
    let outcome = receive(s, receiver, &bar).await;
    bar.finish_and_clear();
    // A file that cannot be read ends the stream before its last message, which
    // the server then refuses: the file is the reason to tell. After any other
    // refusal the reader may wait for a server that takes nothing more.
    let ended = tokio::time::timeout(READER_END, &mut reader).await;
    reader.abort();
    if let Ok(Ok(Err(failure))) = ended {
        return Err(failure);
    }
    let Received { report, bad_rows } = outcome?;
    if bad_rows > 0 {
        return Err(Failure::Said(exit::INPUT));
    }
    let Some(report) = report else {
        return Err(Failure::Internal("the server ended the import without a report".to_owned()));
    };
    if s.global.json {
        return Ok(());
    }
    let text = show::report(s.console, &report);
    s.print(&text)?;
    let next = if args.dry_run {
        let paths: Vec<_> = args.paths.iter().map(|path| quoted(path)).collect();
        format!("import {}", paths.join(" "))
    } else {
        "board".to_owned()
    };
    s.print(&format!("next: baystart {next}"))
}

struct Received {
    report: Option<v1::ImportReport>,
    bad_rows: i64,
}

/// Calls the server and prints what comes back as it comes. After bad rows the
/// server counts them and ends the call with a refusal.
async fn receive(
    s: &mut Session<'_>,
    requests: mpsc::Receiver<v1::ImportFilesRequest>,
    bar: &ProgressBar,
) -> Result<Received, Failure> {
    let mut received = Received { report: None, bad_rows: 0 };
    let call = s.imports().import_files(ReceiverStream::new(requests)).await;
    let mut events = call?.into_inner();
    loop {
        let Some(response) = events.message().await? else {
            return Ok(received);
        };
        if s.global.json && !matches!(response.event, Some(Event::Progress(_))) {
            s.print_json(&response)?;
        }
        match response.event {
            Some(Event::Progress(progress)) => {
                let (booked, total) = (progress.rows_booked, progress.rows_total);
                bar.set_message(format!("{booked} of {total} rows"));
            }
            Some(Event::BadRow(row)) => {
                received.bad_rows += 1;
                if !s.global.json {
                    let line = show::bad_row(&row);
                    bar.suspend(|| s.note(&line))?;
                }
            }
            Some(Event::Report(report)) => received.report = Some(report),
            None => {}
        }
    }
}

/// Reads the files and sends them; stops quietly when the server has hung up.
async fn send(
    files: Vec<ImportFile>,
    request_id: String,
    dry_run: bool,
    sender: mpsc::Sender<v1::ImportFilesRequest>,
    bar: ProgressBar,
) -> Result<(), Failure> {
    let message = |step| v1::ImportFilesRequest { step: Some(step) };
    if sender.send(message(Step::RequestId(request_id))).await.is_err() {
        return Ok(());
    }
    for file in files {
        let header = v1::ImportFileHeader { kind: file.kind.into(), name: file.name.clone() };
        if sender.send(message(Step::File(header))).await.is_err() {
            return Ok(());
        }
        let unreadable = |error: std::io::Error| {
            Failure::Input(format!("{} cannot be read: {error}", file.path.display()))
        };
        let mut input = tokio::fs::File::open(&file.path).await.map_err(unreadable)?;
        loop {
            let mut chunk = vec![0; CHUNK_BYTES];
            let length = input.read(&mut chunk).await.map_err(unreadable)?;
            if length == 0 {
                break;
            }
            chunk.truncate(length);
            bar.inc(u64::try_from(length).unwrap_or_default());
            if sender.send(message(Step::Chunk(chunk))).await.is_err() {
                return Ok(());
            }
        }
    }
    // A send that fails has been answered already: the server hung up.
    let _ = sender.send(message(Step::Finish(v1::ImportFinish { dry_run }))).await;
    Ok(())
}

/// Moves on a terminal only; elsewhere it draws nothing.
fn progress_bar(s: &Session<'_>, files: &[ImportFile]) -> ProgressBar {
    let bytes = files
        .iter()
        .filter_map(|file| std::fs::metadata(&file.path).ok())
        .map(|file| file.len())
        .sum();
    let target = if s.console.messages && !s.global.json {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    };
    let bar = ProgressBar::with_draw_target(Some(bytes), target);
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {bytes} of {total_bytes} sent  {msg}")
    {
        bar.set_style(style.progress_chars("##-"));
    }
    bar
}
