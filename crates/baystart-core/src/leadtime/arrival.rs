//! An arrival's distribution over calendar days, and its way onto the axis of working days.

use jiff::civil::Date;

use super::DayLaw;
use crate::calendar::{Closures, DayAxis, add_days, days_between};

/// Tolerance of "reaches p": products of many factors may end a rounding error below it.
const QUANTILE_TOLERANCE: f64 = 1e-12;

/// P(arrived by the end of `as_of` + c calendar days), c = 0, 1, ... up to a horizon.
///
/// The last value may be below 1: what is missing has no date within the horizon.
#[derive(Debug, Clone, PartialEq)]
pub struct ArrivalLaw {
    as_of: Date,
    cdf: Vec<f64>,
}

impl ArrivalLaw {
    /// An arrival that is certain on `date`: today if `date` is past, no date if it lies beyond
    /// `horizon_days` calendar days.
    #[must_use]
    pub fn on_date(date: Date, as_of: Date, horizon_days: u32) -> Self {
        let arrives = days_between(as_of, date);
        let cdf =
            (0..=i64::from(horizon_days)).map(|c| f64::from(u8::from(c >= arrives))).collect();
        Self { as_of, cdf }
    }

    /// The law counted from `start` in days outside `closures`, given no arrival before `as_of`.
    ///
    /// Nothing arrives on a closed day. Day 0 is `start`, or the first open day if that is closed.
    pub(super) fn counted(
        law: &DayLaw,
        start: Date,
        closures: &Closures,
        as_of: Date,
        horizon_days: u32,
    ) -> Self {
        Self::counted_to_the(1.0, law, start, closures, as_of, horizon_days)
    }

    /// [`counted`](Self::counted) with each day's chance of not coming to a power above 0.
    pub(super) fn counted_to_the(
        power: f64,
        law: &DayLaw,
        start: Date,
        closures: &Closures,
        as_of: Date,
        horizon_days: u32,
    ) -> Self {
        let as_of_day = days_between(start, as_of);
        let horizon = as_of_day + i64::from(horizon_days);
        let day = OwnDays::new(closures, start);
        let age = day.elapsed(as_of_day - 1) + 1;
        let ages = usize::try_from(day.elapsed(horizon) - age + 1).unwrap_or(0);
        let mut given_age = law.conditional(usize::try_from(age).unwrap_or(0), ages);
        if power != 1.0 {
            // The product of (1 - h)^r is the product of (1 - h) to the r.
            for arrived in &mut given_age {
                *arrived = 1.0 - (1.0 - *arrived).powf(power);
            }
        }
        let mut cdf = Vec::new();
        for calendar_day in as_of_day..=horizon {
            // Before the first open day there is no entry, and nothing has arrived.
            let entry = usize::try_from(day.elapsed(calendar_day) - age).ok();
            cdf.push(entry.and_then(|at| given_age.get(at)).copied().unwrap_or(0.0));
        }
        Self { as_of, cdf }
    }

    /// The same arrival so many calendar days later; negative: sooner, today at the soonest.
    #[must_use]
    pub fn later(&self, days: i64) -> Self {
        let last = self.cdf.last().copied().unwrap_or(0.0);
        let mut cdf = Vec::with_capacity(self.cdf.len());
        for day in (0_i64..).take(self.cdf.len()) {
            cdf.push(match usize::try_from(day - days) {
                Ok(before) => self.cdf.get(before).copied().unwrap_or(last),
                Err(_) => 0.0,
            });
        }
        Self { as_of: self.as_of, cdf }
    }

    /// The date at whose start the law speaks.
    #[must_use]
    pub fn as_of(&self) -> Date {
        self.as_of
    }

    /// Values by calendar day since the as-of date, never falling.
    #[must_use]
    pub fn cdf(&self) -> &[f64] {
        &self.cdf
    }

    /// P(arrived by the end of `date`); 0 before the as-of date, the last value past the horizon.
    #[must_use]
    pub fn arrived_by(&self, date: Date) -> f64 {
        let Ok(offset) = usize::try_from(days_between(self.as_of, date)) else {
            return 0.0;
        };
        self.cdf.get(offset).or(self.cdf.last()).copied().unwrap_or(0.0)
    }

    /// The first date by which the arrival is at least `p` likely, or `None` within the horizon.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<Date> {
        let offset = self.cdf.partition_point(|arrived| *arrived < p - QUANTILE_TOLERANCE);
        if offset == self.cdf.len() {
            return None;
        }
        add_days(self.as_of, i64::try_from(offset).ok()?)
    }
}

/// Days since a start, closed days left out.
struct OwnDays<'a> {
    closures: &'a Closures,
    start: i64,
    first_open: i64,
}

impl<'a> OwnDays<'a> {
    fn new(closures: &'a Closures, start: Date) -> Self {
        let start = crate::calendar::day_number(start);
        Self { closures, start, first_open: closures.first_open_number(start) }
    }

    /// Own days used up by the end of the calendar day `start + calendar_day`; -1 before any open day.
    fn elapsed(&self, calendar_day: i64) -> i64 {
        let day = self.start + calendar_day;
        if day < self.first_open {
            return -1;
        }
        self.closures.open_days_between_numbers(self.start, day)
    }
}

/// The law on the shop's working days: P(usable by axis index i).
///
/// What arrives on a closed day of the shop counts on its next working day. What arrives after the
/// last working day of the axis is left out of the last value: it has no date.
#[must_use]
pub fn on_axis(law: &ArrivalLaw, axis: &DayAxis) -> Vec<f64> {
    axis.dates().iter().map(|date| law.arrived_by(*date)).collect()
}
