//! Who holds a bay, and what a build can be delivered by.

pub mod days;
pub(in crate::plan) mod delivery;
#[cfg(test)]
mod delivery_tests;
pub(in crate::plan) mod holdings;
// Used from the next step on.
#[allow(dead_code)]
pub(in crate::plan) mod play;
