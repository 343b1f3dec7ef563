//! Cells of a CSV file that a spreadsheet would take for a formula and run.
//!
//! Which first characters do that, and an apostrophe as the remedy, is common
//! practice: OWASP's page on CSV injection, and ASVS 5.0 requirement 1.2.10. Tabs
//! and line ends cannot stand first here, since texts are trimmed. The full-width
//! forms count as well, for spreadsheets that fold them.

use std::borrow::Cow;

const MARK: char = '\'';

/// The cell as it goes out: with an apostrophe before it where a spreadsheet would
/// run it, or where it reads like a cell that got one.
pub(crate) fn guarded(text: &str) -> Cow<'_, str> {
    match would_run(text.trim_start_matches(MARK)) {
        true => Cow::Owned(format!("{MARK}{text}")),
        false => Cow::Borrowed(text),
    }
}

/// The cell as it was before [`guarded`]; also what a person means who writes an
/// apostrophe before a formula.
pub(crate) fn bare(cell: &str) -> &str {
    match cell.strip_prefix(MARK) {
        Some(rest) if would_run(cell.trim_start_matches(MARK)) => rest,
        _ => cell,
    }
}

fn would_run(text: &str) -> bool {
    let mut chars = text.chars();
    match chars.next() {
        Some('=' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}') => true,
        Some('+' | '-') => !is_figure(chars.as_str()),
        _ => false,
    }
}

/// What may follow a sign in a negative number or a telephone number: figures and
/// what stands between them. Without a name or an operator there is nothing to run.
fn is_figure(text: &str) -> bool {
    text.contains(|c: char| c.is_ascii_digit())
        && text.chars().all(|c| c.is_ascii_digit() || matches!(c, ' ' | '.' | '-' | '(' | ')'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_runs_gets_a_mark_and_figures_do_not() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("=HYPERLINK(\"x\")", "'=HYPERLINK(\"x\")"),
            ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
            ("-2+3*cmd", "'-2+3*cmd"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("\u{ff1d}1+1", "'\u{ff1d}1+1"),
            ("-", "'-"),
            ("- see note", "'- see note"),
            ("'=1+1", "''=1+1"),
            ("''=1+1", "'''=1+1"),
            ("-12.5", "-12.5"),
            ("+44 1463 496 000", "+44 1463 496 000"),
            ("+44 (0)1463 496-000", "+44 (0)1463 496-000"),
            ("'-12.5", "'-12.5"),
            ("'s-Gravenhage", "'s-Gravenhage"),
            ("a=b", "a=b"),
            ("'", "'"),
            ("", ""),
        ] {
            assert_eq!(guarded(text), cell);
            assert_eq!(bare(cell), text);
        }
    }

    proptest! {
        #[test]
        fn any_text_comes_back_and_none_runs(text in "[-'=+@1a ]{0,6}|'{0,3}[=+@-].{0,6}|.{0,8}") {
            let cell = guarded(&text);
            prop_assert_eq!(bare(&cell), &text);
            prop_assert!(!would_run(&cell));
            // What stands in a person's own file goes out as it would come in.
            let own = guarded(bare(&text));
            prop_assert_eq!(bare(&own), bare(&text));
        }
    }
}
