//! `import`: files that the shop exports from its sheets, all rows or none.

use super::import_files::{Chosen, FileKind, ImportFile, choose};
use super::import_history::{self, HistoryArgs};
use super::import_manner::MannerArgs;
use super::import_transfer::{
    CHUNKS_WAITING, Document, Received, ended, progress_bar, send_file, value,
};
use crate::cli::fail::Failure;
use crate::cli::session::Session;
use crate::cli::show::imported as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use baystart_proto::v1::import_files_request::Step;
use baystart_proto::v1::import_files_response::Event;
use indicatif::ProgressBar;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use uuid::Uuid;

/// What `--json` prints.
pub const JSON_HELP: &str = "--json prints one document, at the end: report, histories (a report for each file of \
    past orders), badRows; what there is nothing of is left out.";

/// What is imported.
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = JSON_HELP)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub struct ImportArgs {
    #[command(subcommand)]
    what: Option<ImportCommand>,
    /// Folder, file (parts.csv, open_orders.csv ...), or KIND=FILE
    #[arg(value_name = "PATH", required = true)]
    paths: Vec<String>,
    /// Check every row, keep nothing
    #[arg(long)]
    dry_run: bool,
    #[command(flatten)]
    manner: MannerArgs,
}

#[derive(Clone, Debug, clap::Subcommand)]
enum ImportCommand {
    /// Past order lines: evidence for lead times, as large as the file may be
    History(HistoryArgs),
}

/// Runs the command.
///
/// # Errors
/// A file cannot be read, a row is bad, or the server refused.
pub async fn run(s: &mut Session<'_>, args: ImportArgs) -> Result<(), Failure> {
    if let Some(ImportCommand::History(args)) = args.what {
        return import_history::run(s, args).await;
    }
    let Chosen { files, histories, passed_over } = choose(&args.paths)?;
    for path in passed_over {
        s.note(&format!("passed over: {} (its name says no kind)", path.display()))?;
    }
    let sending = Sending { manner: args.manner.message(), dry_run: args.dry_run };
    let mut done = Done::default();
    let request_id = s.request_id();
    if !files.is_empty() {
        let document = &mut done.document;
        match import(s, files.clone(), request_id.clone(), &sending, document).await {
            Ok(report) => done.files = report.files,
            Err(failure) if s.global.json => {
                s.print_document(&done.document.value())?;
                return Err(failure);
            }
            Err(failure) => return Err(failure),
        }
    }
    let followed = follow(s, &files, &histories, &request_id, &sending, &mut done).await;
    if s.global.json {
        s.print_document(&done.document.value())?;
        return followed;
    }
    if !done.files.is_empty() {
        let text = show::report(s.console, &done.files, args.dry_run);
        s.print(&text)?;
        s.print(&show::parts_unknown(done.parts_unknown))?;
    }
    followed?;
    let next = if args.dry_run {
        let paths: Vec<_> = args.paths.iter().map(|path| quoted(path)).collect();
        format!("import {}{}", paths.join(" "), args.manner.again())
    } else {
        "board".to_owned()
    };
    s.print(&format!("next: baystart {next}"))
}

/// How files are sent.
#[derive(Clone)]
pub struct Sending {
    /// How their cells are written.
    pub manner: Option<v1::ImportManner>,
    /// Check every row, keep nothing.
    pub dry_run: bool,
}

/// What went through.
#[derive(Default)]
struct Done {
    files: Vec<v1::ImportFileReport>,
    parts_unknown: i64,
    document: Document,
}

