//! The demo's files, moved to the day on which the demo plays.

use crate::cli::fail::Failure;
use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use std::fs;
use std::path::Path;

/// The Monday of which the files speak.
const BASE: Date = date(2026, 9, 14);

macro_rules! files {
    ($($name:literal),* $(,)?) => {
        /// File names and what stands in them.
        const FILES: &[(&str, &str)] = &[
            $(($name, include_str!(concat!("../../../demo/", $name)))),*
        ];
    };
}
files!(
    "suppliers.csv",
    "parts.csv",
    "kits.csv",
    "offers.csv",
    "bins.csv",
    "closed_days.csv",
    "opening_stock.csv",
    "builds.csv",
    "stages.csv",
    "build_lines.csv",
    "open_orders.csv",
    "history.csv",
);

/// Writes the files into a new folder, every date moved by the whole weeks that
/// lie between their Monday and the week of `as_of`, so that weekdays stay.
///
/// # Errors
/// The folder cannot be made or written.
pub fn write(folder: &Path, as_of: Date) -> Result<(), Failure> {
    let failed =
        |error: std::io::Error| Failure::Configuration(format!("{}: {error}", folder.display()));
    fs::create_dir_all(folder).map_err(failed)?;
    let days = BASE.until(as_of).map_or(0, |span| span.get_days());
    let shift = days.div_euclid(7) * 7;
    for (name, text) in FILES {
        fs::write(folder.join(name), shifted(text, shift)).map_err(failed)?;
    }
    Ok(())
}

/// The text with every ISO date moved by some days; text that only looks like a
/// date is left alone.
fn shifted(text: &str, days: i32) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(next) = rest.chars().next() {
        let found = rest.get(..10).and_then(|ten| ten.parse::<Date>().ok());
        let moved = found.and_then(|date| date.checked_add(days.days()).ok());
        match moved {
            Some(date) => {
                out.push_str(&date.to_string());
                rest = rest.get(10..).unwrap_or("");
            }
            None => {
                out.push(next);
                rest = rest.get(next.len_utf8()..).unwrap_or("");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn every_date_moves_and_nothing_else() {
        let text = "P-1,2026-09-14,\"2026-10-01@2026-09-02 x\",HD-2026,9\n";
        let moved = "P-1,2026-09-21,\"2026-10-08@2026-09-09 x\",HD-2026,9\n";
        assert_eq!(shifted(text, 7), moved);
        assert_eq!(shifted(text, 0), text);
    }

    #[test]
    fn the_files_keep_their_weekdays() {
        let folder = tempfile::tempdir().unwrap();
        write(folder.path(), date(2027, 1, 7)).unwrap();
        let text = fs::read_to_string(folder.path().join("closed_days.csv")).unwrap();
        let (_, base) = FILES.iter().find(|(name, _)| *name == "closed_days.csv").unwrap();
        let day = |text: &str| text.lines().nth(1).unwrap()[..10].parse::<Date>().unwrap();
        let (now, then) = (day(&text), day(base));
        assert_eq!(now.weekday(), then.weekday());
        assert_eq!(then.until(now).map(|span| span.get_days()).ok(), Some(112));
    }
}
