//! Civil dates as whole-day counts, so that loops over days are integer loops.

use jiff::{SignedDuration, civil::Date};

const EPOCH: Date = Date::constant(1970, 1, 1);

/// Calendar days from `from` to `to`; negative when `to` is earlier.
#[must_use]
pub fn days_between(from: Date, to: Date) -> i64 {
    to.duration_since(from).as_hours() / 24
}

/// `date` moved by `days` calendar days, or `None` past the years that a date can hold.
#[must_use]
pub fn add_days(date: Date, days: i64) -> Option<Date> {
    let hours = days.checked_mul(24)?;
    let span = SignedDuration::try_from_hours(hours)?;
    date.checked_add(span).ok()
}

/// Days since 1970-01-01.
pub(crate) fn day_number(date: Date) -> i64 {
    days_between(EPOCH, date)
}

/// The date of a day number, or `None` past the years that a date can hold.
pub(crate) fn from_day_number(number: i64) -> Option<Date> {
    add_days(EPOCH, number)
}

/// 0 for Monday to 6 for Sunday; 1970-01-01 was a Thursday.
pub(crate) fn weekday_index(date: Date) -> usize {
    usize::from(date.weekday().to_monday_zero_offset().unsigned_abs())
}
