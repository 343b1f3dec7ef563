//! CSV files: header line, comma or semicolon, quoted fields, any line end.

use super::columns::{Column, Kind};
use super::limits::{COLUMNS_MAX, LINE_BYTES_MAX};
use super::{BadRow, Cells, FileLine, Manner};
use crate::formula::bare;

type Records = (Vec<Cells>, Vec<BadRow>);

/// How a file's lines are divided into cells, by its header line.
pub(crate) struct Table {
    file: usize,
    /// None: the column is passed over.
    columns: Vec<Option<&'static str>>,
    delimiter: u8,
    manner: Manner,
}

/// A file's rows by column, and what is wrong with the file itself.
///
/// Reading ends with the first row after `rows_max`, good and bad ones counted.
pub(crate) fn records(
    file: usize,
    kind: Kind,
    bytes: &[u8],
    manner: &Manner,
    rows_max: usize,
) -> Records {
    let text = match text(bytes, manner) {
        Ok(text) => text,
        Err(line) => return (Vec::new(), vec![at(file, line, "", "", NO_TEXT)]),
    };
    let (header, rest) = text.split_once('\n').unwrap_or((&text, ""));
    let table = match Table::of(file, kind.columns(), header, manner) {
        Ok(table) => table,
        Err(bad) => return (Vec::new(), bad),
    };
    if let Some(line) = long_line(&text) {
        let reason = format!("the line is longer than {LINE_BYTES_MAX} bytes");
        return (Vec::new(), vec![at(file, line, "", "", &reason)]);
    }
    let (mut rows, mut bad) = (Vec::new(), Vec::new());
    table.read(rest, 2, &mut |row| {
        match row {
            Ok(cells) => rows.push(cells),
            Err(row) => bad.push(row),
        }
        rows.len() + bad.len() <= rows_max
    });
    (rows, bad)
}

/// What is said of bytes that are no UTF-8.
pub(crate) const NO_TEXT: &str = "is no UTF-8 text: save the file as \"CSV UTF-8\"";
/// What is said of a quote that is never closed.
const OPEN_QUOTE: &str = "goes on over the line's end: a quote (\") is missing, or one too many";

impl Table {
    /// Reads the header line, which comes without its line end; or what is wrong
    /// with it.
    pub(crate) fn of(
        file: usize,
        known: &'static [Column],
        header_line: &str,
        manner: &Manner,
    ) -> Result<Self, Vec<BadRow>> {
        if header_line.trim().is_empty() {
            return Err(vec![at(file, 1, "", "", "the file has no header line")]);
        }
        if header_line.matches('"').count() % 2 == 1 {
            return Err(vec![at(file, 1, "", "", OPEN_QUOTE)]);
        }
        let delimiter = delimiter(header_line);
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .from_reader(header_line.as_bytes());
        let mut header = csv::StringRecord::new();
        if let Err(error) = reader.read_record(&mut header) {
            return Err(vec![at(file, 1, "", "", &error.to_string())]);
        }
        if header.len() > COLUMNS_MAX {
            let reason = format!("the header has {} columns; at most {COLUMNS_MAX}", header.len());
            return Err(vec![at(file, 1, "", "", &reason)]);
        }
        let (columns, bad) = columns(file, known, &header, manner);
        let manner = manner.clone();
        if bad.is_empty() { Ok(Self { file, columns, delimiter, manner }) } else { Err(bad) }
    }

