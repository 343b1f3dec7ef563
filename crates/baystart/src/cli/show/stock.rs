//! Stock: quantities, bins, bindings and movements.

use super::table::Rows;
use super::text::{number, plain, quantity, some_number, unit};
use super::words;
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Bins as a table.
#[must_use]
pub fn bins(console: Console, bins: &[v1::Bin]) -> String {
    let mut rows = Rows::new(console, &["bin", "description"]);
    for bin in bins {
        rows.row([bin.code.clone(), bin.description.clone()]);
    }
    rows.text_or("No bins.")
}

/// One row a part.
#[must_use]
pub fn list(console: Console, parts: &[v1::OnHand], only_short: bool) -> String {
    let columns = [
        "part",
        "description",
        "unit",
        "#on hand",
        "#quarantined",
        "#reserved",
        "#available",
        "#on order",
        "#pegged",
        "#short",
        "short for",
    ];
    let mut rows =
        Rows::new(console, &columns).sparing(&["quarantined", "pegged", "reserved", "on order"]);
    for part in parts {
        rows.row([
            part.part_number.clone(),
            part.description.clone(),
            unit(&part.unit_code).to_owned(),
            number(part.on_hand.as_ref()),
            some_number(part.quarantined.as_ref()),
            some_number(part.reserved.as_ref()),
            some_number(part.available.as_ref()),
            some_number(part.on_order.as_ref()),
            some_number(part.pegged.as_ref()),
            some_number(part.short.as_ref()),
            part.shortages.iter().map(short_for).collect::<Vec<_>>().join(", "),
        ]);
    }
    rows.text_or(if only_short { "Nothing is short." } else { "No stock." })
}

/// `B-1044 line 12 (2)`: which line lacks how much.
fn short_for(shortage: &v1::Shortage) -> String {
    let quantity = number(shortage.quantity.as_ref());
    format!("{} line {} ({quantity})", shortage.build_number, shortage.line_number)
}

/// One part: quantities, where it lies, whom it is promised to.
#[must_use]
pub fn part(console: Console, on_hand: Option<&v1::OnHand>) -> String {
    let Some(part) = on_hand else {
        return "The server told nothing of the part's stock.".to_owned();
    };
    let mut text = format!("{}  {}\n", part.part_number, part.description);
    for (name, value) in [
        ("on hand", &part.on_hand),
        ("quarantined", &part.quarantined),
        ("reserved", &part.reserved),
        ("available", &part.available),
        ("on order", &part.on_order),
        ("pegged", &part.pegged),
        ("short", &part.short),
    ] {
        let _ = writeln!(text, "{name:<12} {}", quantity(value.as_ref(), &part.unit_code));
    }
    if !part.bins.is_empty() {
        let mut rows =
            Rows::new(console, &["bin", "lot", "#usable", "#quarantined", "best before"]);
        for bin in &part.bins {
            rows.row([
                bin.bin_code.clone(),
                bin.lot.clone(),
                number(bin.usable.as_ref()),
                some_number(bin.quarantined.as_ref()),
                plain(bin.expires_on.as_ref()),
            ]);
        }
        text.push('\n');
        text.push_str(&rows.text_or(""));
    }
    if !part.bindings.is_empty() {
        let mut rows = Rows::new(console, &["build", "line", "stage", "#quantity", "from", "lot"]);
        for binding in &part.bindings {
            let from = if binding.order_number.is_empty() {
                "stock".to_owned()
            } else {
                format!("order {} line {}", binding.order_number, binding.order_line_number)
            };
            rows.row([
                binding.build_number.clone(),
                binding.line_number.to_string(),
                binding.stage_name.clone(),
                number(binding.quantity.as_ref()),
                from,
                binding.lot.clone(),
            ]);
        }
        text.push('\n');
        text.push_str(&rows.text_or(""));
    }
    text
}

/// Bookings, newest first, one row an entry; `recorded` adds when they were
/// entered.
#[must_use]
pub fn movements(console: Console, movements: &[v1::Movement], recorded: bool) -> String {
    let mut columns = vec!["day", "booking", "part", "lot", "account", "#quantity", "by", "reason"];
    if recorded {
        columns.push("recorded");
    }
    let mut rows = Rows::new(console, &columns).sparing(&["recorded", "lot", "by", "account"]);
    for movement in movements {
        for entry in &movement.entries {
            let cells = [
                plain(movement.occurred_on.as_ref()),
                words::movement(movement.kind).to_owned(),
                entry.part_number.clone(),
                entry.lot.clone(),
                entry.account.clone(),
                signed(&number(entry.quantity.as_ref())),
                movement.recorded_by.clone(),
                movement.reason.clone(),
            ];
            if recorded {
                let [a, b, c, d, e, f, g, h] = cells;
                rows.row([
                    a,
                    b,
                    c,
                    d,
                    e,
                    f,
                    g,
                    h,
                    words::instant(movement.recorded_at.as_ref().map(|at| at.seconds)),
                ]);
            } else {
                rows.row(cells);
            }
        }
    }
    rows.text_or("No movements.")
}

fn signed(number: &str) -> String {
    if number.starts_with('-') || number == "0" { number.to_owned() } else { format!("+{number}") }
}
