//! Which files an import takes, and of what kind each is.

use crate::cli::fail::Failure;
use baystart_proto::v1::ImportKind;
use std::path::{Path, PathBuf};

/// What a file's rows are, and so which call takes them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// One of the files that are kept together.
    Of(ImportKind),
    /// Past order lines.
    History,
}

/// The kinds by the names of their files, in the order of booking.
const KINDS: [(&str, FileKind); 15] = [
    ("suppliers.csv", FileKind::Of(ImportKind::Suppliers)),
    ("parts.csv", FileKind::Of(ImportKind::Parts)),
    ("kits.csv", FileKind::Of(ImportKind::Kits)),
    ("offers.csv", FileKind::Of(ImportKind::Offers)),
    ("bins.csv", FileKind::Of(ImportKind::Bins)),
    ("closed_days.csv", FileKind::Of(ImportKind::ClosedDays)),
    ("closed_days.ics", FileKind::Of(ImportKind::ClosedDaysIcs)),
    ("opening_stock.csv", FileKind::Of(ImportKind::OpeningStock)),
    ("builds.csv", FileKind::Of(ImportKind::Builds)),
    ("stages.csv", FileKind::Of(ImportKind::Stages)),
    ("build_lines.csv", FileKind::Of(ImportKind::BuildLines)),
    ("awaited.csv", FileKind::Of(ImportKind::Awaited)),
    ("bindings.csv", FileKind::Of(ImportKind::Bindings)),
    ("open_orders.csv", FileKind::Of(ImportKind::OpenOrders)),
    ("history.csv", FileKind::History),
];

/// One file that is to be imported.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImportFile {
    /// What its rows are.
    pub kind: FileKind,
    /// Its name in messages: without folders.
    pub name: String,
    /// Where it is.
    pub path: PathBuf,
}

/// The files that the arguments name, and what was passed over in folders.
#[derive(Debug, Default)]
pub struct Chosen {
    /// In the order of booking within each folder.
    pub files: Vec<ImportFile>,
    /// Past order lines, which go after the others.
    pub histories: Vec<ImportFile>,
    /// Tables in folders whose names say no kind.
    pub passed_over: Vec<PathBuf>,
}

/// Finds the files: each argument is a folder, a file whose name says its
/// kind, or KIND=FILE.
///
/// # Errors
/// A path is not there, a kind cannot be told, or nothing is left to import.
pub fn choose(arguments: &[String]) -> Result<Chosen, Failure> {
    let mut chosen = Chosen::default();
    for argument in arguments {
        if let Some(file) = with_kind(argument) {
            chosen.files.push(file);
            continue;
        }
        let path = PathBuf::from(argument);
        if path.is_dir() {
            from_folder(&path, &mut chosen)?;
            continue;
        }
        if !path.exists() {
            return Err(Failure::Input(format!("{argument} is not there")));
        }
        let name = file_name(&path);
        let Some(kind) = kind_of_file(&name) else {
            return Err(Failure::Usage(format!(
                "{argument} does not say what its rows are; write KIND={argument}, where KIND is one of {}",
                kinds()
            )));
        };
        chosen.files.push(ImportFile { kind, name, path });
    }
    for file in &chosen.files {
        if !file.path.is_file() {
            return Err(Failure::Input(format!(
                "{} is not there, or is no file",
                file.path.display()
            )));
        }
    }
    let is_history = |file: &ImportFile| file.kind == FileKind::History;
    (chosen.histories, chosen.files) = chosen.files.into_iter().partition(is_history);
    if chosen.files.is_empty() && chosen.histories.is_empty() {
        return Err(Failure::Input(format!(
            "nothing to import: no file is named {}",
            file_names()
        )));
    }
    Ok(chosen)
}

fn with_kind(argument: &str) -> Option<ImportFile> {
    let (word, path) = argument.split_once('=')?;
    let word = word.to_ascii_lowercase().replace('-', "_");
    let path = PathBuf::from(path);
    let calendar = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("ics"));
    let kind = KINDS.iter().find_map(|(file, kind)| {
        let (stem, extension) = file.rsplit_once('.')?;
        (stem == word && (extension == "ics") == (calendar && stem == "closed_days"))
            .then_some(*kind)
    })?;
    Some(ImportFile { kind, name: file_name(&path), path })
}