    /// Reads whole lines, with line feeds as line ends, of which the first is
    /// the file's line `first_line`; each row or what is wrong with it. Reading
    /// ends where `keep` answers false.
    pub(crate) fn read(
        &self,
        text: &str,
        first_line: u64,
        keep: &mut dyn FnMut(Result<Cells, BadRow>) -> bool,
    ) {
        // Whether a quote that is open on the last line ends there.
        let closes = text.trim_end_matches('\n').ends_with('"');
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(self.delimiter)
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes());
        let mut record = csv::StringRecord::new();
        loop {
            match reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => return,
                Err(error) => {
                    let line = error.position().map_or(1, csv::Position::line);
                    let row = at(self.file, first_line - 1 + line, "", "", &error.to_string());
                    if !keep(Err(row)) {
                        return;
                    }
                    continue;
                }
            }
            if record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let line = first_line - 1 + line_of(text, record.position());
            if !keep(self.row(&record, line, closes)) {
                return;
            }
        }
    }

    fn row(&self, record: &csv::StringRecord, line: u64, closes: bool) -> Result<Cells, BadRow> {
        let columns = &self.columns;
        let mut cells = Cells::new(FileLine { file: self.file, line });
        for (column, cell) in columns.iter().zip(record) {
            if let Some(column) = column {
                cells.set_in(&self.manner, column, bare(cell.trim()));
            }
        }
        let swallowed = |cell: &str| {
            swallows(cell, columns.len(), self.delimiter) || (cell.ends_with('\n') && !closes)
        };
        if let Some((column, _)) = columns.iter().zip(record).find(|(_, cell)| swallowed(cell)) {
            return Err(cells.bad(column.unwrap_or_default(), OPEN_QUOTE));
        }
        if record.len() == columns.len() {
            return Ok(cells);
        }
        let fields = if record.len() == 1 { "field" } else { "fields" };
        let reason =
            format!("the row has {} {fields}, the header has {}", record.len(), columns.len());
        Err(cells.bad("", reason))
    }
}

/// What is wrong at a place in a file.
pub(crate) fn at(file: usize, line: u64, field: &str, value: &str, reason: &str) -> BadRow {
    BadRow {
        place: FileLine { file, line },
        field: field.to_owned(),
        value: value.to_owned(),
        reason: reason.to_owned(),
    }
}

/// The text with line feeds as line ends, or the line that is no text.
fn text(bytes: &[u8], manner: &Manner) -> Result<String, u64> {
    match manner.text(bytes) {
        Some(text) => {
            let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
            Ok(text.replace("\r\n", "\n").replace('\r', "\n"))
        }
        None => {
            let whole = std::str::from_utf8(bytes).map_or_else(|e| e.valid_up_to(), str::len);
            let before = bytes.get(..whole).unwrap_or_default();
            let text = String::from_utf8_lossy(before).replace("\r\n", "\n").replace('\r', "\n");
            Err(count(&text) + 1)
        }
    }
}

/// The first line that is too long.
fn long_line(text: &str) -> Option<u64> {
    let long = text.split('\n').zip(1..).find(|(line, _)| line.len() > LINE_BYTES_MAX);
    long.map(|(_, number)| number)
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
    manner: &Manner,
) -> (Vec<Option<&'static str>>, Vec<BadRow>) {
    let mut columns: Vec<Option<&'static str>> = Vec::new();
    let mut bad = Vec::new();
    for name in header {
        let wanted = name.trim().to_lowercase();
        let shown = baystart_proto::convert::scalar::shown(name);
        match known.iter().find(|(column, _)| *column == wanted) {
            Some((column, _)) if columns.contains(&Some(*column)) => {
                bad.push(at(file, 1, &shown, "", "the column stands in the header twice"));
            }
            Some((column, _)) => columns.push(Some(*column)),
            None if manner.ignores(&wanted) => columns.push(None),
            None => {
                let names: Vec<_> = known.iter().map(|(column, _)| *column).collect();
                let reason = format!("is no column of this file; it may have {}", names.join(", "));
                bad.push(at(file, 1, &shown, "", &reason));
            }
        }
    }
    for (column, needed) in known {
        if *needed && !columns.contains(&Some(*column)) {
            bad.push(at(file, 1, column, "", "the column is needed and not in the header"));
        }
    }
    (columns, bad)
}

#[cfg(test)]
#[path = "table_tests.rs"]
mod tests;
