//! What a backtest found.

use super::{Method, tally::Tally};
use crate::leadtime::learn::Tuning;
use crate::score::{Estimate, PIT_BINS};

/// Which orders a row speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Slice {
    /// Every forecast; an order counts once in each age band that it was seen in.
    All,
    /// Orders of one age band.
    AgeBand(usize),
    /// Orders of one supplier.
    Supplier(u32),
}

/// The scores of one method on one slice. Arrays are by level: 50, 80, 90 %.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Forecasts scored.
    pub orders: usize,
    /// How often the order came by the date stated for the level.
    pub hit: [Estimate; 3],
    /// How often it was said to: the mean stated probability of that date.
    pub stated: [Estimate; 3],
    /// Hit less stated; its standard error judges the calibration.
    pub gap: [Estimate; 3],
    /// Pinball loss in days.
    pub pinball: [Estimate; 3],
    /// Interval score of the central 80 % in days.
    pub interval: Estimate,
    /// CRPS in days, up to the horizon.
    pub crps: Estimate,
    /// Shares of the PIT histogram.
    pub pit: [f64; PIT_BINS],
}

/// One method on one slice.
#[derive(Debug, Clone, PartialEq)]
pub struct MethodScores {
    /// Who forecast.
    pub method: Method,
    /// Which orders.
    pub slice: Slice,
    /// How well.
    pub scores: Summary,
}

/// Builds of one size: the latest of so many arrivals.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildRow {
    /// Open orders in a build.
    pub orders: usize,
    /// Forecast with the common cause.
    pub with_common_cause: Summary,
    /// Forecast as if all were independent.
    pub independent: Summary,
}

/// Learned forecasts of each order once, on the first forecast day that found it open.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct DatesKept {
    /// Orders forecast.
    pub orders: usize,
    /// Orders that came by the date stated for 50, 80 and 90 %.
    pub by: [usize; 3],
    /// Orders that were said to: the sum of the stated probabilities of those dates.
    pub said: [f64; 3],
}

/// A finished backtest.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// By method, then slice.
    pub rows: Vec<MethodScores>,
    /// By size.
    pub builds: Vec<BuildRow>,
    /// In plain counts, how stated dates were kept.
    pub kept: DatesKept,
    /// Forecasts of orders that were here already, only not booked yet: not scored.
    pub were_here: usize,
    /// Forecasts of orders that were cancelled later: not scored.
    pub cancelled: usize,
    /// Forecasts whose outcome is not known: not scored.
    pub unresolved: usize,
    /// Normal scores of young orders, from which a correlation can be estimated.
    pub late_together: Vec<crate::forecast::LateTogether>,
    /// How far back the past was believed on the last forecast day; `None`: nothing was tuned.
    pub tuning: Option<Tuning>,
}

impl Report {
    /// The scores of a method on a slice, if any order was in it.
    #[must_use]
    pub fn scores(&self, method: Method, slice: Slice) -> Option<&Summary> {
        let row = self.rows.iter().find(|row| row.method == method && row.slice == slice);
        row.map(|row| &row.scores)
    }
}

pub(super) fn rows(
    tallies: std::collections::BTreeMap<(Method, Slice), Tally>,
) -> Vec<MethodScores> {
    let row = |((method, slice), tally): ((Method, Slice), Tally)| MethodScores {
        method,
        slice,
        scores: tally.summary(),
    };
    tallies.into_iter().map(row).collect()
}
