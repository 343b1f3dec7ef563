//! `export`: the shop as the files that `import` takes, all of one moment.

use crate::cli::fail::Failure;
use crate::cli::session::Session;
use crate::cli::show::exported as show;
use crate::cli::show::text::quoted;
use baystart_proto::v1;
use baystart_proto::v1::export_files_response::Event;
use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// What is added to a file's name until every file is whole.
const PART: &str = "part";

/// What is exported, and whereto.
#[derive(Clone, Debug, clap::Args)]
pub struct ExportArgs {
    /// Folder for the files; made where it is missing
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
    /// Write over files that are in the folder
    #[arg(long)]
    overwrite: bool,
    /// Leave out builds that are delivered or cancelled
    #[arg(long)]
    live_builds_only: bool,
}

/// Runs the command.
///
/// # Errors
/// The folder has files in it or cannot be written, or the server refused.
pub async fn run(s: &mut Session<'_>, args: ExportArgs) -> Result<(), Failure> {
    let ExportArgs { folder, overwrite, live_builds_only } = args;
    prepare(&folder, overwrite)?;
    let request = v1::ExportFilesRequest { live_builds_only };
    let mut events = s.exports().export_files(request).await?.into_inner();
    let mut writing = Writing { folder: &folder, names: Vec::new(), open: None };
    let received = receive(&mut events, &mut writing).await;
    let report = match received {
        Ok(report) => report,
        Err(failure) => {
            writing.give_up();
            return Err(failure);
        }
    };
    writing.finish()?;
    if s.global.json {
        return s.print_json(&v1::ExportFilesResponse { event: Some(Event::Report(report)) });
    }
    let text = show::report(s.console, &report);
    s.print(&text)?;
    let folder = quoted(&folder.display().to_string());
    s.print(&format!("next: baystart import {folder} --dry-run, on the server of an empty shop"))
}

/// Makes the folder, or refuses one that has files in it.
fn prepare(folder: &Path, overwrite: bool) -> Result<(), Failure> {
    fs::create_dir_all(folder).map_err(|error| unwritable(folder, &error))?;
    let mut entries = fs::read_dir(folder).map_err(|error| unwritable(folder, &error))?;
    if entries.next().is_some() && !overwrite {
        return Err(Failure::Input(format!(
            "the folder {} has files in it; name another, or say --overwrite",
            folder.display()
        )));
    }
    Ok(())
}

fn unwritable(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Input(format!("{} cannot be written: {error}", path.display()))
}

async fn receive(
    events: &mut tonic::Streaming<v1::ExportFilesResponse>,
    writing: &mut Writing<'_>,
) -> Result<v1::ExportReport, Failure> {
    while let Some(response) = events.message().await? {
        match response.event {
            Some(Event::File(header)) => writing.begin(&header.name)?,
            Some(Event::Chunk(chunk)) => writing.write(&chunk)?,
            Some(Event::Report(report)) => return Ok(report),
            None => {}
        }
    }
    Err(Failure::Internal("the server ended the export without a report".to_owned()))
}

/// Files that become whole together: until the end each has another name.
struct Writing<'a> {
    folder: &'a Path,
    names: Vec<String>,
    open: Option<(PathBuf, File)>,
}

impl Writing<'_> {
    fn part(&self, name: &str) -> PathBuf {
        self.folder.join(format!("{name}.{PART}"))
    }

    fn begin(&mut self, name: &str) -> Result<(), Failure> {
        if !is_plain(name) {
            let text = format!("the server sent a file of the name {}", quoted(name));
            return Err(Failure::Internal(text));
        }
        let path = self.part(name);
        let file = File::create(&path).map_err(|error| unwritable(&path, &error))?;
        self.names.push(name.to_owned());
        self.open = Some((path, file));
        Ok(())
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        let Some((path, file)) = &mut self.open else {
            return Err(Failure::Internal("the server sent bytes of no file".to_owned()));
        };
        file.write_all(bytes).map_err(|error| unwritable(path, &error))
    }

    fn finish(&mut self) -> Result<(), Failure> {
        self.open = None;
        for name in &self.names {
            let path = self.folder.join(name);
            fs::rename(self.part(name), &path).map_err(|error| unwritable(&path, &error))?;
        }
        Ok(())
    }

    fn give_up(&mut self) {
        self.open = None;
        for name in &self.names {
            // The failure that is told is the one before.
            let _ = fs::remove_file(self.part(name));
        }
    }
}

/// Whether a name stays in its folder: `parts.csv`.
fn is_plain(name: &str) -> bool {
    let stem = name.strip_suffix(".csv").unwrap_or_default();
    !stem.is_empty() && stem.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_')
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_folder_with_files_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        prepare(&folder.path().join("new"), false).unwrap();
        assert_eq!(prepare(folder.path(), false).unwrap_err().exit_code(), 65);
        prepare(folder.path(), true).unwrap();
    }

    #[test]
    fn names_stay_in_the_folder() {
        assert!(is_plain("build_lines.csv"));
        for name in ["../parts.csv", "/parts.csv", ".csv", "parts", "a\\b.csv", ""] {
            assert!(!is_plain(name), "{name}");
        }
    }

    #[test]
    fn files_become_whole_together_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        let names = || {
            let entries = fs::read_dir(folder.path()).unwrap();
            let mut names: Vec<_> =
                entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
            names.sort();
            names
        };
        let mut writing = Writing { folder: folder.path(), names: Vec::new(), open: None };
        assert!(writing.write(b"x").is_err());
        writing.begin("bins.csv").unwrap();
        writing.write(b"bin\n").unwrap();
        writing.give_up();
        assert_eq!(names(), Vec::<String>::new());
        let mut writing = Writing { folder: folder.path(), names: Vec::new(), open: None };
        writing.begin("bins.csv").unwrap();
        writing.write(b"bin\n").unwrap();
        assert_eq!(names(), ["bins.csv.part"]);
        writing.finish().unwrap();
        assert_eq!(names(), ["bins.csv"]);
    }
}
