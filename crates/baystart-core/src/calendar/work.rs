//! The shop's own working days.

use std::collections::BTreeSet;

use jiff::civil::Date;

use super::{
    CalendarError,
    days::{add_days, days_between, weekday_index},
};

/// Longest run of closed days that a search crosses before it gives up: ten years.
pub const SEARCH_DAYS_MAX: u32 = 3_653;

/// Largest number of working days that one addition may ask for: about a century.
pub const WORKING_DAYS_MAX: u32 = 26_000;

/// A weekly pattern (Monday first) less single closed days.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorkCalendar {
    weekly: [bool; 7],
    closed: BTreeSet<Date>,
}

impl WorkCalendar {
    /// A calendar from the weekdays that are worked, Monday first, and the days that are closed.
    ///
    /// # Errors
    /// [`CalendarError::NoWorkingDay`] if no weekday is worked.
    pub fn new(weekly: [bool; 7], closed: BTreeSet<Date>) -> Result<Self, CalendarError> {
        if !weekly.contains(&true) {
            return Err(CalendarError::NoWorkingDay);
        }
        Ok(Self { weekly, closed })
    }

    /// Monday to Friday, nothing closed.
    #[must_use]
    pub fn monday_to_friday() -> Self {
        Self { weekly: [true, true, true, true, true, false, false], closed: BTreeSet::new() }
    }

    /// The weekdays that are worked, Monday first.
    #[must_use]
    pub fn weekly(&self) -> [bool; 7] {
        self.weekly
    }

    /// The closed days.
    #[must_use]
    pub fn closed(&self) -> &BTreeSet<Date> {
        &self.closed
    }

    /// Whether the shop works on `date`.
    #[must_use]
    pub fn is_working(&self, date: Date) -> bool {
        self.worked_weekday(date) && !self.closed.contains(&date)
    }

    fn worked_weekday(&self, date: Date) -> bool {
        self.weekly.get(weekday_index(date)).copied().unwrap_or(false)
    }

    fn roll(&self, date: Date, step: i64) -> Option<Date> {
        let mut day = date;
        for _ in 0..=SEARCH_DAYS_MAX {
            if self.is_working(day) {
                return Some(day);
            }
            day = add_days(day, step)?;
        }
        None
    }

    /// The first working day on or after `date`; `None` if none lies within [`SEARCH_DAYS_MAX`].
    #[must_use]
    pub fn roll_forward(&self, date: Date) -> Option<Date> {
        self.roll(date, 1)
    }

    /// The last working day on or before `date`; `None` if none lies within [`SEARCH_DAYS_MAX`].
    #[must_use]
    pub fn roll_back(&self, date: Date) -> Option<Date> {
        self.roll(date, -1)
    }

    /// The first working day strictly after `date`; `None` as for [`Self::roll_forward`].
    #[must_use]
    pub fn next_working_day(&self, date: Date) -> Option<Date> {
        self.roll_forward(add_days(date, 1)?)
    }

    /// `date` rolled forward, then moved by `n` working days, backwards when `n` is negative.
    ///
    /// `None` when `n` is beyond ±[`WORKING_DAYS_MAX`] or no working day is found in reach.
    #[must_use]
    pub fn add_working_days(&self, date: Date, n: i32) -> Option<Date> {
        if n.unsigned_abs() > WORKING_DAYS_MAX {
            return None;
        }
        let step = i64::from(n.signum());
        let mut day = self.roll_forward(date)?;
        for _ in 0..n.unsigned_abs() {
            day = self.roll(add_days(day, step)?, step)?;
        }
        Some(day)
    }

    /// Working days `d` with `from <= d < to`; when `to` is earlier, minus the count of the swapped
    /// range.
    #[must_use]
    pub fn working_days_between(&self, from: Date, to: Date) -> i64 {
        if to < from {
            return -self.working_days_between(to, from);
        }
        let days = days_between(from, to);
        let worked_per_week = self.weekly.iter().filter(|worked| **worked).count();
        let mut count = days / 7 * i64::try_from(worked_per_week).unwrap_or(0);
        let first_weekday = weekday_index(from);
        let rest = usize::try_from(days % 7).unwrap_or(0);
        for weekday in self.weekly.iter().cycle().skip(first_weekday).take(rest) {
            count += i64::from(*weekday);
        }
        for closed in self.closed.range(from..to) {
            count -= i64::from(self.worked_weekday(*closed));
        }
        count
    }
}
