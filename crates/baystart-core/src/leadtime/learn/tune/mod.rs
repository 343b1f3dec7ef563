//! The settings choose themselves: which half-life to believe, and what lines placed together say of
//! each other (design.md, section 5).
//!
//! Every 28 days, at *landmarks* on fixed dates, each expert says of some open lines how likely they
//! are to be here by 28, 56, ... days from then. At a later landmark it is known which of them came.
//! The experts' weights are those that would have forecast best, drawn towards equal ones, so that a
//! short past moves little.

mod power;
mod rows;
mod spread;
mod walk;
mod weights;

#[cfg(test)]
mod spread_tests;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{BATCH_FACTS, Beside, Drift, LearnSettings};
use crate::{
    calendar::add_days,
    leadtime::{DayLaw, history::History},
};

pub use walk::Walk;

/// Days from one landmark to the next; landmarks fall on day numbers (since 1970-01-01) that it divides.
pub const LANDMARK_DAYS: i64 = 28;
/// Landmarks that are looked back on: three years.
pub const LANDMARKS: i64 = 39;

/// What was learned of the settings themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct Tuning {
    /// The landmark at which it was learned; `None`: the settings hold, nothing was tuned.
    pub landmark: Option<Date>,
    /// Weight of each expert for lead times, as [`super::HALF_LIVES_DAYS`]; they sum to 1.
    pub lead: Vec<f64>,
    /// For slips of promises.
    pub slips: Vec<f64>,
    /// For transit times.
    pub transit: Vec<f64>,
    /// Growth of all lead times, as a logarithm per year; 0 unless the shop's last year differs from
    /// the years before by more than chance.
    pub growth: f64,
    /// The suppliers whose last year differs from the years before by more than chance and more than
    /// that growth, by their keys. It is told; it moves no weight, for the worlds lost by that.
    pub drifting: BTreeMap<u32, Drift>,
    /// The factor on all hazards of lead times, by how forecasts of newly placed lines fared.
    pub pace: f64,
    /// By how much learned lead times are narrower than the experts say: the hazard of a line is multiplied by
    /// H^narrowing, H the cumulative hazard of its law from its placing to its age (.05 to 5); 0: not at all.
    pub narrowing: f64,
    /// Coefficients of [`Beside::facts`].
    pub batches: [f64; BATCH_FACTS],
    /// Forecasts of lead times that were judged.
    pub judged: usize,
}

impl Tuning {
    /// Equal weights, and lines placed together say nothing of each other.
    #[must_use]
    pub fn none(settings: &LearnSettings) -> Self {
        let experts = settings.half_lives().len();
        let equal = vec![1.0 / experts as f64; experts];
        Self {
            landmark: None,
            lead: equal.clone(),
            slips: equal.clone(),
            transit: equal,
            growth: 0.0,
            drifting: BTreeMap::new(),
            pace: 1.0,
            narrowing: 0.0,
            batches: [0.0; BATCH_FACTS],
            judged: 0,
        }
    }

    /// A lead time's law as its pace and its narrowing move it.
    #[must_use]
    pub(super) fn moved(&self, law: &DayLaw) -> DayLaw {
        spread::Spread { pace: self.pace, narrowing: self.narrowing }.moved(law)
    }

    /// The power r to which a line's chances of not coming are raised, by those placed with it:
    /// 1 - h' = (1 - h)^r, r = exp(clip(x'beta, +-1.5)).
    #[must_use]
    pub fn power(&self, beside: &Beside) -> f64 {
        power::power(&self.batches, &beside.facts())
    }
}

/// What the past forecasts teach, by what was known at the last landmark up to `as_of`.
#[must_use]
pub fn tune(history: &History, as_of: Date, settings: &LearnSettings) -> Tuning {
    if !settings.tuned || history.lines.is_empty() {
        return Tuning::none(settings);
    }
    let landmark = last_landmark(as_of);
    let mut walk = Walk::new(history, settings, landmark, landmark);
    walk.to(landmark).tuning().clone()
}

/// The last landmark up to `as_of`.
#[must_use]
pub fn last_landmark(as_of: Date) -> Date {
    let over = crate::calendar::day_number(as_of).rem_euclid(LANDMARK_DAYS);
    add_days(as_of, -over).unwrap_or(as_of)
}
