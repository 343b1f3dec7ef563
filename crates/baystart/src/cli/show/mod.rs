//! Answers as text for people.

pub mod backtest;
pub mod board;
pub mod build;
pub mod catalogue;
pub mod changes;
pub mod chase;
pub mod delivery;
pub mod exported;
pub mod forecast;
pub mod free;
pub mod imported;
pub mod lead_times;
pub mod lend;
pub mod order;
pub mod part;
pub mod pick;
pub mod promises;
pub mod quotes;
pub mod ready;
pub mod shop;
pub mod stale;
pub mod stock;
pub mod suggest;
pub mod swaps;
pub mod table;
pub mod text;
pub mod what_if;
pub mod words;
pub mod wrap;

mod backtest_tables;
mod backtest_tuning;
mod build_lines;
mod lead_times_plot;
mod tree;
