//! What was done to an order, as a sentence.

use super::{amount_of, counted};
use crate::book::Book;
use crate::command::{CancelledBy, Settlement};
use crate::decide::effect::{OrderEffect, OrderLineEffect};
use crate::ids::{OrderId, OrderLineId};

pub(super) fn sentence(book: &Book, order: OrderId, what: &OrderEffect) -> String {
    let number = book.order_number(order);
    match what {
        OrderEffect::Drafted { lines } => {
            let row = book.orders.get(&order);
            let code = row.map_or("?", |row| book.supplier_code(row.supplier));
            format!("Order {number} to {code} drafted, with {}", counted(*lines, "line"))
        }
        OrderEffect::Placed { on } => format!("Order {number} placed on {on}"),
        OrderEffect::KnownOpen { lines, on, note } => {
            let numbers: Vec<_> = lines.iter().map(ToString::to_string).collect();
            let asked = match lines.len() {
                0 => String::new(),
                1 => format!(" line {}", numbers.join(", ")),
                _ => format!(" lines {}", numbers.join(", ")),
            };
            let colon = if note.is_empty() { "" } else { ": " };
            format!("Order {number}{asked} known to be open on {on}{colon}{note}")
        }
    }
}

pub(super) fn of_line(book: &Book, line: OrderLineId, what: &OrderLineEffect) -> String {
    let Some(row) = book.order_lines.get(&line) else { return String::new() };
    let (number, part) = (row.number, book.part_number(row.part));
    match what {
        OrderLineEffect::Acknowledged { promised_on, before } => match (promised_on, before) {
            (None, _) => format!("Line {number}, {part}: acknowledged without a date"),
            (Some(date), None) => format!("Line {number}, {part}: promised for {date}"),
            (Some(date), Some(before)) if date == before => {
                format!("Line {number}, {part}: still promised for {date}")
            }
            (Some(date), Some(before)) => {
                format!("Line {number}, {part}: promise moved from {before} to {date}")
            }
        },
        OrderLineEffect::TakenBack { promised_on, now, reason } => {
            let now = match now {
                Some(now) => format!("promised for {now} as before"),
                None => "no date is promised".to_owned(),
            };
            format!("Line {number}, {part}: promise of {promised_on} taken back, {now}: {reason}")
        }
        OrderLineEffect::Despatched { on } => {
            format!("Line {number}, {part}: goods left on {on}")
        }
        OrderLineEffect::Cancelled { quantity, by, reason } => {
            let who = match by {
                CancelledBy::Us => "by us",
                CancelledBy::Supplier => "by the supplier",
            };
            let amount = amount_of(book, row.part, *quantity);
            format!("Line {number}: {amount} cancelled {who}: {reason}")
        }
        OrderLineEffect::Rejected { quantity, settlement, reason } => {
            let next = match settlement {
                Settlement::Redelivery => "to be delivered again",
                Settlement::Credit => "not delivered again",
            };
            let amount = amount_of(book, row.part, *quantity);
            format!("Line {number}: {amount} rejected, {next}: {reason}")
        }
        OrderLineEffect::PackageComplete => {
            format!("Line {number}, package {part}: every piece is here")
        }
    }
}
