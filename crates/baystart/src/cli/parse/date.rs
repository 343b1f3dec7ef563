//! Civil dates, written in full as ISO 8601 has them.

use baystart_proto::v1;

/// Reads `2026-10-05`. A shorter form is refused: which day of October it
/// would be, nobody could say later.
///
/// # Errors
/// The text is not a full date, or there is no such day.
pub fn date(text: &str) -> Result<v1::Date, String> {
    let fields: Vec<&str> = text.split('-').collect();
    let [year, month, day] = fields.as_slice() else {
        return Err(not_full());
    };
    let digits = |field: &str, count: usize| {
        field.len() == count && field.bytes().all(|byte| byte.is_ascii_digit())
    };
    if !digits(year, 4) || !digits(month, 2) || !digits(day, 2) {
        return Err(not_full());
    }
    let (Ok(year), Ok(month), Ok(day)) = (year.parse(), month.parse(), day.parse()) else {
        return Err(not_full());
    };
    let date = jiff::civil::Date::new(year, month, day)
        .map_err(|_| "there is no such day; write year-month-day".to_owned())?;
    Ok(v1::Date { year: date.year().into(), month: date.month().into(), day: date.day().into() })
}

fn not_full() -> String {
    "is not a full date; write year-month-day, for example 2026-10-05".to_owned()
}

/// A date, or `none` to take the date away.
///
/// # Errors
/// As [`date`].
pub fn date_or_none(text: &str) -> Result<Cleared<v1::Date>, String> {
    if text == NONE {
        return Ok(Cleared(None));
    }
    date(text).map(|date| Cleared(Some(date)))
}

/// What a change takes a value away with.
pub const NONE: &str = "none";

/// A new value, or the wish that there be none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cleared<T>(pub Option<T>);

/// Any text, or `none` to take it away.
///
/// # Errors
/// Never; the form is the one that the argument parser wants.
pub fn text_or_none(text: &str) -> Result<Cleared<String>, String> {
    Ok(Cleared((text != NONE).then(|| text.to_owned())))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn full_dates_only() {
        assert_eq!(date("2026-10-05").unwrap(), v1::Date { year: 2026, month: 10, day: 5 });
        assert_eq!(date("2028-02-29").unwrap().day, 29);
        for partial in [
            "2026-10",
            "2026",
            "10-05",
            "2026-1-5",
            "20261005",
            "2026-10-05T00:00",
            "",
            "+026-10-05",
        ] {
            assert!(date(partial).unwrap_err().contains("not a full date"), "{partial}");
        }
        for impossible in ["2026-02-30", "2027-02-29", "2026-13-01", "2026-00-10"] {
            assert!(date(impossible).unwrap_err().contains("no such day"), "{impossible}");
        }
    }

    #[test]
    fn none_takes_away() {
        assert_eq!(date_or_none("none").unwrap(), Cleared(None));
        assert!(date_or_none("2026-10-05").unwrap().0.is_some());
        assert!(date_or_none("never").is_err());
    }
}
