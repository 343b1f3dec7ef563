//! Days as people type them. In full as ISO 8601 has them, or from the shop's today: `today`, `fri`,
//! `+7`, `in 2 weeks`, `3 days ago`; and `14/12` where the shop says that days come first.
//!
//! What today is, the server knows. So the command line is read twice where it speaks of today: see
//! [`asked_for_today`] and [`with_today`].

use super::relative::relative;
use baystart_proto::v1;
use jiff::civil::Date;
use std::cell::Cell;

/// What the shop says of days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Today {
    /// Today in the shop.
    pub date: Date,
    /// `14/12` is 14 December.
    pub day_first: bool,
}

/// Which day of that name is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// Today or the next.
    Next,
    /// Today or the last.
    Last,
}

thread_local! {
    // Parsers of arguments are plain functions: what they need to know stands beside them, for as long
    // as one command line is read.
    static TODAY: Cell<Option<Today>> = const { Cell::new(None) };
    static ASKED: Cell<bool> = const { Cell::new(false) };
}

/// Whether a day was read, since the last call, that only the shop can tell.
#[must_use]
pub fn asked_for_today() -> bool {
    ASKED.replace(false)
}

/// Reads something with what the shop says of days.
pub fn with_today<T>(today: Today, read: impl FnOnce() -> T) -> T {
    TODAY.set(Some(today));
    let value = read();
    TODAY.set(None);
    value
}

/// Reads a day; one of the week or without a year is the next of that name, today included.
///
/// # Errors
/// The text names no day, or there is no such day.
pub fn date(text: &str) -> Result<v1::Date, String> {
    read(text, Side::Next)
}

/// Reads a day on which something happened: one of the week or without a year is the last of that
/// name, today included.
///
/// # Errors
/// As [`date`].
pub fn past(text: &str) -> Result<v1::Date, String> {
    read(text, Side::Last)
}

fn read(text: &str, side: Side) -> Result<v1::Date, String> {
    if let Some(full) = full(text) {
        return full.map(wire);
    }
    let today = TODAY.get();
    // Until the shop has told, any day will do to see whether the text names one.
    let stand_in = Today { date: jiff::civil::date(2000, 1, 1), day_first: true };
    let known = today.unwrap_or(stand_in);
    if let Some(day) = relative(text, known.date, side) {
        ASKED.set(true);
        return day.map(wire).ok_or_else(no_such_day);
    }
    let Some(day) = day_first(text, known.date, side) else { return Err(not_a_day(text)) };
    ASKED.set(true);
    match today {
        Some(Today { day_first: false, .. }) => Err(format!(
            "{text} may be a day of two months; write year-month-day, or let days come first in this shop: \
             baystart shop set --dates day-first"
        )),
        _ => day.map(wire).ok_or_else(no_such_day),
    }
}

/// A full date; None: the text has another form.
fn full(text: &str) -> Option<Result<Date, String>> {
    let fields: Vec<&str> = text.split('-').collect();
    let [year, month, day] = fields.as_slice() else { return None };
    let digits = |field: &str, count: usize| {
        field.len() == count && field.bytes().all(|byte| byte.is_ascii_digit())
    };
    if !digits(year, 4) || !digits(month, 2) || !digits(day, 2) {
        return None;
    }
    let (year, month, day) = (year.parse().ok()?, month.parse().ok()?, day.parse().ok()?);
    Some(Date::new(year, month, day).map_err(|_| no_such_day()))
}

