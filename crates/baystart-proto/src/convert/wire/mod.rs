//! Core's rows as messages of the API.

mod available;
mod backtest;
mod builds;
mod catalogue;
mod chases;
mod forecast;
mod lead_times;
mod ledger;
mod lending;
mod orders;
mod plain;
mod promises;
mod quotes;
mod suggest;
mod suppose;
mod swaps;

pub use available::available;
pub use backtest::{backtest_progress, backtest_report};
pub use builds::{build, build_state, build_state_of, pick_list};
pub use catalogue::{bin, closure, offer, part, shop, supplier, token};
pub use chases::chase;
pub use forecast::{board_entry, build_forecast, readiness};
pub use lead_times::{ProfileOf, StaleOf, lead_time_forecast, lead_time_profile, stale_order};
pub use ledger::{movement, on_hand};
pub use lending::lending;
pub use orders::order;
pub use plain::{commit, date, decimal, effect, etag, money, role, role_of, timestamp};
pub use promises::{customer_promise, date_since, promise_score, promised_build};
pub use quotes::quoted_variant;
pub use suggest::suggestions;
pub use suppose::as_it_is;
pub use swaps::swaps;
