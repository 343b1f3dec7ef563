//! The client's commands, by the words of the trade.

pub mod answers;
pub mod backtest;
pub mod binding;
pub mod bins;
pub mod builds;
pub mod builds_life;
pub mod catalogue;
pub mod import;
pub mod import_files;
pub mod import_history;
pub mod import_transfer;
pub mod lead_times;
pub mod learning;
pub mod offers;
pub mod orders;
pub mod receive;
pub mod shop;
pub mod stale;
pub mod stock;
pub mod token;
