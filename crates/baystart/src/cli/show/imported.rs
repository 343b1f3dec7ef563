//! What an import did.

use super::table::Rows;
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// One bad row, for example `parts.csv:12 quantity "x": is not a number`.
#[must_use]
pub fn bad_row(row: &v1::ImportBadRow) -> String {
    let mut text = row.file.clone();
    if row.line > 0 {
        let _ = write!(text, ":{}", row.line);
    }
    if !row.field.is_empty() {
        let _ = write!(text, " {}", row.field);
    }
    // The value comes escaped; many reasons begin with it.
    let value = format!("\"{}\"", row.value);
    if !row.value.is_empty() && !row.reason.starts_with(&value) {
        let _ = write!(text, " {value}");
    }
    format!("{text}: {}", row.reason)
}

/// What is wrong with a row's field, without the value that many reasons begin with.
#[must_use]
pub fn without_value(row: &v1::ImportBadRow) -> String {
    let value = format!("\"{}\"", row.value);
    row.reason.strip_prefix(&value).unwrap_or(&row.reason).trim().to_owned()
}

/// How many rows more of a file have a mistake in a field, and the last of them.
#[must_use]
pub fn more_rows((file, field, reason): (&str, &str, &str), rows: u64, last: i64) -> String {
    let field = if field.is_empty() { String::new() } else { format!(" {field}") };
    let rows_are = if rows == 1 { "1 row more".to_owned() } else { format!("{rows} rows more") };
    format!("{file}{field}: {rows_are}, the last in line {last}: {reason}")
}

/// One row a file.
#[must_use]
pub fn report(console: Console, files: &[v1::ImportFileReport], dry_run: bool) -> String {
    let mut rows = Rows::new(console, &["file", "#rows", "#created", "#changed", "#unchanged"]);
    let (mut created, mut changed) = (0, 0);
    for file in files {
        created += file.created;
        changed += file.changed;
        rows.row([
            file.file.clone(),
            file.rows.to_string(),
            file.created.to_string(),
            file.changed.to_string(),
            file.unchanged.to_string(),
        ]);
    }
    let mut text = rows.text_or("No files.");
    if dry_run {
        text.push_str("Dry run: every row is good, nothing was kept.\n");
    } else if created == 0 && changed == 0 {
        text.push_str("Nothing changed: every row was there already.\n");
    }
    text
}

/// Rows of a history whose part the catalogue does not have; empty where there
/// is none.
#[must_use]
pub fn parts_unknown(rows: i64) -> String {
    match rows {
        0 => String::new(),
        1 => "1 row names a part that is not in the catalogue: it speaks for its supplier all the \
              same.\n"
            .to_owned(),
        rows => format!(
            "{rows} rows name parts that are not in the catalogue: they speak for their suppliers \
             all the same.\n"
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bad_rows() {
        let mut row = v1::ImportBadRow {
            file: "parts.csv".into(),
            line: 12,
            field: "quantity".into(),
            value: "x".into(),
            reason: "is not a number".into(),
        };
        assert_eq!(bad_row(&row), "parts.csv:12 quantity \"x\": is not a number");
        row.reason = "\"x\" is not a number".into();
        assert_eq!(bad_row(&row), "parts.csv:12 quantity: \"x\" is not a number");
        row.reason = "is not a number".into();
        row.value = String::new();
        assert_eq!(bad_row(&row), "parts.csv:12 quantity: is not a number");
        (row.field, row.line) = (String::new(), 0);
        assert_eq!(bad_row(&row), "parts.csv: is not a number");
    }
}
