//! Who holds a bay, and what a build can be delivered by.

pub(in crate::plan) mod delivery;
#[cfg(test)]
mod delivery_tests;
pub(in crate::plan) mod live;
pub(in crate::plan) mod play;
