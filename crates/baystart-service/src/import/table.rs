//! CSV files: header line, comma or semicolon, quoted fields, any line end.

use super::columns::{Column, Kind};
use super::{BadRow, Cells, Place};

type Records = (Vec<Cells>, Vec<BadRow>);

/// A file's rows by column, and what is wrong with the file itself.
pub(crate) fn records(file: usize, kind: Kind, bytes: &[u8]) -> Records {
    let text = match text(bytes) {
        Ok(text) => text,
        Err(line) => {
            let reason = "is no UTF-8 text: save the file as \"CSV UTF-8\"";
            return (Vec::new(), vec![at(file, line, "", "", reason)]);
        }
    };
    let header_line = text.lines().next().unwrap_or_default();
    if header_line.trim().is_empty() {
        let reason = "the file has no header line";
        return (Vec::new(), vec![at(file, 1, "", "", reason)]);
    }
    let delimiter = delimiter(header_line);
    // Whether a quote that is open on the last line ends there.
    let closes = text.trim_end_matches('\n').ends_with('"');
    let mut reader =
        csv::ReaderBuilder::new().delimiter(delimiter).flexible(true).from_reader(text.as_bytes());
    let header = match reader.headers() {
        Ok(header) => header.clone(),
        Err(error) => return (Vec::new(), vec![at(file, 1, "", "", &error.to_string())]),
    };
    let (columns, bad) = columns(file, kind.columns(), &header);
    if !bad.is_empty() {
        return (Vec::new(), bad);
    }
    let mut rows = Vec::new();
    let mut bad = Vec::new();
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map_or(1, csv::Position::line);
                bad.push(at(file, line, "", "", &error.to_string()));
                continue;
            }
        };
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        let place = Place { file, line: line_of(&text, record.position()) };
        let mut cells = Cells::new(place);
        for (column, cell) in columns.iter().zip(record.iter()) {
            cells.set(column, cell);
        }
        let swallowed = |cell: &str| {
            swallows(cell, columns.len(), delimiter) || (cell.ends_with('\n') && !closes)
        };
        if let Some((column, _)) = columns.iter().zip(&record).find(|(_, cell)| swallowed(cell)) {
            let reason = "goes on over the line's end: a quote (\") is missing, or one too many";
            bad.push(cells.bad(column, reason));
            continue;
        }
        if record.len() == columns.len() {
            rows.push(cells);
            continue;
        }
        let fields = if record.len() == 1 { "field" } else { "fields" };
        let reason =
            format!("the row has {} {fields}, the header has {}", record.len(), columns.len());
        bad.push(cells.bad("", reason));
    }
    (rows, bad)
}

fn at(file: usize, line: u64, field: &str, value: &str, reason: &str) -> BadRow {
    BadRow {
        place: Place { file, line },
        field: field.to_owned(),
        value: value.to_owned(),
        reason: reason.to_owned(),
    }
}

/// The text with line feeds as line ends, or the line that is no UTF-8.
fn text(bytes: &[u8]) -> Result<String, u64> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => Ok(text.replace("\r\n", "\n").replace('\r', "\n")),
        Err(error) => {
            let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
            let text = String::from_utf8_lossy(before).replace("\r\n", "\n").replace('\r', "\n");
            Err(count(&text) + 1)
        }
    }
}

/// Whether a cell of several lines holds what looks like whole rows, as it does
/// when a quote is never closed. A text of two lines in quotes is well.
fn swallows(cell: &str, columns: usize, delimiter: u8) -> bool {
    let between = columns.saturating_sub(1);
    let delimiters = |line: &str| line.bytes().filter(|byte| *byte == delimiter).count();
    between > 0 && cell.lines().skip(1).any(|line| delimiters(line) >= between)
}

fn count(text: &str) -> u64 {
    u64::try_from(text.matches('\n').count()).unwrap_or(u64::MAX)
}

/// Comma or semicolon, whichever the header line has more of.
fn delimiter(header: &str) -> u8 {
    let commas = header.matches(',').count();
    if header.matches(';').count() > commas { b';' } else { b',' }
}

/// The line on which a record begins; the reader's own count stands on the
/// blank lines before it.
fn line_of(text: &str, position: Option<&csv::Position>) -> u64 {
    let Some(position) = position else { return 0 };
    let byte = usize::try_from(position.byte()).unwrap_or(usize::MAX);
    let rest = text.get(byte..).unwrap_or_default();
    let blank = rest.len() - rest.trim_start_matches('\n').len();
    position.line() + u64::try_from(blank).unwrap_or(0)
}

/// The columns of the header's names, in the header's order.
fn columns(
    file: usize,
    known: &'static [Column],
    header: &csv::StringRecord,
) -> (Vec<&'static str>, Vec<BadRow>) {
    let mut columns: Vec<&'static str> = Vec::new();
    let mut bad = Vec::new();
    for name in header {
        let wanted = name.trim().to_lowercase();
        match known.iter().find(|(column, _)| *column == wanted) {
            Some((column, _)) if columns.contains(column) => {
                bad.push(at(file, 1, name, "", "the column stands in the header twice"));
            }
            Some((column, _)) => columns.push(column),
            None => {
                let names: Vec<_> = known.iter().map(|(column, _)| *column).collect();
                let shown = baystart_proto::convert::scalar::shown(name);
                let reason = format!("is no column of this file; it may have {}", names.join(", "));
                bad.push(at(file, 1, &shown, "", &reason));
            }
        }
    }
    for (column, needed) in known {
        if *needed && !columns.contains(column) {
            bad.push(at(file, 1, column, "", "the column is needed and not in the header"));
        }
    }
    (columns, bad)
}

#[cfg(test)]
#[path = "table_tests.rs"]
mod tests;