fn from_folder(folder: &Path, chosen: &mut Chosen) -> Result<(), Failure> {
    let unreadable =
        |error| Failure::Input(format!("the folder {} cannot be read: {error}", folder.display()));
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let path = entry.map_err(unreadable)?.path();
        let name = file_name(&path);
        let lower = name.to_ascii_lowercase();
        if !path.is_file() || !(lower.ends_with(".csv") || lower.ends_with(".ics")) {
            continue;
        }
        match kind_of_file(&name) {
            Some(kind) => found.push(ImportFile { kind, name, path }),
            None => chosen.passed_over.push(path),
        }
    }
    let place = |file: &ImportFile| KINDS.iter().position(|(_, kind)| *kind == file.kind);
    found.sort_by(|a, b| place(a).cmp(&place(b)).then_with(|| a.name.cmp(&b.name)));
    chosen.files.extend(found);
    chosen.passed_over.sort();
    Ok(())
}

/// A file's name without its folders.
#[must_use]
pub fn file_name(path: &Path) -> String {
    path.file_name()
        .map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}

fn kind_of_file(name: &str) -> Option<FileKind> {
    let name = name.to_ascii_lowercase().replace('-', "_");
    KINDS.iter().find(|(file, _)| *file == name).map(|(_, kind)| *kind)
}

fn kinds() -> String {
    let mut words: Vec<_> = KINDS.iter().filter_map(|(file, _)| file.split('.').next()).collect();
    words.dedup();
    words.join(", ")
}

fn file_names() -> String {
    KINDS.map(|(file, _)| file).join(", ")
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn kinds_by_name_and_by_word() {
        assert_eq!(kind_of_file("Parts.CSV"), Some(FileKind::Of(ImportKind::Parts)));
        assert_eq!(kind_of_file("build-lines.csv"), Some(FileKind::Of(ImportKind::BuildLines)));
        assert_eq!(kind_of_file("parts.ics"), None);
        let kind = |argument: &str| with_kind(argument).map(|file| file.kind);
        assert_eq!(kind("parts=export.csv"), Some(FileKind::Of(ImportKind::Parts)));
        assert_eq!(kind("closed-days=holidays.ics"), Some(FileKind::Of(ImportKind::ClosedDaysIcs)));
        assert_eq!(kind("closed_days=holidays.csv"), Some(FileKind::Of(ImportKind::ClosedDays)));
        assert_eq!(kind("history=export.csv"), Some(FileKind::History));
        assert_eq!(kind("things=export.csv"), None);
        assert_eq!(kinds().matches("closed_days").count(), 1);
    }

    #[test]
    fn a_folder_in_the_order_of_booking() {
        let folder = std::env::temp_dir().join(format!("baystart-import-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        for name in [
            "open_orders.csv",
            "parts.csv",
            "suppliers.csv",
            "closed_days.ics",
            "history.csv",
            "wishes.csv",
            "notes.txt",
        ] {
            std::fs::write(folder.join(name), "").unwrap();
        }
        let chosen = choose(&[folder.display().to_string()]).unwrap();
        let names: Vec<_> = chosen.files.iter().map(|file| file.name.as_str()).collect();
        assert_eq!(names, ["suppliers.csv", "parts.csv", "closed_days.ics", "open_orders.csv"]);
        let histories: Vec<_> = chosen.histories.iter().map(|file| file.name.as_str()).collect();
        assert_eq!(histories, ["history.csv"]);
        assert_eq!(chosen.passed_over, [folder.join("wishes.csv")]);
        let wishes = folder.join("wishes.csv").display().to_string();
        assert_eq!(choose(&[wishes]).unwrap_err().exit_code(), 64);
        let nowhere = folder.join("wishes").display().to_string();
        assert_eq!(choose(&[nowhere]).unwrap_err().exit_code(), 65);
        let missing = folder.join("kits.csv").display().to_string();
        assert_eq!(choose(&[missing]).unwrap_err().exit_code(), 65);
        std::fs::remove_dir_all(&folder).unwrap();
        std::fs::create_dir_all(&folder).unwrap();
        assert_eq!(choose(&[folder.display().to_string()]).unwrap_err().exit_code(), 65);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
