//! The rows that decisions are made on.

mod build;
mod catalogue;
mod purchasing;
mod shop;
mod stock;
mod ways;

pub use build::*;
pub use catalogue::*;
pub use purchasing::*;
pub use shop::*;
pub use stock::*;
pub use ways::*;
