//! The tables as entities. They stay inside this crate.

#![allow(missing_docs)]

pub mod awaited;
pub mod bin;
pub mod bin_balance;
pub mod build;
pub mod build_line;
pub mod change_log;
pub mod closure;
pub mod entry;
pub mod imported;
pub mod kit_component;
pub mod movement;
pub mod offer;
pub mod order_line;
pub mod part;
pub mod past_batch;
pub mod past_line;
pub mod past_line_now;
pub mod peg;
pub mod promise;
pub mod purchase_order;
pub mod request;
pub mod reservation;
pub mod row_history;
pub mod shop;
pub mod stage;
pub mod stock;
pub mod supplier;
pub mod token;
