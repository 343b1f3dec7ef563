//! When a build can start: the latest of many uncertain arrivals, as an exact distribution.
//!
//! Source j arrives on day A_j of the axis of working days and is needed o_j working days after the
//! start. The build can start by day s without stalling if every A_j <= s + o_j, so
//! `G(s) = prod_j F_j(s + o_j)` for independent sources. Nothing is drawn at random; the only
//! numerical step is the integral that shares ties, and the error of a day is bounded by 1e-13. Where
//! sources of one supplier share a cause ([`CommonCause`]), an expectation over it is taken with 32
//! nodes, and the error stays below 1e-4 at 60 sources. All
//! indices are on the axis of working days, 0 = the first working day from the as-of date.

mod cause;
mod combine;
mod correlation;
mod gain;
mod grouped;
mod hermite;
mod normal;
mod outlook;
mod quadrature;
mod source;
mod ties;
mod together;

#[cfg(test)]
mod tests;

pub use cause::{CommonCause, RHO_DEFAULT, RHO_MAX, RhoError};
pub use combine::{start_cdf, start_cdf_with};
pub use correlation::{LateTogether, estimate_rho};
pub use gain::days_gained;
pub use normal::{normal_cdf, normal_quantile};
pub use outlook::{Forecast, SourceForecast, forecast, forecast_with};
pub use source::{Source, SourceError};
pub use together::all_in_time;

/// Tolerance of "reaches p": a product of many factors may end a rounding error below it.
const QUANTILE_TOLERANCE: f64 = 1e-12;

/// The first index at which a distribution function reaches `p`, or `None` if it never does.
fn first_reaching(cdf: &[f64], p: f64) -> Option<usize> {
    let index = cdf.partition_point(|value| *value < p - QUANTILE_TOLERANCE);
    (index < cdf.len()).then_some(index)
}
