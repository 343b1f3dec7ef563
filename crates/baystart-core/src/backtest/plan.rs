//! Which days are forecast, and how far.

use jiff::civil::Date;

use crate::calendar::add_days;
use crate::forecast::RHO_DEFAULT;

/// The confidence levels that are scored.
pub const LEVELS: [f64; 3] = [0.5, 0.8, 0.9];
/// Bands of the age of an open order.
pub const AGE_BANDS: usize = 5;
/// Longest age in calendar days of all bands but the last.
pub const AGE_BAND_ENDS: [i64; AGE_BANDS - 1] = [7, 30, 60, 120];
/// How many open orders make a build.
pub const BUILD_SIZES: [usize; 4] = [3, 5, 10, 20];

/// The band of an order that has waited `age_days` calendar days.
#[must_use]
pub fn age_band(age_days: i64) -> usize {
    AGE_BAND_ENDS.iter().filter(|end| age_days > **end).count()
}

/// A walk over a history.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BacktestPlan {
    /// The first forecast day.
    pub first: Date,
    /// The last one; what lies less than the horizon before `end` is left out, since there only the
    /// quick orders have come.
    pub last: Date,
    /// Calendar days from one forecast day to the next, at least 1.
    pub step_days: u32,
    /// Outcomes are those known at the start of this day.
    pub end: Date,
    /// Calendar days that are scored from each forecast day.
    pub horizon_days: u32,
    /// Most orders and most builds of each size forecast on one day.
    pub forecasts_per_day_max: usize,
    /// Whether the baselines are scored too.
    pub baselines: bool,
    /// Whether builds are forecast too.
    pub builds: bool,
    /// Correlation of the common cause within a supplier, for builds.
    pub rho: f64,
}

impl BacktestPlan {
    /// Monthly forecasts over all days from `first` whose horizon of a year ends by `end`.
    #[must_use]
    pub fn over(first: Date, end: Date) -> Self {
        Self {
            first,
            last: end,
            step_days: 28,
            end,
            horizon_days: 365,
            forecasts_per_day_max: 10_000,
            baselines: true,
            builds: true,
            rho: RHO_DEFAULT,
        }
    }

    /// The days that are forecast; none where the horizon does not end before `end`.
    #[must_use]
    pub fn forecast_days(&self) -> Vec<Date> {
        let Some(horizon_ends) = add_days(self.end, -i64::from(self.horizon_days) - 1) else {
            return Vec::new();
        };
        let mut days = Vec::new();
        let mut day = Some(self.first);
        while let Some(date) = day.filter(|date| *date <= self.last.min(horizon_ends)) {
            days.push(date);
            day = add_days(date, i64::from(self.step_days.max(1)));
        }
        days
    }

    /// Days that are scored: 0 to the horizon.
    pub(super) fn days(&self) -> usize {
        usize::try_from(self.horizon_days).unwrap_or(0) + 1
    }
}
