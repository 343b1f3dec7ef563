//! `import history`: one file of past order lines, as large as it may be.

use super::import::Sending;
use super::import_files::{FileKind, ImportFile, file_name};
use super::import_manner::MannerArgs;
use super::import_transfer::{
    CHUNKS_WAITING, Document, Received, ended, progress_bar, send_file, value,
};
use crate::cli::fail::Failure;
use crate::cli::session::Session;
use crate::cli::show::imported as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use baystart_proto::v1::import_history_request::Step;
use baystart_proto::v1::import_history_response::Event;
use indicatif::ProgressBar;
use std::path::PathBuf;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;

/// A file of past order lines.
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = super::import::JSON_HELP)]
pub struct HistoryArgs {
    /// CSV file, as large as it may be
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Check every row, keep nothing
    #[arg(long)]
    dry_run: bool,
    /// What messages call the file [default: its own name]
    #[arg(long, value_name = "NAME")]
    name: Option<String>,
    #[command(flatten)]
    manner: MannerArgs,
}

/// Runs the command.
///
/// # Errors
/// The file cannot be read, a row is bad, or the server refused.
pub async fn run(s: &mut Session<'_>, args: HistoryArgs) -> Result<(), Failure> {
    if !args.file.is_file() {
        let path = args.file.display();
        return Err(Failure::Input(format!("{path} is not there, or is no file")));
    }
    let name = args.name.clone().unwrap_or_else(|| file_name(&args.file));
    let file = ImportFile { kind: FileKind::History, name, path: args.file.clone() };
    let request_id = s.request_id();
    let mut document = Document::default();
    let sending = Sending { manner: args.manner.message(), dry_run: args.dry_run };
    let imported = import(s, &file, request_id, &sending, &mut document).await;
    if s.global.json {
        s.print_document(&document.value())?;
        return imported.map(|_| ());
    }
    let report = imported?;
    let files: Vec<_> = report.file.into_iter().collect();
    let text = show::report(s.console, &files, args.dry_run);
    s.print(&text)?;
    s.print(&show::parts_unknown(report.parts_unknown))?;
    let next = if args.dry_run {
        let name = args.name.map(|name| format!(" --name {}", quoted(&name))).unwrap_or_default();
        let file = quoted(&args.file.display().to_string());
        format!("import history {file}{name}{}", args.manner.again())
    } else {
        "lead-times".to_owned()
    };
    s.print(&format!("next: baystart {next}"))
}

/// Sends one file and prints what comes back as it comes.
///
/// # Errors
/// The file cannot be read, a row is bad, or the server refused.
pub async fn import(
    s: &mut Session<'_>,
    file: &ImportFile,
    request_id: String,
    sending: &Sending,
    document: &mut Document,
) -> Result<v1::ImportHistoryReport, Failure> {
    let bar = progress_bar(s, std::slice::from_ref(file));
    let (sender, receiver) = mpsc::channel(CHUNKS_WAITING);
    let reader = tokio::spawn(send(file.clone(), request_id, sending.clone(), sender, bar.clone()));
    let outcome = receive(s, receiver, &bar, document).await;
    bar.finish_and_clear();
    ended(reader, outcome).await
}

async fn receive(
    s: &mut Session<'_>,
    requests: mpsc::Receiver<v1::ImportHistoryRequest>,
    bar: &ProgressBar,
    document: &mut Document,
) -> Result<Received<v1::ImportHistoryReport>, Failure> {
    let mut received = Received::default();
    let call = s.imports().import_history(ReceiverStream::new(requests)).await;
    let mut events = call?.into_inner();
    while let Some(response) = received.next(s, bar, &mut events).await? {
        match response.event {
            Some(Event::Progress(progress)) => {
                bar.set_message(format!("{} rows", progress.rows_booked));
            }
            Some(Event::BadRow(row)) => received.told(s, bar, &row, document)?,
            Some(Event::Report(report)) => {
                document.histories.push(value(&report)?);
                received.report = Some(report);
            }
            None => {}
        }
    }
    Ok(received)
}

/// Reads the file and sends it; stops quietly when the server has hung up.
async fn send(
    file: ImportFile,
    request_id: String,
    sending: Sending,
    sender: mpsc::Sender<v1::ImportHistoryRequest>,
    bar: ProgressBar,
) -> Result<(), Failure> {
    let message = |step| v1::ImportHistoryRequest { step: Some(step) };
    let start = v1::ImportHistoryStart { request_id, name: file.name, manner: sending.manner };
    if sender.send(message(Step::Start(start))).await.is_err() {
        return Ok(());
    }
    if send_file(&file.path, &sender, |chunk| message(Step::Chunk(chunk)), &bar).await? {
        // A send that fails has been answered already: the server hung up.
        let _ =
            sender.send(message(Step::Finish(v1::ImportFinish { dry_run: sending.dry_run }))).await;
    }
    Ok(())
}