/// Imports the histories after the other files, each as a request of its own.
async fn follow(
    s: &mut Session<'_>,
    files: &[ImportFile],
    histories: &[ImportFile],
    request_id: &str,
    sending: &Sending,
    done: &mut Done,
) -> Result<(), Failure> {
    // A dry run keeps no supplier that a history could name.
    let supplies = |file: &ImportFile| file.kind == FileKind::Of(v1::ImportKind::Suppliers);
    let names = files.iter().filter(|file| supplies(file)).map(|file| &file.name);
    let names: Vec<_> = names.collect();
    let new_suppliers =
        done.files.iter().any(|file| file.created > 0 && names.contains(&&file.file));
    for (at, file) in histories.iter().enumerate() {
        let path = quoted(&file.path.display().to_string());
        if sending.dry_run && new_suppliers {
            s.note(&format!(
                "not checked: {path} may name suppliers that a dry run does not keep; \
                 after the import: baystart import history {path} --dry-run"
            ))?;
            continue;
        }
        let id = derived(request_id, at);
        match import_history::import(s, file, id, sending, &mut done.document).await {
            Ok(report) => {
                done.files.extend(report.file);
                done.parts_unknown += report.parts_unknown;
            }
            Err(failure) => {
                if !done.files.is_empty() && !sending.dry_run {
                    let kept: Vec<_> = done.files.iter().map(|file| file.file.as_str()).collect();
                    s.note(&format!(
                        "kept: {}; not kept: {}; mended, it goes in alone: \
                         baystart import history {path}",
                        kept.join(", "),
                        file.name
                    ))?;
                }
                return Err(failure);
            }
        }
    }
    Ok(())
}

/// The id of a history's own request: the same again where the command's is.
fn derived(request_id: &str, at: usize) -> String {
    let base = Uuid::try_parse(request_id).unwrap_or_default();
    Uuid::new_v5(&base, format!("history {at}").as_bytes()).to_string()
}

/// Sends the files, and prints what comes back as it comes.
async fn import(
    s: &mut Session<'_>,
    files: Vec<ImportFile>,
    request_id: String,
    sending: &Sending,
    document: &mut Document,
) -> Result<v1::ImportReport, Failure> {
    let bar = progress_bar(s, &files);
    let (sender, receiver) = mpsc::channel(CHUNKS_WAITING);
    let reader = tokio::spawn(send(files, request_id, sending.clone(), sender, bar.clone()));
    let outcome = receive(s, receiver, &bar, document).await;
    bar.finish_and_clear();
    ended(reader, outcome).await
}

/// Calls the server and prints what comes back as it comes. After bad rows the
/// server counts them and ends the call with a refusal.
async fn receive(
    s: &mut Session<'_>,
    requests: mpsc::Receiver<v1::ImportFilesRequest>,
    bar: &ProgressBar,
    document: &mut Document,
) -> Result<Received<v1::ImportReport>, Failure> {
    let mut received = Received::default();
    let call = s.imports().import_files(ReceiverStream::new(requests)).await;
    let mut events = call?.into_inner();
    while let Some(response) = received.next(s, bar, &mut events).await? {
        match response.event {
            Some(Event::Progress(progress)) => {
                let (booked, total) = (progress.rows_booked, progress.rows_total);
                bar.set_message(format!("{booked} of {total} rows"));
            }
            Some(Event::BadRow(row)) => received.told(s, bar, &row, document)?,
            Some(Event::Report(report)) => {
                document.report = Some(value(&report)?);
                received.report = Some(report);
            }
            None => {}
        }
    }
    Ok(received)
}

/// Reads the files and sends them; stops quietly when the server has hung up.
async fn send(
    files: Vec<ImportFile>,
    request_id: String,
    sending: Sending,
    sender: mpsc::Sender<v1::ImportFilesRequest>,
    bar: ProgressBar,
) -> Result<(), Failure> {
    let message = |step| v1::ImportFilesRequest { step: Some(step) };
    if sender.send(message(Step::RequestId(request_id))).await.is_err() {
        return Ok(());
    }
    for file in files {
        let FileKind::Of(kind) = file.kind else { continue };
        let header = v1::ImportFileHeader {
            kind: kind.into(),
            name: file.name.clone(),
            manner: sending.manner.clone(),
        };
        if sender.send(message(Step::File(header))).await.is_err() {
            return Ok(());
        }
        if !send_file(&file.path, &sender, |chunk| message(Step::Chunk(chunk)), &bar).await? {
            return Ok(());
        }
    }
    // A send that fails has been answered already: the server hung up.
    let _ = sender.send(message(Step::Finish(v1::ImportFinish { dry_run: sending.dry_run }))).await;
    Ok(())
}
