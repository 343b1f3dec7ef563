//! Between wire and core: requests are read into commands, with every fault
//! of a request at once; rows are written as messages.

mod access;
mod builds;
mod catalogue;
mod lead_times;
mod ledger;
mod lending;
mod making;
mod promises;
mod purchasing;
mod quotes;
mod read;
pub mod scalar;
mod shop;
mod suggest;
mod supply;
mod suppose;
#[cfg(test)]
mod tests;
pub mod wire;

pub use access::{issue_token, revoke_token};
pub use builds::{
    add_build_lines, begin_stage, cancel_build, change_build_line, create_build, deliver_build,
    finish_stage, hold_build, mark_ready_for_handover, open_build, put_in_bay, resume_build,
    update_build,
};
pub use catalogue::{create_part, create_supplier, put_offer, update_part, update_supplier};
pub use lead_times::{BacktestAsked, ProfileAsked, get_lead_time_profile, run_backtest};
pub use ledger::{
    adjust_stock, create_bin, move_stock, quarantine_stock, record_found, release_quarantine,
    scrap_stock,
};
pub use lending::{lend_to_build, preview_lending};
pub use making::{
    add_awaited, confirm_pick, drop_awaited, receive_awaited, record_awaited_news,
    record_came_back, record_finisher_promise, record_made, send_out, substitute_part,
};
pub use promises::promise_delivery;
pub use purchasing::{
    cancel_order_lines, create_order, place_order, receive_order, receive_stock,
    record_acknowledgement, record_contact, record_despatch, reject_goods, return_to_supplier,
    take_back_promise,
};
pub use quotes::{QuoteRead, quote_build};
pub use read::{Named, Reader, Unread, Write};
pub use shop::{add_closures, remove_closures, update_shop};
pub use suggest::{SuggestAsked, draft_suggested_orders, suggest_orders};
pub use supply::{
    issue_stock, peg_line, release_stock, reserve_stock, return_to_stock, unpeg_line,
};
