//! The bodies of the RPCs, one file a service.

mod access;
mod board;
mod builds;
mod builds_read;
mod catalogue;
mod customer_promises;
mod export;
mod forecast;
mod import;
mod import_history;
mod lead_times;
mod ledger;
mod purchasing;
mod quotes;
mod shop;
