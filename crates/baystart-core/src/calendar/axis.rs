//! The shop's working days as integers, counted from the as-of date.

use jiff::civil::Date;

use super::{
    WorkCalendar,
    days::{add_days, days_between},
};

/// Calendar days after the as-of date that a forecast looks ahead; what lies beyond is "no date".
pub const HORIZON_DAYS: u32 = 730;

/// Working days from the as-of date to the horizon: index 0 is the first working day on or after
/// the as-of date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DayAxis {
    as_of: Date,
    dates: Vec<Date>,
    /// For each calendar day since the as-of date, the index of the first working day on or after
    /// it; days after the last working day have no entry.
    index_by_day: Vec<usize>,
}

impl DayAxis {
    /// The axis over [`HORIZON_DAYS`] calendar days; empty if no working day lies in them.
    #[must_use]
    pub fn new(calendar: &WorkCalendar, as_of: Date) -> Self {
        Self::with_horizon(calendar, as_of, HORIZON_DAYS)
    }

    /// The axis from `as_of` to `as_of + horizon_days` calendar days, both included.
    #[must_use]
    pub fn with_horizon(calendar: &WorkCalendar, as_of: Date, horizon_days: u32) -> Self {
        let mut dates = Vec::new();
        let mut index_by_day = Vec::new();
        for offset in 0..=i64::from(horizon_days) {
            let Some(date) = add_days(as_of, offset) else {
                break;
            };
            if calendar.is_working(date) {
                let days_so_far = usize::try_from(offset + 1).unwrap_or(0);
                index_by_day.resize(days_so_far, dates.len());
                dates.push(date);
            }
        }
        Self { as_of, dates, index_by_day }
    }

    /// The date at whose start the forecast speaks.
    #[must_use]
    pub fn as_of(&self) -> Date {
        self.as_of
    }

    /// Number of working days on the axis.
    #[must_use]
    pub fn len(&self) -> usize {
        self.dates.len()
    }

    /// Whether no working day lies within the horizon.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.dates.is_empty()
    }

    /// The working days in order.
    #[must_use]
    pub fn dates(&self) -> &[Date] {
        &self.dates
    }

    /// The date of an index, or `None` past the horizon.
    #[must_use]
    pub fn date(&self, index: usize) -> Option<Date> {
        self.dates.get(index).copied()
    }

    /// Index of the first working day on or after `date`: 0 for a past date, `None` past the horizon.
    #[must_use]
    pub fn index_of(&self, date: Date) -> Option<usize> {
        let offset = days_between(self.as_of, date).max(0);
        self.index_by_day.get(usize::try_from(offset).ok()?).copied()
    }
}
