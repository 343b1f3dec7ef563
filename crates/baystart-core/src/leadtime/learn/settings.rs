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
}

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
            half_life_days: Some(settings.half_life_days.into()),
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
        }
    }

    /// Weight of an order placed `age_days` before the as-of date with a supplier that drifts or not.
    pub(super) fn weight(&self, age_days: i64, drifts: bool) -> f64 {
        let half_life = match self.drift_half_life_days {
            Some(shorter) if drifts => Some(shorter),
            _ => self.half_life_days,
        };
        match half_life {
            Some(half_life) if half_life > 0.0 => (-(age_days.max(0) as f64) / half_life).exp2(),
            _ => 1.0,
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
