//! Closures that also close the weekdays on which nothing is received.

use jiff::civil::Date;

use super::DayCount;
use crate::calendar::{Closures, add_days};

/// The closures by which waiting is counted, from `first` to `last`.
pub(super) fn counted_closures(
    closures: &Closures,
    day_count: DayCount,
    first: Date,
    last: Date,
) -> Closures {
    let DayCount::Receiving(weekly) = day_count else {
        return closures.clone();
    };
    let mut closed = Vec::new();
    let mut day = Some(first);
    while let Some(date) = day.filter(|date| *date <= last) {
        let weekday = usize::from(date.weekday().to_monday_zero_offset().unsigned_abs());
        let received = weekly.get(weekday).copied().unwrap_or(true);
        if !received || closures.is_closed(date) {
            closed.push((date, date));
        }
        day = add_days(date, 1);
    }
    // Single days cannot be reversed, so this never fails.
    Closures::new(closed).unwrap_or_default()
}
