//! The probability integral transform on a day grid.

/// Bins of the histogram.
pub const PIT_BINS: usize = 10;

fn bounds(cdf: &[f64], y: Option<usize>) -> (f64, f64) {
    let last = cdf.last().copied().unwrap_or(0.0);
    match y {
        Some(y) => {
            let before = y.checked_sub(1).and_then(|t| cdf.get(t)).copied();
            (before.unwrap_or(0.0), cdf.get(y).copied().unwrap_or(last))
        }
        None => (last, 1.0),
    }
}

/// The mid-distribution value of an outcome: F(y - 1) and half of the outcome's own probability.
#[must_use]
pub fn mid_pit(cdf: &[f64], y: Option<usize>) -> f64 {
    let (below, up_to) = bounds(cdf, y);
    0.5 * (below + up_to)
}

/// A histogram that is flat in expectation if the forecasts are calibrated.
///
/// Not randomised: each outcome is spread evenly over F(y - 1) to F(y) (Czado, Gneiting and Held
/// 2009), so that days with much probability are no spikes.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct PitHistogram {
    /// Weight by bin, from "came earlier than said" to "later".
    pub bins: [f64; PIT_BINS],
}

impl PitHistogram {
    /// Adds the outcome of one forecast.
    pub fn add(&mut self, cdf: &[f64], y: Option<usize>) {
        let (below, up_to) = bounds(cdf, y);
        let width = up_to - below;
        for (k, bin) in self.bins.iter_mut().enumerate() {
            let (low, high) = (k as f64 / PIT_BINS as f64, (k + 1) as f64 / PIT_BINS as f64);
            *bin += if width > 0.0 {
                (up_to.min(high) - below.max(low)).max(0.0) / width
            } else if below >= low && (below < high || k + 1 == PIT_BINS) {
                // The outcome was held impossible.
                1.0
            } else {
                0.0
            };
        }
    }

    /// The bins as shares of all outcomes.
    #[must_use]
    pub fn shares(&self) -> [f64; PIT_BINS] {
        let sum: f64 = self.bins.iter().sum();
        self.bins.map(|bin| if sum > 0.0 { bin / sum } else { 0.0 })
    }
}
