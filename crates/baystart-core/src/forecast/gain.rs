//! What a single source costs: the start date if it were on the shelf today.

use super::{QUANTILE_TOLERANCE, combine::Table};

/// What a distribution function may be short of its last value and count as there.
const SETTLED: f64 = 1e-12;

/// Adds up working days gained, day by day. With G(s) the chance to start by day s and G_k(s) the same with
/// source k on the shelf, the mean over the confidences at which the build has a date of the days by which
/// that date is earlier is the area between the two,
///
/// 1 / G(last) x sum over s of (min(G_k(s), G(last)) - G(s)).
///
/// Where the build surely has a date it is the difference of the two mean dates, E S - E S_k.
pub(super) struct Gains {
    last: f64,
    sums: Vec<f64>,
}

impl Gains {
    pub(super) fn new(sources: usize, last: f64) -> Self {
        Self { last, sums: vec![0.0; sources] }
    }

    /// Whether a day adds nothing, since all that can be here is.
    pub(super) fn is_settled(&self, startable: f64) -> bool {
        startable >= self.last - SETTLED
    }

    /// Adds a day: G, and G_k of every source.
    pub(super) fn add(&mut self, startable: f64, without: &[f64]) {
        for (sum, without) in self.sums.iter_mut().zip(without) {
            *sum += (without.min(self.last) - startable).max(0.0);
        }
    }

    /// Working days of each source; all 0 where the build has no date at all.
    pub(super) fn finish(self) -> Vec<f64> {
        let last = self.last;
        let days = |sum: f64| if last > 0.0 { sum / last } else { 0.0 };
        self.sums.into_iter().map(days).collect()
    }
}

/// Working days by which the start comes earlier if it were `without` what it now waits for, in the mean over
/// the confidences at which the build has a date. Both are P(it can start by day i), one value a day.
#[must_use]
pub fn days_gained(start_cdf: &[f64], without: &[f64]) -> f64 {
    let mut gains = Gains::new(1, start_cdf.last().copied().unwrap_or(0.0));
    for (startable, without) in start_cdf.iter().zip(without) {
        if gains.is_settled(*startable) {
            break;
        }
        gains.add(*startable, &[*without]);
    }
    gains.finish().first().copied().unwrap_or(0.0)
}

/// Working days gained by each source, where all are independent.
pub(super) fn gains(table: &Table, start_cdf: &[f64]) -> Vec<f64> {
    let mut gains = Gains::new(table.sources(), start_cdf.last().copied().unwrap_or(0.0));
    let mut without = vec![0.0; table.sources()];
    for (day, startable) in start_cdf.iter().enumerate() {
        if gains.is_settled(*startable) {
            break;
        }
        each_left_out(table.day(day), &mut without);
        gains.add(*startable, &without);
    }
    gains.finish()
}

/// The product of all factors but one, for each of them.
pub(super) fn each_left_out(factors: &[f64], products: &mut [f64]) {
    let mut before = 1.0;
    for (product, factor) in products.iter_mut().zip(factors) {
        *product = before;
        before *= factor;
    }
    let mut after = 1.0;
    for (product, factor) in products.iter_mut().zip(factors).rev() {
        *product *= after;
        after *= factor;
    }
}

/// The first start day that reaches `p` if source `gone` were here already, or `None`.
///
/// `latest` is the first such day with the source, if there is one: it bounds the search. The
/// product leaves the source out in the same order of factors, so by monotone rounding it is never
/// below the full product.
pub(super) fn quantile_without(
    table: &Table,
    gone: usize,
    p: f64,
    latest: Option<usize>,
) -> Option<usize> {
    let reaches = |day: usize| {
        let mut here = 1.0;
        for (k, value) in table.day(day).iter().enumerate() {
            if k != gone {
                here *= value;
            }
        }
        here >= p - QUANTILE_TOLERANCE
    };
    let (mut low, mut high) = (0, latest.unwrap_or(table.days()));
    while low < high {
        let middle = low + (high - low) / 2;
        if reaches(middle) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    (low < table.days()).then_some(low)
}
