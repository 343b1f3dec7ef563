//! Week numbers as the trade quotes them.

use jiff::civil::Date;

/// The ISO 8601 week date, such as `2026-W53-4`: week-based year, week, weekday with Monday 1.
#[must_use]
pub fn iso_week_label(date: Date) -> String {
    let week = date.iso_week_date();
    format!("{:04}-W{:02}-{}", week.year(), week.week(), week.weekday().to_monday_one_offset())
}
