//! The settings of learning, with units and why.

use crate::book::model::{DayAxis, LearningSettings};
use crate::leadtime::estimate::Strength;

/// Which days count as waiting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DayCount {
    /// Every calendar day outside the supplier's closures.
    Calendar,
    /// Only the weekdays on which the shop receives (Monday first), outside the supplier's closures;
    /// quotes are shortened in proportion.
    Receiving([bool; 7]),
}

/// How history becomes laws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LearnSettings {
    /// Days after which an order, by its placed date, counts half; `None`: all count alike.
    pub half_life_days: Option<f64>,
    /// The shorter half-life, in days, of a supplier whose last year differs from the years before by
    /// more than chance and more than the shop's others; `None`: drift is not looked for.
    pub drift_half_life_days: Option<f64>,
    /// How strongly each level's parent holds against the level's own evidence.
    pub strength: Strength,
    /// An open line is stale when there was no news for so many days past the day it was last
    /// expected, and it is older than any order that its supplier ever delivered, in proportion to
    /// the expected wait; it then counts as open until its last news only.
    pub stale_after_days: u32,
    /// Longest notice, in calendar days from news to promise date, of the first two of the three
    /// bands in which promises are compared.
    pub notice_days: [u32; 2],
    /// Which days count.
    pub day_count: DayCount,
    /// Passes over every order that is still open. A trap, kept for the backtest to show: the quick
    /// orders close first.
    pub completed_only: bool,
    /// Whether the half-life is left to [experts](HALF_LIVES_DAYS) that are weighed by how well they
    /// forecast; else the two half-lives above hold.
    pub tuned: bool,
    /// Whether receipts are spread over the ages about their own.
    pub smoothed: bool,
}

/// The half-life of what is not tuned, such as the lengths of stages.
const HALF_LIFE_DAYS: u32 = 730;

/// Half-lives of the experts, in days: two months, half a year, a year and a half, four and a half.
pub const HALF_LIVES_DAYS: [f64; 4] = [60.0, 180.0, 540.0, 1_620.0];

impl Default for LearnSettings {
    fn default() -> Self {
        Self::of(&LearningSettings::default(), [true; 7])
    }
}

impl LearnSettings {
    /// A shop's choices; `working_days` (Monday first) count where it counts receiving days.
    #[must_use]
    pub fn of(settings: &LearningSettings, working_days: [bool; 7]) -> Self {
        Self {
            half_life_days: Some(settings.half_life_days.unwrap_or(HALF_LIFE_DAYS).into()),
            drift_half_life_days: Some(settings.drift_half_life_days.into()),
            strength: Strength {
                orders: settings.prior_strength,
                tail_exponent: settings.tail_exponent,
            },
            stale_after_days: settings.stale_after_days,
            notice_days: settings.notice_days,
            day_count: match settings.day_axis {
                DayAxis::Calendar => DayCount::Calendar,
                DayAxis::Receiving => DayCount::Receiving(working_days),
            },
            completed_only: false,
            tuned: settings.half_life_days.is_none(),
            smoothed: true,
        }
    }

    /// The experts' half-lives; `None`: the one that was set.
    pub(super) fn half_lives(&self) -> &'static [Option<f64>] {
        const TUNED: [Option<f64>; 4] = [
            Some(HALF_LIVES_DAYS[0]),
            Some(HALF_LIVES_DAYS[1]),
            Some(HALF_LIVES_DAYS[2]),
            Some(HALF_LIVES_DAYS[3]),
        ];
        if self.tuned { &TUNED } else { &[None] }
    }

    /// An expert's half-life for the orders of a supplier that drifts or not.
    pub(super) fn half_life_of(&self, expert: Option<f64>, drifts: bool) -> Option<f64> {
        match (expert, self.drift_half_life_days) {
            (Some(half_life), _) => Some(half_life),
            (None, Some(shorter)) if drifts => Some(shorter),
            (None, _) => self.half_life_days,
        }
    }

    /// Which notice band a promise falls in: 0, 1 or 2.
    pub(super) fn band(&self, notice_days: i64) -> usize {
        self.notice_days.iter().filter(|longest| notice_days > i64::from(**longest)).count()
    }

    /// A quote in calendar days as days that count.
    pub(super) fn counted_quote(&self, quoted_days: u32) -> u32 {
        match self.day_count {
            DayCount::Calendar => quoted_days,
            DayCount::Receiving(weekly) => {
                let worked = u32::try_from(weekly.iter().filter(|day| **day).count()).unwrap_or(7);
                (quoted_days.saturating_mul(worked) + 3) / 7
            }
        }
    }
}
