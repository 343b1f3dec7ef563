//! Rows of the database to rows of the core, and back. What cannot be read is
//! said with its table, key and value: the database was changed by hand.

mod access;
mod awaited;
mod builds;
mod catalogue;
mod ledger;
mod orders;
mod stock;
mod value;

pub(crate) use access::roles_of;
pub(crate) use builds::state_text;
pub(crate) use value::{corrupt, day, days, instant, micros, own_day, own_day_option, own_instant};
