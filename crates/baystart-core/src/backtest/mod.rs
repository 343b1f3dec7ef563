//! The forecast scored on the shop's own past: on each forecast day only what was recorded by then
//! is known, and what came of it is looked up afterwards.
//!
//! [`run`] walks forward over the history and reports, by age of the order and by supplier, how
//! often stated dates were kept beside how often they were said to be, next to simple baselines; and
//! for builds, the latest of several open arrivals. Sizes are bounded by [`BacktestPlan`].

mod builds;
mod methods;
mod outcome;
mod plan;
mod report;
mod run;
mod tally;

#[cfg(test)]
mod tests;

pub use methods::Method;
pub use plan::{AGE_BAND_ENDS, AGE_BANDS, BUILD_SIZES, BacktestPlan, LEVELS, age_band};
pub use report::{BuildRow, DatesKept, MethodScores, Report, Slice, Summary};
pub use run::{Event, Forecasted, run};
