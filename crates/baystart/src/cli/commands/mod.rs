//! The client's commands, by the words of the trade.

pub mod answers;
pub mod awaited;
pub mod backtest;
pub mod binding;
pub mod bins;
pub mod build_lines;
pub mod builds;
pub mod builds_life;
pub mod import;
pub mod import_files;
pub mod import_history;
pub mod import_transfer;
pub mod lead_times;
pub mod learning;
pub mod making;
pub mod offers;
pub mod orders;
pub mod parts;
pub mod pick;
pub mod receive;
pub mod reject;
pub mod shop;
pub mod stale;
pub mod stock;
pub mod suppliers;
pub mod token;
