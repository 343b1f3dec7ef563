//! The order and the lines that a command names.

use crate::book::model::{Order, OrderLine};
use crate::decide::work::Work;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

pub(super) fn found_order(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    order: &Ref,
) -> Result<Order, Refusal> {
    let found = faults.take("order", work.book.find_order(order).cloned());
    found.map_or_else(|| std::mem::take(faults).whole(None), Ok)
}

/// Rows of the named lines, or of every line that `fits`, with every fault
/// noted; a named line that does not fit is a fault.
pub(super) fn named(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    order: &Order,
    lines: &[i32],
    what: &str,
    fits: impl Fn(&OrderLine) -> bool,
) -> Vec<OrderLine> {
    let mut rows: Vec<OrderLine> = Vec::new();
    if lines.is_empty() {
        let all = work.book.lines_of_order(order.id);
        rows.extend(all.into_iter().filter(|line| fits(line)).cloned());
        if rows.is_empty() {
            let message = format!("no line of order {} can be {what}", order.number);
            faults.push("order", Reason::OrderLineState, message);
        }
        return rows;
    }
    for (i, number) in lines.iter().enumerate() {
        let field = nth("line_numbers", i);
        let found = work.book.find_order_line(order, *number).cloned();
        let Some(row) = faults.take(field.clone(), found) else { continue };
        if rows.iter().any(|earlier| earlier.id == row.id) {
            faults.push(field, Reason::DuplicateLine, format!("line {number} is named twice"));
        } else if fits(&row) {
            rows.push(row);
        } else {
            let message = format!(
                "line {number} of order {} is {} and cannot be {what}",
                order.number,
                row.state().text()
            );
            faults.push(field, Reason::OrderLineState, message);
        }
    }
    rows
}

pub(super) fn open(line: &OrderLine) -> bool {
    line.on_order().is_positive()
}

/// Notes a day before the order was placed.
pub(super) fn not_before_placing(faults: &mut Faults, rows: &[OrderLine], day: Date) {
    for row in rows {
        if let Some(placed) = row.placed_on.filter(|placed| day < *placed) {
            let message = format!("{day} is before line {} was placed, {placed}", row.number);
            faults.push("occurred_on", Reason::DateInvalid, message);
            return;
        }
    }
}
