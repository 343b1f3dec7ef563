//! The shop's settings and closures.

use super::table::Rows;
use super::text::{counted, level, plain};
use crate::cli::console::Console;
use crate::cli::parse::week::week_text;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The settings, one a line.
#[must_use]
pub fn settings(shop: Option<&v1::Shop>) -> String {
    let Some(shop) = shop else {
        return "The server told nothing of the shop.".to_owned();
    };
    let mut text = String::new();
    let window = counted(shop.reserve_window_days.into(), "working day", "working days");
    for (name, value) in [
        ("name", shop.name.clone()),
        ("time zone", shop.time_zone.clone()),
        ("currency", shop.currency_code.clone()),
        ("working days", week_text(shop.working_days.as_ref())),
        ("ordering days", week_text(shop.ordering_days.as_ref())),
        ("reserve window", window),
        ("stall tolerance", level(shop.stall_tolerance)),
    ] {
        let _ = writeln!(text, "{name:<16} {value}");
    }
    text
}

/// Closed days, the shop's own and the suppliers'.
#[must_use]
pub fn closures(console: Console, closures: &[v1::Closure]) -> String {
    let mut rows = Rows::new(console, &["first day", "last day", "who", "name"]);
    for closure in closures {
        let who = match closure.supplier.as_ref().and_then(|supplier| supplier.r#ref.as_ref()) {
            Some(v1::supplier_ref::Ref::Code(code)) => format!("supplier {code}"),
            Some(v1::supplier_ref::Ref::Uid(_)) => "a supplier".to_owned(),
            None => "the shop".to_owned(),
        };
        rows.row([
            plain(closure.first_day.as_ref()),
            plain(closure.last_day.as_ref()),
            who,
            closure.name.clone(),
        ]);
    }
    rows.text_or("No closed days.")
}
