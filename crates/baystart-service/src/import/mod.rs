//! Import of the files that a shop exports from its sheets: bytes to rows, rows
//! to commands, all or nothing.

mod book;
mod columns;
mod group;
pub(crate) mod history;
mod ics;
mod limits;
mod manner;
mod rows;
mod table;

use baystart_core::refusal::Fault;
use baystart_proto::v1;

pub(crate) use book::{Booked, book};
pub(crate) use columns::{Column, Kind};
pub(crate) use history::COLUMNS as HISTORY_COLUMNS;
pub(crate) use manner::Manner;

/// One file as it was sent.
#[derive(Clone, Debug)]
pub(crate) struct File {
    pub(crate) kind: Kind,
    /// For messages.
    pub(crate) name: String,
    pub(crate) manner: Manner,
    pub(crate) bytes: Vec<u8>,
}

/// Where a row stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct FileLine {
    /// Index of the file.
    pub(crate) file: usize,
    /// From 1, the header's line included.
    pub(crate) line: u64,
}

/// A row that is wrong.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct BadRow {
    pub(crate) place: FileLine,
    pub(crate) field: String,
    pub(crate) value: String,
    pub(crate) reason: String,
}

/// A row's cells that are not empty, by column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Cells {
    pub(crate) place: FileLine,
    values: Vec<(&'static str, String)>,
    /// Columns whose cells are not written as the file's are, and how they should be.
    misread: Vec<(&'static str, &'static str)>,
}

impl Cells {
    pub(crate) fn new(place: FileLine) -> Self {
        Self { place, values: Vec::new(), misread: Vec::new() }
    }

    /// Keeps a cell, trimmed; an empty one is left out.
    pub(crate) fn set(&mut self, column: &'static str, text: &str) {
        let text = text.trim();
        if !text.is_empty() {
            self.values.push((column, text.to_owned()));
            self.values.sort_by_key(|(column, _)| *column);
        }
    }

    /// Keeps a cell that is written in the file's manner.
    pub(crate) fn set_in(&mut self, manner: &Manner, column: &'static str, text: &str) {
        match manner.cell(column, text.trim()) {
            Ok(text) => self.set(column, &text),
            Err(form) => {
                self.misread.push((column, form));
                self.set(column, text);
            }
        }
    }

    /// The form that the cell should have in this file, where it has another.
    pub(crate) fn misread(&self, column: &str) -> Option<&'static str> {
        self.misread.iter().find(|(c, _)| *c == column).map(|(_, form)| *form)
    }

    /// The cell's text; empty where there is none.
    pub(crate) fn get(&self, column: &str) -> &str {
        self.values.iter().find(|(c, _)| *c == column).map_or("", |(_, text)| text)
    }

    /// What is wrong with one of the cells.
    pub(crate) fn bad(&self, field: &str, reason: impl Into<String>) -> BadRow {
        BadRow {
            place: self.place,
            field: field.to_owned(),
            value: baystart_proto::convert::scalar::shown(self.get(field)),
            reason: reason.into(),
        }
    }

    /// What is wrong with the cell that was read as the fault's field.
    pub(crate) fn bad_at(&self, fault: &Fault) -> BadRow {
        self.bad(fault.field.name().unwrap_or_default(), &*fault.message)
    }

    /// The row's text for a digest: every cell with its column.
    pub(crate) fn canonical(&self) -> String {
        let mut out = String::new();
        for (column, text) in &self.values {
            out.push_str(column);
            out.push('\u{1f}');
            out.push_str(text);
            out.push('\u{1e}');
        }
        out
    }
}

/// A row that was read, with its cells for messages.
#[derive(Clone, Debug)]
pub(crate) struct Row<T> {
    pub(crate) cells: Cells,
    pub(crate) value: T,
}

