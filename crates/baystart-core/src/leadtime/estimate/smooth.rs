//! Events spread over the ages about their own.
//!
//! Few events make a jagged law, and a hazard that is 0 between two receipts says that nothing can
//! come there. The width is in proportion to the age: an event at age a spreads over ages b with
//! weight exp(-(ln((b + 1/2) / (a + 1/2)) / .1)^2 / 2) / (b + 1/2), normalised; in ratio to the quote
//! the same on the logarithm of the ratio (design.md, section 5). Slips are not smoothed: their
//! origin is no age.

use super::counts::DAYS_MAX;

/// Largest standard deviation of the logarithm of the age.
const WIDTH_MAX: f64 = 0.1;
/// Effective events from which their own spread is believed.
const FEW: f64 = 3.0;
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

impl Scale {
    /// Whether so many places lie on either side of one.
    pub(super) fn is_within(self, at: usize, reach: usize) -> bool {
        match self {
            Self::Days => false,
            Self::Bins { count, .. } => at >= reach && at + reach < usize::from(count),
        }
    }

    /// The logarithm of the age at a place, up to a constant.
    fn log_age(self, place: usize) -> f64 {
        match self {
            Self::Days => (place as f64 + 0.5).ln(),
            Self::Bins { per_doubling, .. } => {
                place as f64 * std::f64::consts::LN_2 / f64::from(per_doubling)
            }
        }
    }
}

/// The standard deviation, of the logarithm of the age, by which events of these places, weights and
/// squared weights are spread: .9 s n^(-1/5) (Silverman 1986, section 3.4, of the standard deviation s
/// alone and Kish's effective number n), .1 at most.
///
/// Without the first, a supplier that always takes 34 to 46 days would be given 30 to 52.
pub(super) fn width_of(events: impl Iterator<Item = (usize, f64, f64)>, scale: Scale) -> f64 {
    let (mut n, mut squares, mut mean, mut spread) = (0.0, 0.0, 0.0, 0.0);
    for (place, weight, squared) in events {
        // West 1979: a running weighted variance without a difference of large sums.
        n += weight;
        squares += squared;
        let off = scale.log_age(place) - mean;
        mean += off * weight / n;
        spread += weight * off * (scale.log_age(place) - mean);
    }
    if n <= 0.0 || squares <= 0.0 {
        return 0.0;
    }
    let effective = n * n / squares;
    let rule = 0.9 * (spread / n).max(0.0).sqrt() * effective.powf(-0.2);
    // Of one or two nothing is known of how they vary.
    if effective < FEW { WIDTH_MAX } else { rule.min(WIDTH_MAX) }
}

/// The shares of an event at a place, from the first place that it spreads to; they sum to 1.
pub(super) fn kernel(at: usize, scale: Scale, width: f64) -> (usize, Vec<f64>) {
    let (first, last) = match scale {
        Scale::Days => {
            let middle = at as f64 + 0.5;
            let reach = (REACH * width).exp();
            // Both are at least 0 and finite.
            let first = (middle / reach - 0.5).ceil().max(0.0) as usize;
            let last = ((middle * reach - 0.5).floor() as usize).min(DAYS_MAX as usize);
            (first, last)
        }
        Scale::Bins { per_doubling, count } => {
            let bins = width * f64::from(per_doubling) / std::f64::consts::LN_2;
            let reach = (REACH * bins).floor() as usize;
            (at.saturating_sub(reach), (at + reach).min(usize::from(count).saturating_sub(1)))
        }
    };
    let middle = scale.log_age(at);
    let share = |place: usize| {
        let from = (scale.log_age(place) - middle) / width;
        let density = (-0.5 * from * from).exp();
        match scale {
            Scale::Days => density / (place as f64 + 0.5),
            Scale::Bins { .. } => density,
        }
    };
    let first = first.min(at);
    (first, summing_to_one((first..=last.max(at)).map(share).collect()))
}

fn summing_to_one(mut shares: Vec<f64>) -> Vec<f64> {
    let sum: f64 = shares.iter().sum();
    for share in &mut shares {
        *share /= sum;
    }
    shares
}
