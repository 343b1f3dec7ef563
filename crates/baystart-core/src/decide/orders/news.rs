//! News of an order: answers with promises, despatch, contact.

use super::named::{found_order, named, not_before_placing, open};
use super::{on_line, on_order, package, touch};
use crate::book::Change;
use crate::book::model::{Order, OrderLine, Promise};
use crate::decide::binding_rule::bind_parts;
use crate::decide::effect::{OrderEffect, OrderLineEffect};
use crate::decide::work::Work;
use crate::decide::{Subject, check, closed_days};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

pub(super) fn acknowledge(
    work: &mut Work<'_, '_>,
    order: &Ref,
    reference: &str,
    promises: &[(i32, Option<Date>)],
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let order = found_order(work, &mut faults, order)?;
    check::text(&mut faults, "supplier_reference", reference, false);
    check::count(&mut faults, "promises", promises.len(), true);
    let mut rows: Vec<(OrderLine, Option<Date>)> = Vec::new();
    let promises = package::with_pieces(work, &order, promises, |(number, date), piece| {
        (piece.unwrap_or(*number), *date)
    });
    for (i, (number, promised_on)) in promises.iter().enumerate() {
        let field = nth("promises", i).then("line_number");
        let found = work.book.find_order_line(&order, *number).cloned();
        let Some(row) = faults.take(field.clone(), found) else { continue };
        if rows.iter().any(|(earlier, _)| earlier.id == row.id) {
            faults.push(field, Reason::DuplicateLine, format!("line {number} is named twice"));
        } else if !open(&row) {
            let message = format!(
                "line {number} of order {} is {}: no answer is awaited",
                order.number,
                row.state().text()
            );
            faults.push(field, Reason::OrderLineState, message);
        } else if row.promises.last().is_some_and(|last| last.known_on > day) {
            let message = format!("line {number} has a promise that became known after {day}");
            faults.push("occurred_on", Reason::DateInvalid, message);
        } else {
            if let Some(date) = promised_on.filter(|date| *date < day) {
                let message = format!(
                    "{date} is before {day}, the day of the answer: check the month and the year"
                );
                faults.push(nth("promises", i).then("promised_on"), Reason::DateInvalid, message);
            }
            rows.push((row, *promised_on));
        }
    }
    let lines: Vec<OrderLine> = rows.iter().map(|(row, _)| row.clone()).collect();
    not_before_placing(&mut faults, &lines, day);
    faults.check()?;
    let mut parts = Vec::new();
    let days: Vec<Date> = rows.iter().filter_map(|(_, promised_on)| *promised_on).collect();
    for (mut row, promised_on) in rows {
        parts.push(row.part);
        row.acknowledged_on = Some(row.acknowledged_on.map_or(day, |first| first.min(day)));
        row.last_contact_on = row.last_contact_on.max(Some(day));
        let before = row.promises.last().map(|promise| promise.promised_on);
        if let Some(promised_on) = promised_on {
            row.promises.push(Promise { promised_on, known_on: day });
        }
        let id = row.id;
        work.change(Change::OrderLine(row));
        on_line(work, id, OrderLineEffect::Acknowledged { promised_on, before });
    }
    if !reference.trim().is_empty() {
        let supplier_reference = reference.trim().to_owned();
        work.change(Change::Order(Order { supplier_reference, ..order.clone() }));
    }
    touch(work, order.id);
    closed_days::say(work, days, Some(order.supplier));
    bind_parts(work, parts);
    Ok(Subject::Order(order.id))
}

pub(super) fn despatch(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[i32],
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let order = found_order(work, &mut faults, order)?;
    let fits = |line: &OrderLine| open(line) && line.despatched_on.is_none();
    let lines = package::with_pieces(work, &order, lines, |n, piece| piece.unwrap_or(*n));
    let rows = named(work, &mut faults, &order, &lines, "despatched", fits);
    not_before_placing(&mut faults, &rows, day);
    faults.check()?;
    let mut parts = Vec::new();
    for row in rows {
        parts.push(row.part);
        let last_contact_on = row.last_contact_on.max(Some(day));
        let id = row.id;
        work.change(Change::OrderLine(OrderLine {
            despatched_on: Some(day),
            last_contact_on,
            ..row
        }));
        on_line(work, id, OrderLineEffect::Despatched { on: day });
    }
    touch(work, order.id);
    bind_parts(work, parts);
    Ok(Subject::Order(order.id))
}

pub(super) fn contact(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[i32],
    note: &str,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::text(&mut faults, "note", note, false);
    let order = found_order(work, &mut faults, order)?;
    let all = package::with_pieces(work, &order, lines, |n, piece| piece.unwrap_or(*n));
    let rows = named(work, &mut faults, &order, &all, "asked about", open);
    not_before_placing(&mut faults, &rows, day);
    faults.check()?;
    let asked = match lines.is_empty() {
        true => Vec::new(),
        false => rows.iter().map(|row| row.number).collect(),
    };
    for row in rows {
        let last_contact_on = row.last_contact_on.max(Some(day));
        work.change(Change::OrderLine(OrderLine { last_contact_on, ..row }));
    }
    let what = OrderEffect::KnownOpen { lines: asked, on: day, note: note.trim().to_owned() };
    on_order(work, order.id, what);
    touch(work, order.id);
    Ok(Subject::Order(order.id))
}
