//! How good stated distributions were, once the outcomes are known.
//!
//! All distributions are on a grid of whole days: `cdf[t]` is P(T <= t). What the last value lacks
//! of 1 lies past the grid, and so may the outcome (`None`).

mod clustered;
mod loss;
mod pit;

#[cfg(test)]
mod tests;

pub use clustered::{ClusteredMean, Estimate};
pub use loss::{crps, interval_score, pinball, stated_quantile};
pub use pit::{PIT_BINS, PitHistogram, mid_pit};
