//! One file under way: a header line and rows, cells placed by their columns.

use crate::formula::guarded;
use crate::import::Column;
use baystart_core::book::model::Promise;
use baystart_core::quantity::Quantity;
use baystart_core::text::escaped;
use jiff::civil::Date;

/// A file as it is sent.
pub(crate) struct File {
    pub(crate) name: &'static str,
    pub(crate) rows: i64,
    pub(crate) bytes: Vec<u8>,
}

/// A row that could not be written: a fault of the program.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Unwritable {
    #[error("the file has no column {0}")]
    Column(&'static str),
    #[error(transparent)]
    Csv(#[from] csv::Error),
    #[error("{0}")]
    Bytes(String),
}

/// A column with what stands in it.
pub(super) type Cell = (&'static str, String);

pub(crate) struct Sheet {
    columns: &'static [Column],
    writer: csv::Writer<Vec<u8>>,
    rows: i64,
}

impl Sheet {
    pub(super) fn new(columns: &'static [Column]) -> Result<Self, Unwritable> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(columns.iter().map(|(name, _)| *name))?;
        Ok(Self { columns, writer, rows: 0 })
    }

    /// Writes a row; what has no cell is empty. What a text may not hold (but what
    /// was kept before may) goes out as escapes, what a spreadsheet would run with a
    /// mark.
    pub(super) fn row(&mut self, cells: &[Cell]) -> Result<(), Unwritable> {
        if let Some((unknown, _)) =
            cells.iter().find(|(name, _)| !self.columns.iter().any(|(column, _)| column == name))
        {
            return Err(Unwritable::Column(unknown));
        }
        let cell = |column: &str| {
            let found = cells.iter().find(|(name, _)| *name == column);
            let text = escaped(found.map_or("", |(_, text)| text.as_str()));
            guarded(&text).into_owned()
        };
        self.writer.write_record(self.columns.iter().map(|(column, _)| cell(column)))?;
        self.rows += 1;
        Ok(())
    }

    /// The bytes so far; the sheet goes on without them.
    pub(super) fn take(&mut self) -> Result<Vec<u8>, Unwritable> {
        let rest = csv::Writer::from_writer(Vec::new());
        let writer = std::mem::replace(&mut self.writer, rest);
        writer.into_inner().map_err(|error| Unwritable::Bytes(error.to_string()))
    }

    pub(super) const fn rows(&self) -> i64 {
        self.rows
    }

    pub(super) fn finish(mut self, name: &'static str) -> Result<File, Unwritable> {
        Ok(File { name, rows: self.rows, bytes: self.take()? })
    }
}

/// `yes`, or nothing.
pub(super) fn flag(set: bool) -> String {
    if set { "yes".to_owned() } else { String::new() }
}

/// A value, or nothing.
pub(super) fn maybe<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// A quantity, or nothing where it is zero.
pub(super) fn some(quantity: Quantity) -> String {
    maybe(Some(quantity).filter(|quantity| !quantity.is_zero()))
}

/// A number from 1, or nothing.
pub(super) fn from_one(number: i32) -> String {
    maybe(Some(number).filter(|number| *number > 0))
}

/// Space-separated DATE@KNOWN pairs.
pub(super) fn pairs(dates: impl Iterator<Item = (Date, Date)>) -> String {
    let pairs: Vec<String> = dates.map(|(date, known)| format!("{date}@{known}")).collect();
    pairs.join(" ")
}

/// The promises before the one in force, and that one.
pub(super) fn earlier_and_last(promises: &[Promise]) -> (String, Option<Promise>) {
    let (last, earlier) = match promises.split_last() {
        Some((last, earlier)) => (Some(*last), earlier),
        None => (None, promises),
    };
    (pairs(earlier.iter().map(|promise| (promise.promised_on, promise.known_on))), last)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::import::{Kind, table_rows};
    use baystart_core::text::{Lines, clean};
    use proptest::prelude::*;

    fn written(description: &str) -> Vec<u8> {
        let mut sheet = Sheet::new(Kind::Bins.columns()).unwrap();
        sheet.row(&[("bin", "A1".to_owned()), ("description", description.to_owned())]).unwrap();
        sheet.finish("bins.csv").unwrap().bytes
    }

    #[test]
    fn nothing_raw_and_nothing_that_runs_goes_out() {
        let bytes = written("=cmd|' /C calc'!A0\r\n\u{1b}[2J\u{202e}");
        let text = std::str::from_utf8(&bytes).unwrap();
        assert_eq!(text, "bin,description\nA1,'=cmd|' /C calc'!A0\\r\\n\\u{1b}[2J\\u{202e}\n");
    }

    proptest! {
        /// What may be kept comes back from its cell as it was; what may not comes back as it was
        /// shown, and from then on as it is.
        #[test]
        fn a_text_comes_back_from_its_cell(text in "'{0,2}[=+@-].{0,8}|[-'=+@\"',;|#\\\\a1 ]{0,12}|\\PC{0,12}|.{0,12}") {
            let kept = clean(&text, Lines::One).unwrap_or_else(|_| escaped(text.trim()).into_owned());
            let bytes = written(&kept);
            let rows = table_rows(Kind::Bins, &bytes);
            prop_assert_eq!(rows.len(), 1);
            prop_assert_eq!(rows[0].get("description"), kept.as_str());
            prop_assert_eq!(written(rows[0].get("description")), bytes);
        }
    }
}
