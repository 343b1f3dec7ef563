//! When an open order arrives, given all that is known at the start of the as-of date.
//!
//! [`DayLaw`] says how long things take, [`Laws`] says which law holds for which kind of news, and
//! [`arrival_cdf`] turns one supply and its age into a distribution over calendar days.
//! [`DefaultLaws`] are judgement, not history; laws that are learned take their place behind the
//! same trait.

mod arrival;
mod defaults;
pub mod estimate;
mod law;
mod supply;

#[cfg(test)]
mod tests;

pub use arrival::{ArrivalLaw, on_axis};
pub use defaults::{CountedLaw, DefaultLaws, Laws, QUOTE_DAYS_MAX};
pub use law::{DayLaw, LawError};
pub use supply::{
    OpenSupply, Promise, arrival_cdf, arrival_cdf_with, not_ordered, not_ordered_with,
};
