//! When a build can start: the latest of many uncertain arrivals, as an exact distribution.
//!
//! Source j arrives on day A_j of the axis of working days and is needed o_j working days after the
//! start. The build can start by day s without stalling if every A_j <= s + o_j, so
//! `G(s) = prod_j F_j(s + o_j)` for independent sources. Nothing is drawn at random; the only
//! numerical step is the integral that shares ties, and the error of a day is bounded by 1e-13. All
//! indices are on the axis of working days, 0 = the first working day from the as-of date.

mod combine;
mod gain;
mod outlook;
mod quadrature;
mod source;
mod ties;

#[cfg(test)]
mod tests;

pub use combine::start_cdf;
pub use outlook::{Forecast, SourceForecast, forecast};
pub use source::{Source, SourceError};

/// Tolerance of "reaches p": a product of many factors may end a rounding error below it.
const QUANTILE_TOLERANCE: f64 = 1e-12;

/// The first index at which a distribution function reaches `p`, or `None` if it never does.
fn first_reaching(cdf: &[f64], p: f64) -> Option<usize> {
    let index = cdf.partition_point(|value| *value < p - QUANTILE_TOLERANCE);
    (index < cdf.len()).then_some(index)
}