/// `14/12`, `14.12.` or `14/12/2026`: the day, if there is such a day; None: another form.
fn day_first(text: &str, today: Date, side: Side) -> Option<Option<Date>> {
    let fields: Vec<&str> = text.trim_end_matches('.').split(['/', '.']).collect();
    let number = |field: &str, lengths: &[usize]| {
        let fits =
            lengths.contains(&field.len()) && field.bytes().all(|byte| byte.is_ascii_digit());
        fits.then(|| field.parse::<i16>().ok()).flatten()
    };
    let (day, month) = (number(fields.first()?, &[1, 2])?, number(fields.get(1)?, &[1, 2])?);
    let of_year =
        |year: i16| Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok();
    match fields.as_slice() {
        [_, _] => {
            let year = today.year();
            let near = [year - 1, year, year + 1, year + 4].into_iter().filter_map(of_year);
            Some(match side {
                Side::Next => near.filter(|day| *day >= today).min(),
                Side::Last => near.filter(|day| *day <= today).max(),
            })
        }
        [_, _, year] => {
            let century = if year.len() == 2 { 2000 } else { 0 };
            Some(of_year(century + number(year, &[2, 4])?))
        }
        _ => None,
    }
}

fn wire(date: Date) -> v1::Date {
    v1::Date { year: date.year().into(), month: date.month().into(), day: date.day().into() }
}

fn no_such_day() -> String {
    "there is no such day; write year-month-day".to_owned()
}

fn not_a_day(text: &str) -> String {
    let partial = text.contains(|c: char| c.is_ascii_digit()) && text.contains('-');
    let what = if partial { "is not a full date" } else { "names no day" };
    format!(
        "{what}; write year-month-day, for example 2026-10-05, or today, fri, +7, \"in 2 weeks\""
    )
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
    fn full_dates() {
        assert_eq!(date("2026-10-05").unwrap(), v1::Date { year: 2026, month: 10, day: 5 });
        assert_eq!(date("2028-02-29").unwrap().day, 29);
        assert!(!asked_for_today());
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
            assert!(date(partial).is_err(), "{partial}");
        }
        for impossible in ["2026-02-30", "2027-02-29", "2026-13-01", "2026-00-10"] {
            assert!(date(impossible).unwrap_err().contains("no such day"), "{impossible}");
        }
    }

    fn on(text: &str, side: Side, day_first: bool) -> Result<String, String> {
        // A Wednesday.
        let today = Today { date: jiff::civil::date(2026, 9, 16), day_first };
        let day = with_today(today, || read(text, side))?;
        assert!(asked_for_today(), "{text}");
        Ok(format!("{:04}-{:02}-{:02}", day.year, day.month, day.day))
    }

    #[test]
    fn days_from_today() {
        for (text, next, last) in [
            ("today", "2026-09-16", "2026-09-16"),
            ("fri", "2026-09-18", "2026-09-11"),
            ("Wednesday", "2026-09-16", "2026-09-16"),
            ("+7", "2026-09-23", "2026-09-23"),
            ("in 2 weeks", "2026-09-30", "2026-09-30"),
        ] {
            assert_eq!(on(text, Side::Next, false).unwrap(), next, "{text}");
            assert_eq!(on(text, Side::Last, false).unwrap(), last, "{text}");
        }
    }

    #[test]
    fn days_first_where_the_shop_says_so() {
        assert_eq!(on("14/12", Side::Next, true).unwrap(), "2026-12-14");
        assert_eq!(on("1.9.", Side::Next, true).unwrap(), "2027-09-01");
        assert_eq!(on("1/9", Side::Last, true).unwrap(), "2026-09-01");
        assert_eq!(on("29/2", Side::Next, true).unwrap_err(), no_such_day());
        assert_eq!(on("14.12.27", Side::Next, true).unwrap(), "2027-12-14");
        assert_eq!(on("31/02/2026", Side::Next, true).unwrap_err(), no_such_day());
        assert!(on("14/12", Side::Next, false).unwrap_err().contains("--dates day-first"));
    }

    #[test]
    fn before_the_shop_has_told_the_form_is_judged() {
        for text in ["fri", "14/12", "+7"] {
            assert!(date(text).is_ok() && asked_for_today(), "{text}");
        }
        assert!(date("friday week").unwrap_err().contains("names no day"));
        assert!(!asked_for_today());
    }

    #[test]
    fn none_takes_away() {
        assert_eq!(date_or_none("none").unwrap(), Cleared(None));
        assert!(date_or_none("2026-10-05").unwrap().0.is_some());
        assert!(date_or_none("never").is_err());
    }
}