/// Everything that the files say, as far as it reads.
#[derive(Debug, Default)]
pub(crate) struct Sheets {
    pub(crate) suppliers: Vec<Row<rows::Supplier>>,
    pub(crate) parts: Vec<Row<rows::Part>>,
    pub(crate) kits: Vec<Row<rows::Kit>>,
    pub(crate) offers: Vec<Row<rows::Offer>>,
    pub(crate) bins: Vec<Row<rows::Bin>>,
    pub(crate) closed_days: Vec<Row<baystart_core::command::NewClosure>>,
    pub(crate) stock: Vec<Row<rows::Stock>>,
    pub(crate) builds: Vec<Row<rows::Build>>,
    pub(crate) stages: Vec<Row<rows::Stage>>,
    pub(crate) lines: Vec<Row<rows::Line>>,
    pub(crate) orders: Vec<Row<rows::OrderLine>>,
    pub(crate) awaited: Vec<Row<rows::Awaited>>,
    pub(crate) bindings: Vec<Row<rows::Binding>>,
    /// A file says what lines hold: nothing is bound beyond it.
    pub(crate) says_bindings: bool,
    /// Rows that do not read, with what is wrong.
    pub(crate) bad: Vec<BadRow>,
    /// What rows that do not read would have added: not to be reported as
    /// unknown as well.
    pub(crate) doubtful: group::Doubtful,
    /// Rows of each file.
    pub(crate) counts: Vec<i64>,
}

/// The rows of a file that must read; for tests.
#[cfg(test)]
pub(crate) fn table_rows(kind: Kind, bytes: &[u8]) -> Vec<Cells> {
    let (rows, bad) = table::records(0, kind, bytes, &Manner::default(), usize::MAX);
    assert_eq!(bad, Vec::new());
    rows
}

/// Reads all files; `progress` is told how many rows were read so far. Of more than `rows_max` rows,
/// good and bad, the rest is not looked at.
pub(crate) fn read(files: &[File], rows_max: usize, progress: &mut dyn FnMut(i64)) -> Sheets {
    let mut sheets = Sheets::default();
    let mut left = rows_max;
    let mut total = 0_i64;
    for (index, file) in files.iter().enumerate() {
        let (records, bad) = match file.kind {
            Kind::ClosedDaysIcs => ics::records(index, &file.bytes),
            kind => table::records(index, kind, &file.bytes, &file.manner, left),
        };
        let last = bad.iter().map(|row| row.place).chain(records.iter().map(|row| row.place)).max();
        let wanted = records.len() + bad.len();
        sheets.bad.extend(bad);
        sheets.says_bindings |= file.kind == Kind::Bindings;
        let mut count = 0_i64;
        for cells in records.into_iter().take(left) {
            count += 1;
            total += 1;
            rows::read(&mut sheets, file.kind, cells);
            progress(total);
        }
        sheets.counts.push(count);
        if wanted > left {
            let reason = format!("the files hold more than {rows_max} rows: import them in parts");
            let line = last.map_or(1, |place| place.line);
            sheets.bad.push(table::at(index, line, "", "", &reason));
            return sheets;
        }
        left -= wanted;
    }
    group::check(&mut sheets);
    sheets
}

/// The rows of one CSV file by themselves, and what is wrong with it.
#[cfg(any(test, feature = "fuzz"))]
pub(crate) fn table_records(
    kind: Kind,
    bytes: &[u8],
    rows_max: usize,
) -> (Vec<Cells>, Vec<BadRow>) {
    table::records(0, kind, bytes, &Manner::default(), rows_max)
}

/// The kind of a wire value.
pub(crate) fn kind(wire: v1::ImportKind) -> Option<Kind> {
    Some(match wire {
        v1::ImportKind::Unspecified => return None,
        v1::ImportKind::Suppliers => Kind::Suppliers,
        v1::ImportKind::Parts => Kind::Parts,
        v1::ImportKind::Kits => Kind::Kits,
        v1::ImportKind::Offers => Kind::Offers,
        v1::ImportKind::Bins => Kind::Bins,
        v1::ImportKind::OpeningStock => Kind::OpeningStock,
        v1::ImportKind::Builds => Kind::Builds,
        v1::ImportKind::Stages => Kind::Stages,
        v1::ImportKind::BuildLines => Kind::BuildLines,
        v1::ImportKind::OpenOrders => Kind::OpenOrders,
        v1::ImportKind::ClosedDays => Kind::ClosedDays,
        v1::ImportKind::ClosedDaysIcs => Kind::ClosedDaysIcs,
        v1::ImportKind::Awaited => Kind::Awaited,
        v1::ImportKind::Bindings => Kind::Bindings,
    })
}
