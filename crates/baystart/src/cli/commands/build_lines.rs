//! Lines that are to be added to a build: on the command line, in a file.

use crate::cli::fail::Failure;
use crate::cli::parse;
use baystart_proto::v1;
use std::path::{Path, PathBuf};

/// Lines, on the command line or in a file.
#[derive(Clone, Debug, clap::Args)]
pub struct LineArgs {
    /// PART=QTY@STAGE, once a line
    #[arg(long = "line", value_name = "PART=QTY@STAGE", value_parser = parse::build::line)]
    lines: Vec<v1::NewBuildLine>,
    /// CSV file with the columns stage, part, quantity, and customer_supplied (yes or no) if any is
    #[arg(long = "lines", value_name = "FILE")]
    file: Option<PathBuf>,
    /// PART=QTY@STAGE, once a line that the customer brings; these come after the other lines
    #[arg(long = "customer-line", value_name = "PART=QTY@STAGE", value_parser = parse::build::customer_line)]
    customers: Vec<v1::NewBuildLine>,
}

impl LineArgs {
    /// All lines, those that the customer brings last.
    ///
    /// # Errors
    /// The file cannot be read, or has bad rows.
    pub fn read(self) -> Result<Vec<v1::NewBuildLine>, Failure> {
        let mut lines = self.lines;
        if let Some(path) = self.file {
            lines.extend(read_file(&path)?);
        }
        lines.extend(self.customers);
        Ok(lines)
    }
}

fn read_file(path: &Path) -> Result<Vec<v1::NewBuildLine>, Failure> {
    let place = path.display();
    let bytes = std::fs::read(path)
        .map_err(|error| Failure::Input(format!("{place} cannot be read: {error}")))?;
    parse::build::lines_csv(&bytes)
        .map_err(|wrong| Failure::Input(format!("{place} has bad rows:\n  {}", wrong.join("\n  "))))
}
