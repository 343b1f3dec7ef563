//! A shop played day by day over two years, by two ways of promising and ordering, on the same draws.
//!
//! The truth ([`truth`]) is keyed by (seed, build, part): whatever a policy does, the same part of the same
//! build takes the same time from the same day of ordering. Everything runs on the core's book and `decide`,
//! in memory.

mod coming;
mod day;
mod desk;
mod figures;
mod jobs;
mod outcome;
mod past;
mod policy;
mod promise_list;
#[cfg(test)]
mod tests;
mod truth;

pub use day::{Outcome, Span, play};
pub use figures::{ALONE, Between, FIGURES, Figure, figure, paired, t_quantile};
pub use jobs::{BuildOutcome, Outlook, PromiseOutcome};
pub use policy::{Ordering, Policy, Way};
pub use promise_list::{Looked, promises_ahead};
pub use truth::{Assumed, CallEffect};
