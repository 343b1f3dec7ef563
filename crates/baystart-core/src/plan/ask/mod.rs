//! The questions that people ask of a plan.

pub(in crate::plan) mod available;
pub(in crate::plan) mod board;
pub(in crate::plan) mod board_cache;
#[cfg(test)]
mod board_cache_tests;
pub(in crate::plan) mod can_start;
mod changed;
pub(in crate::plan) mod chase;
#[cfg(test)]
mod chase_tests;
pub(in crate::plan) mod customer_promises;
#[cfg(test)]
mod customer_promises_tests;
pub(in crate::plan) mod lending;
#[cfg(test)]
mod lending_tests;
mod package_cost;
pub mod pick;
pub(in crate::plan) mod quote;
#[cfg(test)]
mod quote_tests;
pub(in crate::plan) mod since;
pub(in crate::plan) mod suggest;
pub(in crate::plan) mod suppose;
#[cfg(test)]
mod suppose_tests;
pub(in crate::plan) mod swaps;
#[cfg(test)]
mod undated_tests;
mod weight;
