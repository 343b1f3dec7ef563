//! How sheets write their cells, where not as documented: named once at the import.

use baystart_core::text::escaped;
use baystart_proto::v1;

/// How dates stand in files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Dates {
    /// 2026-09-14
    Iso,
    /// 14/09/2026, 14.9.26; ISO dates too
    DayFirst,
}

/// How decimals stand in files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Decimals {
    /// 1234.5
    Point,
    /// 1.234,5
    Comma,
}

/// How the files write their cells.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "How the files are written")]
pub struct MannerArgs {
    /// How dates stand in the files
    #[arg(long, value_enum, default_value = "iso")]
    dates: Dates,
    /// How decimals stand in the files
    #[arg(long, value_enum, default_value = "point")]
    decimals: Decimals,
    /// Encoding of files that are no UTF-8, for example windows-1252
    #[arg(long, value_name = "NAME")]
    encoding: Option<String>,
    /// A column that is not Baystart's and is passed over; once for each
    #[arg(long = "ignore-column", value_name = "NAME")]
    ignored_columns: Vec<String>,
}

impl MannerArgs {
    /// As the API has it; None where all is as documented.
    #[must_use]
    pub fn message(&self) -> Option<v1::ImportManner> {
        let dates = match self.dates {
            Dates::Iso => v1::ImportDates::Unspecified,
            Dates::DayFirst => v1::ImportDates::DayFirst,
        };
        let manner = v1::ImportManner {
            dates: dates.into(),
            decimal_comma: self.decimals == Decimals::Comma,
            encoding: self.encoding.clone().unwrap_or_default(),
            ignored_columns: self.ignored_columns.clone(),
        };
        (manner != v1::ImportManner::default()).then_some(manner)
    }

    /// The flags once more, for the command that comes next.
    #[must_use]
    pub fn again(&self) -> String {
        let mut text = String::new();
        if self.dates == Dates::DayFirst {
            text.push_str(" --dates day-first");
        }
        if self.decimals == Decimals::Comma {
            text.push_str(" --decimals comma");
        }
        let named = self.encoding.iter().map(|name| ("--encoding", name));
        let ignored = self.ignored_columns.iter().map(|name| ("--ignore-column", name));
        for (flag, name) in named.chain(ignored) {
            text.push_str(&format!(" {flag} {}", crate::cli::show::text::quoted(name)));
        }
        text
    }
}

/// What may help with a row that was refused: a flag that reads it as it is meant.
#[must_use]
pub fn hint(row: &v1::ImportBadRow) -> Option<String> {
    let (value, reason) = (row.value.as_str(), row.reason.as_str());
    let figures = |text: &str| text.contains(|c: char| c.is_ascii_digit());
    let only = |allowed: &str| value.chars().all(|c| c.is_ascii_digit() || allowed.contains(c));
    if reason.contains("of the form 2026-09-14") && figures(value) && only("/.-") {
        let year_last = value.split(['/', '.', '-']).next().is_some_and(|day| day.len() <= 2);
        return year_last
            .then(|| "If the sheet has days before months: --dates day-first".to_owned());
    }
    if reason.contains("decimal number") && value.contains(',') && only(",. -") {
        return Some("If the sheet has decimal commas: --decimals comma".to_owned());
    }
    if reason.contains("is no UTF-8 text") {
        let text = "Or name the encoding of the file; many sheets write --encoding windows-1252";
        return Some(text.to_owned());
    }
    if reason.starts_with("is no column of this file") {
        let column = crate::cli::show::text::quoted(&escaped(&row.field));
        return Some(format!(
            "To pass over a column that is not Baystart's: --ignore-column {column}"
        ));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_flag_would_read_is_hinted() {
        let row = |field: &str, value: &str, reason: &str| v1::ImportBadRow {
            field: field.into(),
            value: value.into(),
            reason: reason.into(),
            ..Default::default()
        };
        let of = |value, reason| hint(&row("x", value, reason)).unwrap_or_default();
        let date = "\"14/09/2026\" is no date of the form 2026-09-14";
        assert!(of("14/09/2026", date).contains("day-first"));
        assert_eq!(of("2026-13-01", date), "");
        assert_eq!(of("soon", date), "");
        assert!(of("1,5", "\"1,5\" is not a decimal number").contains("comma"));
        assert_eq!(of("none", "\"none\" is not a decimal number"), "");
        let column = row("Shelf life", "", "is no column of this file; it may have part");
        assert!(hint(&column).unwrap_or_default().ends_with("--ignore-column 'Shelf life'"));
    }
}
