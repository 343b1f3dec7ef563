//! What an export wrote.

use super::table::Rows;
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// One row a file, then what the files do not carry.
#[must_use]
pub fn report(console: Console, report: &v1::ExportReport) -> String {
    let mut rows = Rows::new(console, &["file", "#rows"]);
    for file in &report.files {
        rows.row([file.file.clone(), file.rows.to_string()]);
    }
    let mut text = rows.text_or("No files.");
    text.push_str("The files do not carry:\n");
    for what in &report.left_out {
        let _ = writeln!(text, "- {what}");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_and_what_they_leave_out() {
        let file = |file: &str, rows| v1::ExportFileReport { file: file.to_owned(), rows };
        let exported = v1::ExportReport {
            files: vec![file("bins.csv", 3), file("builds.csv", 12)],
            revision: 7,
            left_out: vec!["movements".to_owned()],
        };
        let text = report(Console::default(), &exported);
        assert!(text.contains("bins.csv"), "{text}");
        assert!(text.ends_with("The files do not carry:\n- movements\n"), "{text}");
    }
}
