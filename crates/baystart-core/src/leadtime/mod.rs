//! When an open order arrives, given all that is known at the start of the as-of date.
//!
//! [`DayLaw`] says how long things take, [`Laws`] says which law holds for which kind of news, and
//! [`arrival_cdf`] turns one supply and its age into a distribution over calendar days.
//! [`DefaultLaws`] are judgement, not history; [`learn::LearnedLaws`] come from a
//! [`history::History`] by the estimator of [`estimate`], behind the same trait.

mod arrival;
mod defaults;
pub mod estimate;
pub mod history;
mod law;
pub mod learn;
pub mod stages;
mod supply;

#[cfg(test)]
mod tests;

pub use arrival::{ArrivalLaw, on_axis};
pub use defaults::{CountedLaw, DefaultLaws, Laws, QUOTE_DAYS_MAX, SupplyKeys};
pub use law::{DayLaw, LawError};
pub use supply::{
    News, OpenSupply, Promise, arrival_cdf, arrival_cdf_for, arrival_cdf_with, deciding_news,
    not_ordered, not_ordered_for, not_ordered_with,
};
