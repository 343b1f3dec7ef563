//! Tables: a header, a rule, rows. On a terminal they fit its width: columns that matter least go
//! first, then texts break; elsewhere, or when somebody asks for all, they are as wide as they are.

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
    /// None: as wide as it is.
    width: Option<u16>,
    columns: Vec<String>,
    /// Names of columns that may be left out, the one that matters least first.
    spare: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Rows {
    /// A table with these columns; a name that begins with `#` is that of a
    /// column of numbers, which stand to the right.
    #[must_use]
    pub fn new(console: Console, columns: &[&str]) -> Self {
        Self {
            width: console.width,
            columns: columns.iter().map(|name| (*name).to_owned()).collect(),
            spare: Vec::new(),
            rows: Vec::new(),
        }
    }

    /// Names the columns that are left out where the window is too narrow, the one that matters least
    /// first.
    #[must_use]
    pub fn sparing(mut self, names: &[&str]) -> Self {
        self.spare = names.iter().map(|name| (*name).to_owned()).collect();
        self
    }

    /// Adds a row.
    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// The text, or `nothing` when there is no row.
    #[must_use]
    pub fn text_or(&self, nothing: &str) -> String {
        if self.rows.is_empty() {
            return format!("{nothing}\n");
        }
        let (table, left_out) = match self.width {
            Some(width) => self.fitted(width),
            None => (self.table(&self.all()), Vec::new()),
        };
        let mut text = String::new();
        for line in table.lines() {
            text.push_str(line.trim_end());
            text.push('\n');
        }
        if !left_out.is_empty() {
            text.push_str(&format!("({} left out; --wide shows all)\n", left_out.join(", ")));
        }
        text
    }

    fn all(&self) -> Vec<usize> {
        (0..self.columns.len()).collect()
    }

    /// The table within the width, and the columns that are not in it. Columns without a word are no
    /// loss, and are not told.
    fn fitted(&self, width: u16) -> (Table, Vec<&str>) {
        let mut kept = self.all();
        let mut left_out = Vec::new();
        let said = |at: &usize| {
            self.rows.iter().any(|row| row.get(*at).is_some_and(|cell| !cell.trim().is_empty()))
        };
        if width_of(&self.table(&kept)) > width {
            kept.retain(said);
        }
        let mut spare = self.spare.iter();
        // Where that is not enough, whatever stands last goes: the first column says whose row it is.
        loop {
            let mut table = self.table(&kept);
            if fit(&mut table, width) || kept.len() < 2 {
                return (table, left_out);
            }
            let named = spare.next();
            let place = match named {
                Some(name) => kept.iter().position(|at| self.name(*at) == name),
                None => Some(kept.len() - 1),
            };
            let Some(place) = place else { continue };
            left_out.push(self.name(kept.remove(place)));
        }
    }

    fn name(&self, at: usize) -> &str {
        self.columns.get(at).map_or("", |name| name.trim_start_matches('#'))
    }

    fn table(&self, kept: &[usize]) -> Table {
        let mut table = Table::new();
        table.load_style(STYLE);
        table.set_header(kept.iter().map(|at| self.name(*at)));
        table.set_content_arrangement(ContentArrangement::Disabled);
        table.force_no_tty();
        for (index, at) in kept.iter().enumerate() {
            if let Some(column) = table.column_mut(index) {
                // With the separator's own blank, two blanks between columns.
                column.set_padding((0, if index + 1 == kept.len() { 0 } else { 1 }));
                if self.columns.get(*at).is_some_and(|name| name.starts_with('#')) {
                    column.set_cell_alignment(CellAlignment::Right);
                }
            }
        }
        for row in &self.rows {
            let cell = |at: &usize| row.get(*at).cloned().unwrap_or_default();
            table.add_row(kept.iter().map(cell).collect::<Vec<_>>());
        }
        table
    }
}

/// The width of the table as it is, two blanks between columns.
fn width_of(table: &Table) -> u16 {
    let widths = table.column_max_content_widths();
    let gaps = u16::try_from(widths.len().saturating_sub(1) * 2).unwrap_or(u16::MAX);
    widths.iter().fold(gaps, |sum, width| sum.saturating_add(*width))
}

/// Breaks long texts so that the table fits; false where it cannot.
fn fit(table: &mut Table, width: u16) -> bool {
    if width_of(table) <= width {
        return true;
    }
    let widths = table.column_max_content_widths();
    let gaps = u16::try_from(widths.len().saturating_sub(1) * 2).unwrap_or(u16::MAX);
    let mut least = gaps;
    for (index, content) in widths.iter().enumerate() {
        let narrow = *content <= NARROW;
        least = least.saturating_add(if narrow { *content } else { READABLE });
        if let (true, Some(column)) = (narrow, table.column_mut(index)) {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    if least > width {
        return false;
    }
    table.set_content_arrangement(ContentArrangement::Dynamic).set_width(width);
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    fn within(width: u16) -> Console {
        Console { width: Some(width), ..Console::default() }
    }

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
        let mut rows = Rows::new(within(40), &["day", "what"]);
        rows.row(["Tue 2026-10-06".into(), "a long text that must be broken somewhere".into()]);
        let text = rows.text_or("");
        assert!(text.contains("Tue 2026-10-06") && text.lines().count() > 3, "{text}");
        assert!(text.lines().all(|line| line.len() <= 40), "{text}");
    }

    #[test]
    fn columns_that_matter_least_go_before_texts_break_too_far() {
        let table = |width| {
            let columns = ["part", "lot", "#on hand", "#pegged", "what"];
            let mut rows = Rows::new(within(width), &columns).sparing(&["pegged", "on hand"]);
            let what = "a long text that can be broken";
            rows.row(["HD-1042".into(), String::new(), "2".into(), "1".into(), what.into()]);
            rows.text_or("")
        };
        assert_eq!(table(80).lines().next(), Some("part     lot  on hand  pegged  what"));
        let at_56 = table(56);
        assert_eq!(at_56.lines().next(), Some("part     on hand  pegged  what"), "{at_56}");
        assert_eq!(at_56.lines().count(), 3, "nothing is said of a column without a word: {at_56}");
        let at_36 = table(36);
        assert_eq!(at_36.lines().next(), Some("part     on hand  what"), "{at_36}");
        assert!(at_36.ends_with("(pegged left out; --wide shows all)\n"), "{at_36}");
        for width in 10..60 {
            let text = table(width);
            let rows = text.lines().filter(|line| !line.starts_with('('));
            assert!(rows.clone().all(|line| line.len() <= usize::from(width)), "{width}: {text}");
        }
    }
}
