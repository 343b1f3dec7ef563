//! Past order lines: chunks of one file become checked rows while they come in.
//! What is held at once does not grow with the file.

mod bad;
mod lines;
mod row;

use super::table::{NO_TEXT, Table, at};
use super::{BadRow, Cells, Manner};
pub(crate) use bad::BadRows;
use baystart_store::{HISTORY_STEP_ROWS_MAX, PastRow};
use lines::{Line, Lines};
pub(crate) use row::{COLUMNS, Known};
use std::borrow::Cow;

/// Bytes of whole lines that are read at once.
const BLOCK_BYTES: usize = 64 * 1024;

/// Most rows and most bytes of a line.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RowLimits {
    pub(crate) rows_max: i64,
    pub(crate) line_bytes_max: usize,
}

/// Where checked rows and bad ones go.
pub(crate) trait Sink {
    /// At most [`HISTORY_STEP_ROWS_MAX`] rows. False: nobody takes more.
    fn rows(&mut self, rows: Vec<PastRow>) -> bool;
    /// One that is wrong.
    fn bad(&mut self, row: BadRow);
}

/// A file under way.
pub(crate) struct Reading {
    known: Known,
    limits: RowLimits,
    lines: Lines,
    state: State,
}

/// What is held of the file.
#[derive(Default)]
struct State {
    manner: Manner,
    /// None before the header line.
    table: Option<Table>,
    /// Nothing more is read: the header is wrong, the file is too long, or
    /// nobody takes the rows.
    over: bool,
    /// Lines so far.
    line: u64,
    /// Whole lines that are not read yet, and which is the first.
    block: String,
    block_line: u64,
    /// Rows that were read, bad ones included.
    rows: i64,
    checked: Vec<PastRow>,
}

impl Reading {
    pub(crate) fn new(known: Known, limits: RowLimits, manner: Manner) -> Self {
        let state = State { manner, ..State::default() };
        Self { known, limits, lines: Lines::new(limits.line_bytes_max), state }
    }

    /// Rows that were read so far, bad ones included.
    pub(crate) fn rows(&self) -> i64 {
        self.state.rows
    }

    /// Takes the next bytes. False: nobody takes the rows any more.
    pub(crate) fn take(&mut self, chunk: &[u8], sink: &mut dyn Sink) -> bool {
        let Self { known, limits, lines, state } = self;
        let mut taken = true;
        lines.take(chunk, &mut |line| taken &= state.line(line, known, *limits, sink));
        taken
    }

    /// Reads what is left.
    pub(crate) fn end(&mut self, sink: &mut dyn Sink) -> bool {
        let Self { known, limits, lines, state } = self;
        let mut taken = true;
        lines.end(&mut |line| taken &= state.line(line, known, *limits, sink));
        if state.line == 0 {
            state.header("", sink);
        }
        taken && state.read_block(known, *limits, sink) && state.give(sink)
    }
}

impl State {
    fn line(
        &mut self,
        line: Line<'_>,
        known: &Known,
        limits: RowLimits,
        sink: &mut dyn Sink,
    ) -> bool {
        if self.over {
            return true;
        }
        self.line += 1;
        let text = match line {
            Line::TooLong => {
                let reason = format!("the line is longer than {} bytes", limits.line_bytes_max);
                Err(reason)
            }
            Line::Bytes(bytes) => {
                let marked = bytes.strip_prefix(b"\xef\xbb\xbf").filter(|_| self.line == 1);
                if marked.is_some() {
                    // The mark says of all lines that they are UTF-8.
                    self.manner = std::mem::take(&mut self.manner).in_utf_8();
                }
                let text = self.manner.text(marked.unwrap_or(bytes));
                text.ok_or_else(|| NO_TEXT.to_owned())
            }
        };
        let text = match text {
            Ok(text) => text,
            Err(reason) => {
                sink.bad(at(0, self.line, "", "", &reason));
                // Without a header nothing can be told of the rows.
                self.over |= self.line == 1;
                // An empty line in its place keeps the count.
                Cow::Borrowed("")
            }
        };
        if self.over {
            return true;
        }
        if self.line == 1 {
            self.header(&text, sink);
            return true;
        }
        if self.block.is_empty() {
            self.block_line = self.line;
        }
        self.block.push_str(&text);
        self.block.push('\n');
        self.block.len() < BLOCK_BYTES || self.read_block(known, limits, sink)
    }

    fn header(&mut self, text: &str, sink: &mut dyn Sink) {
        match Table::of(0, row::COLUMNS, text, &self.manner) {
            Ok(table) => self.table = Some(table),
            Err(bad) => {
                self.over = true;
                bad.into_iter().for_each(|row| sink.bad(row));
            }
        }
    }

    /// Reads the lines that were gathered. False: nobody takes the rows.
    fn read_block(&mut self, known: &Known, limits: RowLimits, sink: &mut dyn Sink) -> bool {
        let Some(table) = &self.table else { return true };
        let (rows, checked) = (&mut self.rows, &mut self.checked);
        let (mut over, mut taken) = (self.over, true);
        table.read(&self.block, self.block_line, &mut |read: Result<Cells, BadRow>| {
            if *rows >= limits.rows_max {
                over = true;
                let line =
                    read.as_ref().map_or_else(|bad| bad.place.line, |cells| cells.place.line);
                let reason =
                    format!("the file has more than {} rows: import it in parts", limits.rows_max);
                sink.bad(at(0, line, "", "", &reason));
                return false;
            }
            *rows += 1;
            let read = read.map_err(|bad| vec![bad]);
            match read.and_then(|cells| row::read(&cells, known)) {
                Ok(row) => checked.push(row),
                Err(bad) => bad.into_iter().for_each(|row| sink.bad(row)),
            }
            if checked.len() >= HISTORY_STEP_ROWS_MAX {
                taken = sink.rows(std::mem::take(checked));
            }
            taken
        });
        self.over = over || !taken;
        self.block.clear();
        taken
    }

    /// Gives the rows that are checked.
    fn give(&mut self, sink: &mut dyn Sink) -> bool {
        let rows = std::mem::take(&mut self.checked);
        rows.is_empty() || sink.rows(rows)
    }
}

#[cfg(test)]
#[path = "history_tests.rs"]
mod tests;
