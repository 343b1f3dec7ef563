//! Tables: a header, a rule, rows. Fitted to the window on a terminal only.

use crate::cli::console::Console;
use comfy_table::{
    CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, TableStyle,
};

const STYLE: TableStyle =
    TableStyle::new().header_separator(LineStyle::none().fill('-').junction('-'));

/// Columns up to this width hold dates, numbers and codes, which must not be
/// broken.
const NARROW: u16 = 16;
/// The least width in which a text can still be read.
const READABLE: u16 = 14;

/// A table that is being filled.
pub struct Rows {
    table: Table,
    empty: bool,
}

impl Rows {
    /// A table with these columns; a name that begins with `#` is that of a
    /// column of numbers, which stand to the right.
    #[must_use]
    pub fn new(console: Console, columns: &[&str]) -> Self {
        let mut table = Table::new();
        table.load_style(STYLE);
        table.set_header(columns.iter().map(|name| name.trim_start_matches('#')));
        table.set_content_arrangement(ContentArrangement::Disabled);
        if !console.output {
            table.force_no_tty();
        }
        for (index, name) in columns.iter().enumerate() {
            if let Some(column) = table.column_mut(index) {
                // With the separator's own blank, two blanks between columns.
                column.set_padding((0, if index + 1 == columns.len() { 0 } else { 1 }));
                if name.starts_with('#') {
                    column.set_cell_alignment(CellAlignment::Right);
                }
            }
        }
        Self { table, empty: true }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.empty = false;
        self.table.add_row(cells.into_iter().collect::<Vec<_>>());
    }

    /// The text, or `nothing` when there is no row.
    #[must_use]
    pub fn text_or(&self, nothing: &str) -> String {
        if self.empty {
            return format!("{nothing}\n");
        }
        let mut table = self.table.clone();
        // Nowhere but on a terminal does a table know a width.
        if let Some(width) = table.width() {
            fit(&mut table, width);
        }
        let mut text = String::new();
        for line in table.lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }
}

/// Breaks long texts so that the table fits; a table that would still not fit
/// stays as it is.
fn fit(table: &mut Table, width: u16) {
    let widths = table.column_max_content_widths();
    let mut least: u16 = 0;
    for (index, content) in widths.iter().enumerate() {
        let narrow = *content <= NARROW;
        least = least.saturating_add(2 + if narrow { *content } else { READABLE });
        if let (true, Some(column)) = (narrow, table.column_mut(index)) {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    if least <= width {
        table.set_content_arrangement(ContentArrangement::Dynamic).set_width(width);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_header_a_rule_and_rows() {
        let mut rows = Rows::new(Console::default(), &["part", "#on hand", "description"]);
        assert_eq!(rows.text_or("No parts."), "No parts.\n");
        rows.row(["HD-1042".into(), "2".into(), "Rail".into()]);
        rows.row(["A".into(), "12.5".into(), String::new()]);
        let expected = "\
part     on hand  description
-----------------------------
HD-1042        2  Rail
A           12.5
";
        assert_eq!(rows.text_or(""), expected);
    }

    #[test]
    fn texts_break_and_dates_do_not() {
        let table = || {
            let mut rows = Rows::new(Console::default(), &["day", "what"]);
            rows.row(["Tue 2026-10-06".into(), "a long text that must be broken somewhere".into()]);
            rows.table
        };
        let mut fitted = table();
        fit(&mut fitted, 40);
        let text = fitted.to_string();
        assert!(text.contains("Tue 2026-10-06") && text.lines().count() > 3, "{text}");
        assert!(text.lines().all(|line| line.len() <= 40), "{text}");
        let mut too_narrow = table();
        fit(&mut too_narrow, 25);
        assert_eq!(too_narrow.to_string().lines().count(), 3);
    }
}
