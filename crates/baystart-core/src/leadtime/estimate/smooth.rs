//! Events spread over the ages about their own.
//!
//! Few events make a jagged law, and a hazard that is 0 between two receipts says that nothing can
//! come there. The width is in proportion to the age: an event at age a spreads over ages b with
//! weight exp(-(ln((b + 1/2) / (a + 1/2)) / .1)^2 / 2) / (b + 1/2), normalised; in ratio to the quote
//! the same on the logarithm of the ratio (design.md, section 5). Slips are not smoothed: their
//! origin is no age.

use super::counts::DAYS_MAX;

/// Standard deviation of the logarithm of the age.
const WIDTH: f64 = 0.1;
/// Standard deviations after which nothing is spread: 6e-5 of the weight.
const REACH: f64 = 4.0;

/// On what scale places lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Whole days of age.
    Days,
    /// Bins of the logarithm of a ratio, so many to a doubling and so many in all.
    Bins {
        /// To a doubling.
        per_doubling: u16,
        /// In all.
        count: u16,
    },
}

/// How evidence is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seeing {
    /// On what scale it lies.
    pub scale: Scale,
    /// Whether events are spread over the ages about their own.
    pub smoothed: bool,
    /// The logarithm by which waits have grown since: 0, not at all.
    pub growth: f64,
}

impl Seeing {
    /// As it is.
    pub const PLAIN: Self = Self { scale: Scale::Days, smoothed: false, growth: 0.0 };

    /// Where a place lies once waits have grown.
    #[must_use]
    pub(super) fn grown(&self, place: usize) -> usize {
        match self.scale {
            Scale::Days => {
                let day = (place as f64 * self.growth.exp()).round();
                // Not negative, and finite for any growth that is looked for.
                (day as usize).min(DAYS_MAX as usize)
            }
            Scale::Bins { per_doubling, count } => {
                let bins = self.growth / std::f64::consts::LN_2 * f64::from(per_doubling);
                let moved = place as i64 + bins.round() as i64;
                usize::try_from(moved).unwrap_or(0).min(usize::from(count).saturating_sub(1))
            }
        }
    }
}

/// The first place that an event at `at` spreads to, and the shares from there on; they sum to 1.
#[must_use]
pub(super) fn kernel(at: usize, scale: Scale) -> (usize, Vec<f64>) {
    let (first, mut shares) = match scale {
        Scale::Days => {
            let middle = at as f64 + 0.5;
            let reach = (REACH * WIDTH).exp();
            // Both are at least 0 and finite.
            let first = (middle / reach - 0.5).ceil().max(0.0) as usize;
            let last = ((middle * reach - 0.5).floor() as usize).clamp(at, DAYS_MAX as usize);
            let share = |day: usize| {
                let day = day as f64 + 0.5;
                let from = (day / middle).ln() / WIDTH;
                (-0.5 * from * from).exp() / day
            };
            (first.min(at), (first.min(at)..=last.max(at)).map(share).collect::<Vec<f64>>())
        }
        Scale::Bins { per_doubling, count } => {
            let bins = WIDTH * f64::from(per_doubling) / std::f64::consts::LN_2;
            let reach = (REACH * bins).floor() as usize;
            let first = at.saturating_sub(reach);
            let last = (at + reach).min(usize::from(count).saturating_sub(1)).max(at);
            let share = |bin: usize| {
                let from = (bin as f64 - at as f64) / bins;
                (-0.5 * from * from).exp()
            };
            (first, (first..=last).map(share).collect())
        }
    };
    let sum: f64 = shares.iter().sum();
    for share in &mut shares {
        *share /= sum;
    }
    (first, shares)
}
