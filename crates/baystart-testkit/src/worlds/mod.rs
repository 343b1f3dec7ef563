//! Simulated worlds of order lines whose true lead times are known: seeded, so that a backtest over
//! one says the same each time.

pub(crate) mod draw;
mod forgotten;
mod generate;
mod table;
mod truth;

#[cfg(test)]
mod tests;

pub use forgotten::{Forgotten, forgotten_believed};
pub use generate::{Kind, World, generate, generate_in_batches};
pub use table::{backtest, plan, table};
pub use truth::truth_cdf;
