//! Stock, orders, builds and forecasts as pure functions: no clock, no
//! randomness, no I/O. What a command does is decided here; what it did is
//! kept by the store.

pub mod backtest;
pub mod book;
pub mod calendar;
pub mod command;
pub mod decide;
pub mod forecast;
pub mod ids;
pub mod invariants;
pub mod leadtime;
pub mod limits;
pub mod money;
pub mod number;
pub mod ordering;
pub mod plan;
pub mod quantity;
pub mod refs;
pub mod refusal;
pub mod restore;
pub mod score;
#[cfg(any(test, feature = "testing"))]
pub mod testing;
pub mod text;
pub mod units;
