//! A promise that was recorded by mistake: the one before it holds again, and it teaches nothing.

use super::named::found_order;
use super::{on_line, touch};
use crate::book::Change;
use crate::book::model::{OrderLine, TakenBack};
use crate::decide::binding_rule::bind_parts;
use crate::decide::effect::OrderLineEffect;
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

/// Takes the last promise of each named line back, and of the pieces of a package that was
/// answered with it. What was received or cancelled since may be corrected too: its promise
/// would teach how far the supplier slips.
pub(super) fn take_back(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[i32],
    reason: &str,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::text(&mut faults, "reason", reason, true);
    let order = found_order(work, &mut faults, order)?;
    check::count(&mut faults, "line_numbers", lines.len(), true);
    let mut rows: Vec<OrderLine> = Vec::new();
    let mut early = None;
    for (i, number) in lines.iter().enumerate() {
        let field = nth("line_numbers", i);
        let found = work.book.find_order_line(&order, *number).cloned();
        let Some(row) = faults.take(field.clone(), found) else { continue };
        if rows.iter().any(|earlier| earlier.id == row.id) {
            faults.push(field, Reason::DuplicateLine, format!("line {number} is named twice"));
            continue;
        }
        match row.promises.last() {
            None => {
                let message = format!("line {number} of order {} has no promise", order.number);
                faults.push(field, Reason::PromiseUnknown, message);
            }
            Some(last) if day < last.known_on => {
                let message = format!(
                    "{day} is before the promise of line {number} became known, {}",
                    last.known_on
                );
                early.get_or_insert(message);
            }
            Some(_) => rows.push(row),
        }
    }
    if let Some(message) = early {
        faults.push("occurred_on", Reason::DateInvalid, message);
    }
    faults.check()?;
    let pieces = pieces_of(work, &rows);
    rows.extend(pieces);
    let parts: Vec<_> = rows.iter().map(|row| row.part).collect();
    for row in rows {
        without_last(work, row, day, reason.trim());
    }
    touch(work, order.id);
    bind_parts(work, parts);
    Ok(Subject::Order(order.id))
}

/// Pieces of the packages among the rows that have the same promise and are not named.
fn pieces_of(work: &Work<'_, '_>, rows: &[OrderLine]) -> Vec<OrderLine> {
    let mut pieces = Vec::new();
    for package in rows.iter().filter(|row| row.package) {
        for piece in work.book.lines_of_order(package.order) {
            let named = rows.iter().any(|row| row.id == piece.id);
            let same = piece.promises.last() == package.promises.last();
            if piece.package_line == package.number && same && !named {
                pieces.push(piece.clone());
            }
        }
    }
    pieces
}

fn without_last(work: &mut Work<'_, '_>, mut row: OrderLine, day: Date, reason: &str) {
    let count = row.promises.len() + row.taken_back.len();
    let Some(promise) = row.promises.pop() else { return };
    let is_taken = |place: usize| row.taken_back.iter().any(|taken| taken.place == place);
    let place = (0..count).rev().find(|place| !is_taken(*place)).unwrap_or(0);
    let taken = TakenBack { promise, place, on: day, reason: reason.to_owned() };
    row.taken_back.push(taken);
    row.taken_back.sort_by_key(|taken| taken.place);
    // What only the mistaken answer said is not known.
    if row.promises.is_empty() && row.acknowledged_on == Some(promise.known_on) {
        row.acknowledged_on = None;
    }
    // Somebody spoke with the supplier that day, whatever was written down of it.
    let (id, now) = (row.id, row.promises.last().map(|last| last.promised_on));
    let (promised_on, reason) = (promise.promised_on, reason.to_owned());
    work.change(Change::OrderLine(row));
    on_line(work, id, OrderLineEffect::TakenBack { promised_on, now, reason });
}
