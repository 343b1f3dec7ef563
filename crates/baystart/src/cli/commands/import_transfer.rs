//! What all imports share: files go out in chunks while answers come in.

use super::import_files::ImportFile;
use super::import_manner::hint;
use crate::cli::answer::Answer;
use crate::cli::fail::{Failure, exit};
use crate::cli::session::Session;
use crate::cli::show::imported as show;
use baystart_core::text::escaped;
use baystart_proto::v1;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde_json::Value;
use std::path::Path;
use std::time::Duration;
use tokio::io::AsyncReadExt as _;
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

/// Bytes of a file that travel in one message.
const CHUNK_BYTES: usize = 64 * 1024;
/// Messages that may wait for a slow server.
pub const CHUNKS_WAITING: usize = 8;
/// How long the reader may take to notice that the server has answered.
const READER_END: Duration = Duration::from_secs(2);

/// Rows of one mistake that are told one by one; the rest are counted.
const SAME_MAX: u64 = 5;

/// What `--json` prints at the end of an import: one document, whatever came.
#[derive(Debug, Default)]
pub struct Document {
    /// The report on the files that are kept together.
    pub report: Option<Value>,
    /// The reports on past orders, a file each.
    pub histories: Vec<Value>,
    /// Rows that are wrong.
    pub bad_rows: Vec<Value>,
}

impl Document {
    /// The document; what there is nothing of is left out.
    #[must_use]
    pub fn value(self) -> Value {
        let mut all = serde_json::Map::new();
        all.extend(self.report.map(|report| ("report".to_owned(), report)));
        for (name, list) in [("histories", self.histories), ("badRows", self.bad_rows)] {
            if !list.is_empty() {
                all.insert(name.to_owned(), Value::Array(list));
            }
        }
        Value::Object(all)
    }
}

/// An answer as part of a document.
///
/// # Errors
/// It has no JSON form.
pub fn value<A: Answer>(answer: &A) -> Result<Value, Failure> {
    baystart_proto::json::to_value(answer).map_err(|error| Failure::Internal(error.to_string()))
}

/// What came back.
pub struct Received<R> {
    /// The last message, where all went well.
    pub report: Option<R>,
    /// Bad rows.
    pub bad_rows: i64,
    /// Rows by mistake, and the last of them that was told.
    mistakes: Vec<(Mistake, u64, i64)>,
    /// What may help, each once.
    hints: Vec<String>,
}

/// A mistake: file, field, and what is wrong whatever the value.
type Mistake = (String, String, String);

impl<R> Default for Received<R> {
    fn default() -> Self {
        Self { report: None, bad_rows: 0, mistakes: Vec::new(), hints: Vec::new() }
    }
}

impl<R> Received<R> {
    /// Counts a bad row, and tells it to people, unless its mistake was told often.
    ///
    /// # Errors
    /// It could not be written.
    pub fn told(
        &mut self,
        s: &mut Session<'_>,
        bar: &ProgressBar,
        row: &v1::ImportBadRow,
        document: &mut Document,
    ) -> Result<(), Failure> {
        self.bad_rows += 1;
        if s.global.json {
            document.bad_rows.push(value(row)?);
            return Ok(());
        }
        if let Some(hint) = hint(row).filter(|hint| !self.hints.contains(hint)) {
            self.hints.push(hint);
        }
        let mistake = (row.file.clone(), row.field.clone(), show::without_value(row));
        let at = match self.mistakes.iter().position(|(known, ..)| *known == mistake) {
            Some(at) => at,
            None => {
                self.mistakes.push((mistake, 0, 0));
                self.mistakes.len() - 1
            }
        };
        let (_, rows, last) = &mut self.mistakes[at];
        *rows += 1;
        if *rows > SAME_MAX {
            *last = row.line;
            return Ok(());
        }
        bar.suspend(|| s.note(&escaped(&show::bad_row(row))))
    }

    /// What the server sends next; at the end, however it comes, tells what was only counted.
    ///
    /// # Errors
    /// The server refused, or it could not be written.
    pub async fn next<T>(
        &self,
        s: &mut Session<'_>,
        bar: &ProgressBar,
        events: &mut tonic::Streaming<T>,
    ) -> Result<Option<T>, Failure> {
        let next = events.message().await;
        if !matches!(next, Ok(Some(_))) {
            self.rest(s, bar)?;
        }
        Ok(next?)
    }

    /// Tells how many rows more had each mistake.
    fn rest(&self, s: &mut Session<'_>, bar: &ProgressBar) -> Result<(), Failure> {
        for ((file, field, reason), rows, last) in &self.mistakes {
            if *rows > SAME_MAX {
                let text = show::more_rows((file, field, reason), rows - SAME_MAX, *last);
                bar.suspend(|| s.note(&escaped(&text)))?;
            }
        }
        for hint in &self.hints {
            bar.suspend(|| s.note(hint))?;
        }
        Ok(())
    }
}

/// Reads a file and sends it as messages; false: the server has hung up.
///
/// # Errors
/// The file cannot be read.
pub async fn send_file<T>(
    path: &Path,
    sender: &mpsc::Sender<T>,
    message: impl Fn(Vec<u8>) -> T,
    bar: &ProgressBar,
) -> Result<bool, Failure> {
    let unreadable = |error: std::io::Error| {
        Failure::Input(format!("{} cannot be read: {error}", path.display()))
    };
    let mut input = tokio::fs::File::open(path).await.map_err(unreadable)?;
    loop {
        let mut chunk = vec![0; CHUNK_BYTES];
        let length = input.read(&mut chunk).await.map_err(unreadable)?;
        if length == 0 {
            return Ok(true);
        }
        chunk.truncate(length);
        bar.inc(u64::try_from(length).unwrap_or_default());
        if sender.send(message(chunk)).await.is_err() {
            return Ok(false);
        }
    }
}

/// The report, or why there is none.
///
/// # Errors
/// A file cannot be read, rows were bad, or the server refused.
pub async fn ended<R>(
    mut reader: JoinHandle<Result<(), Failure>>,
    outcome: Result<Received<R>, Failure>,
) -> Result<R, Failure> {
    // A file that cannot be read ends the stream before its last message, which
    // the server then refuses: the file is the reason to tell. After any other
    // refusal the reader may wait for a server that takes nothing more.
    let ended = tokio::time::timeout(READER_END, &mut reader).await;
    reader.abort();
    if let Ok(Ok(Err(failure))) = ended {
        return Err(failure);
    }
    let Received { report, bad_rows, .. } = outcome?;
    if bad_rows > 0 {
        return Err(Failure::Said(exit::INPUT));
    }
    report
        .ok_or_else(|| Failure::Internal("the server ended the import without a report".to_owned()))
}

/// Moves on a terminal only; elsewhere it draws nothing.
#[must_use]
pub fn progress_bar(s: &Session<'_>, files: &[ImportFile]) -> ProgressBar {
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
