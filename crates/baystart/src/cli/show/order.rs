//! Purchase orders.

use super::table::Rows;
use super::text::{NO_DATE, counted, money, number, plain, quantity, some_number};
use super::tree::{indented, ordered};
use super::words;
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// One row an order.
#[must_use]
pub fn list(console: Console, orders: &[v1::Order]) -> String {
    let columns = ["order", "supplier", "reference", "lines", "state", "placed", "next promise"];
    let mut rows = Rows::new(console, &columns).sparing(&["reference", "lines"]);
    for order in orders {
        let placed = order.lines.iter().filter_map(|line| line.placed_on.as_ref()).min_by_key(key);
        rows.row([
            order.number.clone(),
            order.supplier_code.clone(),
            order.supplier_reference.clone(),
            order.lines.len().to_string(),
            states(order),
            plain(placed),
            next_promise(order),
        ]);
    }
    rows.text_or("No such orders.")
}

fn key(date: &&v1::Date) -> (i32, i32, i32) {
    (date.year, date.month, date.day)
}

/// "2 placed, 1 received", in the order of a line's life.
fn states(order: &v1::Order) -> String {
    let mut counts = std::collections::BTreeMap::new();
    for line in &order.lines {
        *counts.entry(line.state).or_insert(0) += 1;
    }
    let mut pieces = Vec::new();
    for (state, count) in counts {
        pieces.push(format!("{count} {}", words::order_line_state(state)));
    }
    pieces.join(", ")
}

/// The earliest promise in force on an open line.
fn next_promise(order: &v1::Order) -> String {
    let open = order.lines.iter().filter(|line| words::order_line_is_open(line.state));
    if open.clone().next().is_none() {
        return String::new();
    }
    let promised = open.filter_map(promise).min_by_key(key);
    promised.map_or(NO_DATE.to_owned(), |date| plain(Some(date)))
}

fn promise(line: &v1::OrderLine) -> Option<&v1::Date> {
    line.promises.last().and_then(|promise| promise.promised_on.as_ref())
}

/// One order in full.
#[must_use]
pub fn order(console: Console, order: Option<&v1::Order>) -> String {
    let Some(order) = order else {
        return "The server told nothing of the order.".to_owned();
    };
    let mut text = format!("Order {} to {}", order.number, order.supplier_code);
    if !order.supplier_reference.is_empty() {
        let _ = write!(text, ", their reference {}", order.supplier_reference);
    }
    text.push_str("\n\n");
    let columns = [
        "line",
        "part",
        "description",
        "state",
        "#ordered",
        "#received",
        "#on order",
        "#pegged",
        "#price",
        "placed",
        "promised",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["received", "pegged", "price", "placed"]);
    // A package's pieces stand under it.
    for (depth, line) in ordered(&order.lines, |l| (l.line_number, l.package_line_number)) {
        let promised = match promise(line) {
            None if words::order_line_is_open(line.state) => NO_DATE.to_owned(),
            date => plain(date),
        };
        rows.row([
            line.line_number.to_string(),
            indented(depth, &line.part_number),
            line.part_description.clone(),
            words::order_line_state(line.state).to_owned(),
            quantity(line.ordered.as_ref(), &line.unit_code),
            some_number(line.received.as_ref()),
            some_number(line.on_order.as_ref()),
            some_number(line.pegged.as_ref()),
            money(line.price.as_ref()),
            plain(line.placed_on.as_ref()),
            promised,
        ]);
    }
    text.push_str(&rows.text_or("No lines."));
    text.push_str(&history(order));
    text
}

/// What happened on each line beyond the table: answers, despatch,
/// cancellations, and whom it is for.
fn history(order: &v1::Order) -> String {
    let mut text = String::new();
    for line in &order.lines {
        let mut said = Vec::new();
        if line.promises.len() > 1 {
            let mut dates = Vec::new();
            for promise in &line.promises {
                let (day, known) =
                    (plain(promise.promised_on.as_ref()), plain(promise.known_on.as_ref()));
                dates.push(format!("{day} (known {known})"));
            }
            said.push(format!("promised {}", dates.join(", then ")));
        }
        for taken in &line.taken_back {
            let why = if taken.reason.is_empty() { "" } else { ": " };
            said.push(format!(
                "promise of {} (known {}) taken back {}{why}{}",
                plain(taken.promised_on.as_ref()),
                plain(taken.known_on.as_ref()),
                plain(taken.taken_back_on.as_ref()),
                taken.reason
            ));
        }
        for (what, day) in [
            ("acknowledged", &line.acknowledged_on),
            ("despatched", &line.despatched_on),
            ("last known open", &line.last_contact_on),
        ] {
            if day.is_some() {
                said.push(format!("{what} {}", plain(day.as_ref())));
            }
        }
        for (who, cancelled) in
            [("us", &line.cancelled_by_us), ("the supplier", &line.cancelled_by_supplier)]
        {
            if number(cancelled.as_ref()) != "0" {
                said.push(format!(
                    "{} cancelled by {who}",
                    quantity(cancelled.as_ref(), &line.unit_code)
                ));
            }
        }
        if line.package {
            said.push("a package, complete when its pieces are".to_owned());
        }
        if line.package_line_number > 0 {
            said.push(format!("a piece of package line {}", line.package_line_number));
        }
        if number(line.rejected.as_ref()) != "0" {
            let amount = quantity(line.rejected.as_ref(), &line.unit_code);
            said.push(format!("{amount} rejected"));
        }
        if let Some(days) = line.quoted_lead_time_days {
            said.push(format!("quoted {}", counted(days.into(), "day", "days")));
        }
        for peg in &line.pegs {
            let amount = quantity(peg.quantity.as_ref(), &line.unit_code);
            let (build, stage, number) = (&peg.build_number, &peg.stage_name, peg.line_number);
            let kept = if peg.kept { ", kept" } else { "" };
            said.push(format!("{amount} for build {build}, stage {stage} (line {number}{kept})"));
        }
        if !said.is_empty() {
            let _ = writeln!(text, "line {}: {}", line.line_number, said.join("; "));
        }
    }
    if text.is_empty() { text } else { format!("\n{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_package_with_its_pieces() {
        let decimal = |value: &str| Some(v1::Decimal { value: value.into() });
        let line = |line_number, part: &str, package_line_number| v1::OrderLine {
            line_number,
            part_number: part.into(),
            package_line_number,
            state: v1::OrderLineState::Placed.into(),
            unit_code: "C62".into(),
            ordered: decimal("1"),
            ..v1::OrderLine::default()
        };
        let kit = v1::OrderLine { package: true, ..line(1, "KIT", 0) };
        let bent = v1::OrderLine { rejected: decimal("1"), ..line(3, "STEP", 1) };
        let lines = vec![kit, line(2, "WINCH", 0), bent, line(4, "RAIL", 1)];
        let number = "P-1".to_owned();
        let whole = v1::Order { number, lines, ..v1::Order::default() };
        let shown = order(Console::default(), Some(&whole));
        let parts: Vec<&str> = shown
            .lines()
            .filter(|row| row.starts_with(|c: char| c.is_ascii_digit()))
            .filter_map(|row| row.get(6..13))
            .map(str::trim_end)
            .collect();
        assert_eq!(parts, ["KIT", "  STEP", "  RAIL", "WINCH"], "{shown}");
        assert!(shown.contains("1 pcs rejected"), "{shown}");
    }
}
