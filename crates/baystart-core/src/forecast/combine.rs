//! From the sources to the distribution of the day on which all are here in time.

use super::{CommonCause, Source, grouped::Grouped};

/// For each start day s and source k, H_k(s) = F_k(s + o_k): the source is here when needed.
///
/// Stored start day by start day, the sources of one day side by side.
#[derive(Debug, Clone)]
pub(super) struct Table {
    sources: usize,
    days: usize,
    values: Vec<f64>,
}

impl Table {
    pub(super) fn new(sources: &[Source], days: usize) -> Self {
        let mut values = vec![0.0; sources.len() * days];
        for (k, source) in sources.iter().enumerate() {
            let offset = usize::try_from(source.offset_days()).unwrap_or(usize::MAX);
            let last = source.cdf().last().copied().unwrap_or(0.0);
            let on_axis = source.cdf().get(offset..).unwrap_or_default();
            let shifted = on_axis.iter().copied().chain(std::iter::repeat(last));
            let column = values.iter_mut().skip(k).step_by(sources.len());
            for (cell, value) in column.zip(shifted) {
                *cell = value;
            }
        }
        Self { sources: sources.len(), days, values }
    }

    pub(super) fn sources(&self) -> usize {
        self.sources
    }

    pub(super) fn days(&self) -> usize {
        self.days
    }

    /// H_k(day) of all sources k in order.
    pub(super) fn day(&self, day: usize) -> &[f64] {
        let from = day * self.sources;
        self.values.get(from..from + self.sources).unwrap_or_default()
    }
}

/// G(s) for s = 0..days: the probability that a start on day s does not stall.
///
/// Only the product of independent sources, without any attribution; [`super::forecast`] has both.
#[must_use]
pub fn start_cdf(sources: &[Source], days: usize) -> Vec<f64> {
    product_cdf(&Table::new(sources, days))
}

/// [`start_cdf`] where sources of one group share a cause of delay.
#[must_use]
pub fn start_cdf_with(sources: &[Source], days: usize, cause: &CommonCause) -> Vec<f64> {
    if cause.rho() == 0.0 {
        return start_cdf(sources, days);
    }
    Grouped::new(sources, days, cause).start_cdf()
}

/// The product of independent sources; with a common cause see `grouped`.
pub(super) fn product_cdf(table: &Table) -> Vec<f64> {
    (0..table.days()).map(|day| table.day(day).iter().product()).collect()
}
