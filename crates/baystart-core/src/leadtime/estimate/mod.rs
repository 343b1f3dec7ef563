//! Waiting times from orders that have come and orders that have not.
//!
//! [`Counts`] keeps what a level of evidence needs to know (its sufficient statistics: weighted
//! events and those at risk, day by day), so that one new receipt touches its own levels only and a
//! child's evidence can be taken out of its parent by subtraction. [`posterior`] combines counts
//! with the hazards of a parent. [`ratio`] does the same in ratio to the quote, which is how
//! evidence of one offer speaks for another.

mod counts;
mod hazard;
pub mod ratio;
mod smooth;

#[cfg(test)]
mod fixtures;
#[cfg(test)]
mod tests;

pub use counts::{AtRisk, Counts, Observation, WeightedCounts};
pub use hazard::{Strength, greenwood, posterior, posterior_law};
pub use smooth::{Scale, Seeing};
