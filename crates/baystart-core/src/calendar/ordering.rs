//! The days on which the shop sends its orders.

use jiff::civil::Date;

use super::{SEARCH_DAYS_MAX, WorkCalendar, add_days, days::weekday_index};

/// The first working day on or after `date` that falls on one of `weekdays` (Monday first).
///
/// `None` if no weekday is an ordering day or none that is worked lies within [`SEARCH_DAYS_MAX`].
#[must_use]
pub fn next_ordering_day(date: Date, weekdays: [bool; 7], calendar: &WorkCalendar) -> Option<Date> {
    if !weekdays.contains(&true) {
        return None;
    }
    let mut day = date;
    for _ in 0..=SEARCH_DAYS_MAX {
        if weekdays.get(weekday_index(day)) == Some(&true) && calendar.is_working(day) {
            return Some(day);
        }
        day = add_days(day, 1)?;
    }
    None
}
