//! A waiting time in whole days, kept as hazards.

use thiserror::Error;

/// Days of the grid of a law that is computed from a formula: three years.
const GRID_DAYS_MIN: u32 = 1_095;

/// Hazards that do not make a proper law.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LawError {
    /// A hazard outside 0 to 1, or not a number.
    #[error("the hazard of day {day} is {hazard}; it must lie between 0 and 1")]
    Hazard {
        /// Day of the grid, or its length for the tail.
        day: usize,
        /// The hazard as given.
        hazard: f64,
    },
    /// The tail hazard is 0, so that the event might never come.
    #[error("the tail hazard is 0; it must be above 0, so that every wait ends")]
    EndlessTail,
}

/// The law of the day T = 0, 1, 2, ... on which a wait ends.
///
/// The hazard h(t) is P(T = t | T >= t). Past the grid the tail hazard goes on for ever; it is
/// above 0, so the law is proper and can be conditioned on any age.
#[derive(Debug, Clone, PartialEq)]
pub struct DayLaw {
    hazards: Vec<f64>,
    tail_hazard: f64,
}

impl DayLaw {
    /// A law from the hazards of days 0, 1, ... and the hazard of every later day.
    ///
    /// # Errors
    /// [`LawError`] if a hazard is not within 0 to 1 or the tail hazard is 0.
    pub fn from_hazards(hazards: Vec<f64>, tail_hazard: f64) -> Result<Self, LawError> {
        for (day, hazard) in hazards.iter().chain([&tail_hazard]).enumerate() {
            if !(0.0..=1.0).contains(hazard) {
                return Err(LawError::Hazard { day, hazard: *hazard });
            }
        }
        if tail_hazard == 0.0 {
            return Err(LawError::EndlessTail);
        }
        Ok(Self { hazards, tail_hazard })
    }

    /// A law from hazards that an estimator made: clamped to 0 to 1, a tail hazard above 0.
    pub(super) fn proper(mut hazards: Vec<f64>, tail_hazard: f64) -> Self {
        for hazard in &mut hazards {
            *hazard = if hazard.is_nan() { 0.0 } else { hazard.clamp(0.0, 1.0) };
        }
        Self { hazards, tail_hazard: tail_hazard.clamp(f64::MIN_POSITIVE, 1.0) }
    }

    /// Days of the grid; every later day has the tail hazard.
    #[must_use]
    pub fn grid_days(&self) -> usize {
        self.hazards.len()
    }

    /// The log-logistic law on whole days whose median is `median_days`.
    ///
    /// T is the log-logistic time X rounded to the nearest day, and the median of X is `median_days`
    /// (half a day for 0): `F(t) = 1 / (1 + ((t + 1/2) / median_days)^-shape)`. So the median of T
    /// is the named day too, and stays there for a young order although no arrival so far shifts
    /// the law a little. The quantile p of X is (p / (1 - p))^(1 / shape) times the median. A shape
    /// of 0 is taken as 1.
    #[must_use]
    pub fn log_logistic(median_days: u32, shape: u32) -> Self {
        let exponent = i32::try_from(shape.clamp(1, 64)).unwrap_or(1);
        let scale = f64::from(median_days).max(0.5);
        let grid_days = GRID_DAYS_MIN.max(median_days.saturating_mul(4));
        let mut hazards = Vec::new();
        // The odds F / (1 - F) are x^shape; a hazard from odds has no difference of two tiny tails.
        let mut odds_before = 0.0;
        for day in 0..grid_days {
            let odds = ((f64::from(day) + 0.5) / scale).powi(exponent);
            hazards.push((odds - odds_before) / (1.0 + odds));
            odds_before = odds;
        }
        let tail_hazard = hazards.last().copied().unwrap_or(1.0);
        Self { hazards, tail_hazard }
    }

    /// P(T = day | T >= day).
    #[must_use]
    pub fn hazard(&self, day: usize) -> f64 {
        self.hazards.get(day).copied().unwrap_or(self.tail_hazard)
    }

    /// The cumulative hazard of the days before `age_days`: the sum of -ln(1 - h), which is -ln P(T >= age_days);
    /// a day that leaves nobody counts as leaving one of a billion.
    #[must_use]
    pub fn hazard_before(&self, age_days: usize) -> f64 {
        (0..age_days).map(|day| -(1.0 - self.hazard(day)).max(1e-9).ln()).sum()
    }

    /// P(T <= t | T >= age_days) for t = age_days, age_days + 1, ..., `days` values.
    ///
    /// Computed as 1 - prod (1 - h(u)) over u = age_days..=t, never as a ratio of two tiny tails, so
    /// it holds at any age.
    #[must_use]
    pub fn conditional(&self, age_days: usize, days: usize) -> Vec<f64> {
        let mut cdf = Vec::with_capacity(days);
        let mut still_waiting = 1.0;
        for step in 0..days {
            still_waiting *= 1.0 - self.hazard(age_days.saturating_add(step));
            cdf.push(1.0 - still_waiting);
        }
        cdf
    }
}
