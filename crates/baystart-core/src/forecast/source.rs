//! One uncertain arrival that a build waits for.

use thiserror::Error;

use super::first_reaching;

/// Rounding that a distribution function may carry before it is refused.
const CDF_TOLERANCE: f64 = 1e-9;

/// Values that are no distribution function.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SourceError {
    /// A value outside 0 to 1, or not a number.
    #[error("the arrival probability of day {day} is {value}; it must lie between 0 and 1")]
    Value {
        /// Index on the axis.
        day: usize,
        /// The value as given.
        value: f64,
    },
    /// A value below the one before it.
    #[error(
        "the arrival probability falls from {before} to {value} on day {day}; it must not fall"
    )]
    Falls {
        /// Index on the axis.
        day: usize,
        /// The value before.
        before: f64,
        /// The value as given.
        value: f64,
    },
}

/// A source: an arrival on the axis of working days, and how long after the start it is needed.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    offset_days: u32,
    group: Option<u32>,
    cdf: Vec<f64>,
}

impl Source {
    /// A source needed `offset_days` working days after the start, whose arrival by axis index i has
    /// probability `cdf[i]`; what the last value lacks of 1 has no date. Sources of the same `group`
    /// (a supplier) may share a cause of delay; `None` shares with nobody.
    ///
    /// # Errors
    /// [`SourceError`] if the values leave 0 to 1 or fall, by more than rounding (1e-9).
    pub fn new(
        offset_days: u32,
        group: Option<u32>,
        mut cdf: Vec<f64>,
    ) -> Result<Self, SourceError> {
        let mut before = 0.0_f64;
        for (day, value) in cdf.iter_mut().enumerate() {
            if !(-CDF_TOLERANCE..=1.0 + CDF_TOLERANCE).contains(value) {
                return Err(SourceError::Value { day, value: *value });
            }
            if *value < before - CDF_TOLERANCE {
                return Err(SourceError::Falls { day, before, value: *value });
            }
            *value = value.clamp(before, 1.0);
            before = *value;
        }
        Ok(Self { offset_days, group, cdf })
    }

    /// Working days after the start at which the source is needed.
    #[must_use]
    pub fn offset_days(&self) -> u32 {
        self.offset_days
    }

    /// The supplier whose common cause it shares.
    #[must_use]
    pub fn group(&self) -> Option<u32> {
        self.group
    }

    /// P(arrived by axis index i).
    #[must_use]
    pub fn cdf(&self) -> &[f64] {
        &self.cdf
    }

    /// P(here when needed, if the build starts at axis index `start`): F(start + offset), which past
    /// the end of the axis stays at its last value.
    #[must_use]
    pub fn here_when_needed(&self, start: usize) -> f64 {
        let offset = usize::try_from(self.offset_days).unwrap_or(usize::MAX);
        self.cdf.get(start.saturating_add(offset)).or(self.cdf.last()).copied().unwrap_or(0.0)
    }

    /// The first axis index by which it has arrived with probability `p`, or `None`.
    #[must_use]
    pub fn arrival_quantile(&self, p: f64) -> Option<usize> {
        first_reaching(&self.cdf, p)
    }
}
