//! Orders, line by line, from draft to despatch and cancellation.

use super::bind::{bind_part, bind_parts, peg};
use super::displace::shrink_pegs;
use super::effect::{Effect, EffectKind};
use super::issue::trim;
use super::receipts;
use super::work::{Work, counted};
use super::{Subject, check};
use crate::book::Change;
use crate::book::model::{Order, OrderLine, Promise, Supplier};
use crate::command::{CancelledBy, NewOrderLine, OrderCommand};
use crate::ids::{LineId, OrderId, OrderLineId, PartId};
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;
use std::collections::BTreeSet;

pub(super) fn run(work: &mut Work<'_, '_>, command: &OrderCommand) -> Result<Subject, Refusal> {
    match command {
        OrderCommand::Create { number, supplier, lines, placed_on } => {
            create(work, number, supplier, lines, *placed_on)
        }
        OrderCommand::Place { order, occurred_on } => place_drafts(work, order, *occurred_on),
        OrderCommand::Acknowledge { order, supplier_reference, promises, occurred_on } => {
            acknowledge(work, order, supplier_reference, promises, *occurred_on)
        }
        OrderCommand::Despatch { order, lines, occurred_on } => {
            despatch(work, order, lines, *occurred_on)
        }
        OrderCommand::Contact { order, lines, note, occurred_on } => {
            contact(work, order, lines, note, *occurred_on)
        }
        OrderCommand::Receive { order, lines, occurred_on } => {
            receipts::receive(work, order, lines, *occurred_on)
        }
        OrderCommand::Cancel { order, lines, quantity, by, reason, occurred_on } => {
            let how = Cancelling { quantity: *quantity, by: *by, reason };
            cancel(work, order, lines, &how, *occurred_on)
        }
    }
}

fn say_order(work: &mut Work<'_, '_>, order: &Order, line: i32, text: String) {
    let mut effect = Effect::new(EffectKind::State, text);
    effect.order = order.number.written().to_owned();
    effect.order_line = line;
    work.effect(effect);
}

/// One line of a new order, checked.
struct NewRow {
    part: PartId,
    quantity: Quantity,
    price: Option<crate::money::Money>,
    quoted_days: Option<u32>,
    for_line: Option<LineId>,
}

fn new_rows(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    supplier: Option<&Supplier>,
    lines: &[NewOrderLine],
) -> Vec<NewRow> {
    let mut rows = Vec::new();
    for (i, new) in lines.iter().enumerate() {
        check::positive(faults, &format!("lines[{i}].quantity"), new.quantity);
        if let Some(price) = new.price.filter(|price| price.ten_thousandths < 0) {
            let message = format!("{price} is less than nothing");
            faults.push(format!("lines[{i}].price"), Reason::MoneyInvalid, message);
        }
        let part = faults.take(format!("lines[{i}].part"), work.book.find_part(&new.part));
        if let Some(part) = part {
            check::unit(faults, &format!("lines[{i}].unit_code"), part, new.unit);
            check::stocked(faults, &format!("lines[{i}].part"), part);
        }
        let mut for_line = None;
        if let Some((build, number)) = &new.for_line {
            let field = format!("lines[{i}].for_line");
            let build = faults.take(format!("{field}.build"), work.book.find_build(build));
            let line = build.and_then(|build| {
                let found = work.book.find_line(build, *number);
                faults.take(format!("{field}.line_number"), found)
            });
            if let (Some(line), Some(part)) = (line, part)
                && line.part != part.id
            {
                let message = format!(
                    "the build line is of part {}, not {}",
                    work.book.part_number(line.part),
                    part.number
                );
                faults.push(field, Reason::ValueInvalid, message);
            }
            for_line = line.map(|line| line.id);
        }
        let Some(part) = part else { continue };
        let offer = supplier.and_then(|supplier| work.book.offer_of(supplier.id, part.id));
        rows.push(NewRow {
            part: part.id,
            quantity: new.quantity,
            price: new.price.or(offer.and_then(|offer| offer.price)),
            quoted_days: offer.and_then(|offer| offer.quoted_days),
            for_line,
        });
    }
    rows
}

fn create(
    work: &mut Work<'_, '_>,
    number: &Number,
    supplier: &Ref,
    lines: &[NewOrderLine],
    placed_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::count(&mut faults, "lines", lines.len(), true);
    let found = work.book.find_supplier(supplier).cloned();
    let supplier = faults.take("supplier", found);
    let rows = new_rows(work, &mut faults, supplier.as_ref(), lines);
    if let Some(day) = placed_on.filter(|day| *day > work.context.today) {
        let message = format!("{day} is after today, {}", work.context.today);
        faults.push("placed_on", Reason::DateInFuture, message);
    }
    faults.check()?;
    let Some(supplier) = supplier else { return Ok(Subject::None) };
    if let Ok(old) = work.book.find_order(&Ref::Number(number.clone())) {
        let message = format!("order {} exists already", old.number);
        return Err(Refusal::new(Reason::OrderExists, message));
    }
    let id = OrderId(work.fresh());
    let order = Order {
        id,
        number: number.clone(),
        supplier: supplier.id,
        supplier_reference: String::new(),
        version: 1,
    };
    work.change(Change::Order(order.clone()));
    let count = rows.len();
    for (row, line_number) in rows.into_iter().zip(1..) {
        say_terms(work, &supplier, &row);
        let line = OrderLineId(work.fresh());
        work.change(Change::OrderLine(OrderLine {
            id: line,
            order: id,
            number: line_number,
            part: row.part,
            ordered: row.quantity,
            received: Quantity::ZERO,
            over_accepted: Quantity::ZERO,
            cancelled_by_us: Quantity::ZERO,
            cancelled_by_supplier: Quantity::ZERO,
            price: row.price,
            quoted_days: row.quoted_days,
            placed_on: None,
            acknowledged_on: None,
            despatched_on: None,
            last_contact_on: None,
            closed_on: None,
            for_line: row.for_line,
            promises: Vec::new(),
        }));
    }
    let text =
        format!("Order {number} to {} drafted, with {}", supplier.code, counted(count, "line"));
    say_order(work, &order, 0, text);
    if let Some(day) = placed_on {
        place(work, &order, day);
    }
    Ok(Subject::Order(id))
}

/// Says where a line does not fit the offer's pack size or minimum.
fn say_terms(work: &mut Work<'_, '_>, supplier: &Supplier, row: &NewRow) {
    let Some(offer) = work.book.offer_of(supplier.id, row.part) else { return };
    let mut terms = Vec::new();
    if let Some(minimum) = offer.minimum_quantity.filter(|least| row.quantity < *least) {
        terms.push(format!("the least that {} sells is {minimum}", supplier.code));
    }
    if let Some(pack) = offer.pack_size
        && pack.is_positive()
        && row.quantity.milli() % pack.milli() != 0
    {
        terms.push(format!("{} sells it in packs of {pack}", supplier.code));
    }
    if terms.is_empty() {
        return;
    }
    let number = work.book.part_number(row.part).to_owned();
    let text = format!("{} of {number}: {}", row.quantity, terms.join(", and "));
    work.say(EffectKind::Caution, text);
}

fn found_order(work: &Work<'_, '_>, faults: &mut Faults, order: &Ref) -> Result<Order, Refusal> {
    let found = faults.take("order", work.book.find_order(order).cloned());
    match found {
        Some(order) => Ok(order),
        None => Err(std::mem::take(faults)
            .check()
            .err()
            .unwrap_or_else(|| Refusal::new(Reason::OrderUnknown, "no such order"))),
    }
}

/// Counts a change of the order.
pub(super) fn touch(work: &mut Work<'_, '_>, order: OrderId) {
    let Some(row) = work.book.orders.get(&order).cloned() else { return };
    work.change(Change::Order(Order { version: row.version + 1, ..row }));
}

/// Places the order's drafts and pegs them to the lines that they are for.
fn place(work: &mut Work<'_, '_>, order: &Order, day: Date) {
    let drafts: Vec<OrderLine> = work
        .book
        .lines_of_order(order.id)
        .into_iter()
        .filter(|line| line.placed_on.is_none() && line.outstanding().is_positive())
        .cloned()
        .collect();
    for line in &drafts {
        // The quote as it stands when the order is placed.
        let quoted = work.book.offer_of(order.supplier, line.part).and_then(|o| o.quoted_days);
        work.change(Change::OrderLine(OrderLine {
            placed_on: Some(day),
            last_contact_on: Some(day),
            quoted_days: quoted.or(line.quoted_days),
            ..line.clone()
        }));
    }
    say_order(work, order, 0, format!("Order {} placed on {day}", order.number));
    for line in &drafts {
        let Some(wanted) = line.for_line else { continue };
        peg_for(work, wanted, line.id);
    }
    bind_parts(work, drafts.iter().map(|line| line.part));
}

/// Pegs an order line to the build line that it was ordered for, in place of
/// pegs that nobody asked to keep.
pub(super) fn peg_for(work: &mut Work<'_, '_>, line: LineId, supply: OrderLineId) {
    let Some(line) = work.book.lines.get(&line).cloned() else { return };
    let holds = work.book.builds.get(&line.build).is_some_and(|build| build.state.holds());
    let Some(row) = work.book.order_lines.get(&supply) else { return };
    let loose: Quantity =
        work.book.pegs_of(line.id).filter(|peg| !peg.kept).map(|peg| peg.quantity).sum();
    let taken = work.book.free_on(row).min(work.book.short_of(&line) + loose);
    if holds && taken.is_positive() {
        peg(work, &line, supply, taken, true);
        trim(work, line.id);
    }
}

fn place_drafts(
    work: &mut Work<'_, '_>,
    order: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let order = found_order(work, &mut faults, order)?;
    faults.check()?;
    let drafts = |line: &&OrderLine| line.placed_on.is_none() && line.outstanding().is_positive();
    if !work.book.lines_of_order(order.id).into_iter().any(|line| drafts(&line)) {
        let message = format!("order {} has no draft line to place", order.number);
        return Err(Refusal::new(Reason::OrderLineState, message));
    }
    place(work, &order, day);
    touch(work, order.id);
    Ok(Subject::Order(order.id))
}

/// Rows of the named lines, or of every line that `fits`, with every fault
/// noted; a named line that does not fit is a fault.
fn named(
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
        let field = format!("line_numbers[{i}]");
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

fn open(line: &OrderLine) -> bool {
    line.on_order().is_positive()
}

/// Notes a day before the order was placed.
fn not_before_placing(faults: &mut Faults, rows: &[OrderLine], day: Date) {
    for row in rows {
        if let Some(placed) = row.placed_on.filter(|placed| day < *placed) {
            let message = format!("{day} is before line {} was placed, {placed}", row.number);
            faults.push("occurred_on", Reason::DateInvalid, message);
            return;
        }
    }
}

fn acknowledge(
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
    for (i, (number, promised_on)) in promises.iter().enumerate() {
        let field = format!("promises[{i}].line_number");
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
            let date = promised_on.filter(|date| row.placed_on.is_some_and(|day| *date < day));
            if let Some(date) = date {
                let message = format!("{date} is before the line was placed");
                faults.push(format!("promises[{i}].promised_on"), Reason::DateInvalid, message);
            }
            rows.push((row, *promised_on));
        }
    }
    let lines: Vec<OrderLine> = rows.iter().map(|(row, _)| row.clone()).collect();
    not_before_placing(&mut faults, &lines, day);
    faults.check()?;
    let mut parts = Vec::new();
    for (mut row, promised_on) in rows {
        parts.push(row.part);
        row.acknowledged_on = Some(row.acknowledged_on.map_or(day, |first| first.min(day)));
        row.last_contact_on = row.last_contact_on.max(Some(day));
        let before = row.promises.last().map(|promise| promise.promised_on);
        let number = row.number;
        let part = work.book.part_number(row.part);
        let text = match (promised_on, before) {
            (None, _) => format!("Line {number}, {part}: acknowledged without a date"),
            (Some(date), None) => format!("Line {number}, {part}: promised for {date}"),
            (Some(date), Some(old)) if old == date => {
                format!("Line {number}, {part}: still promised for {date}")
            }
            (Some(date), Some(old)) => {
                format!("Line {number}, {part}: promise moved from {old} to {date}")
            }
        };
        if let Some(promised_on) = promised_on {
            row.promises.push(Promise { promised_on, known_on: day });
        }
        work.change(Change::OrderLine(row));
        say_order(work, &order, number, text);
    }
    if !reference.trim().is_empty() {
        let supplier_reference = reference.trim().to_owned();
        work.change(Change::Order(Order { supplier_reference, ..order.clone() }));
    }
    touch(work, order.id);
    bind_parts(work, parts);
    Ok(Subject::Order(order.id))
}

fn despatch(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[i32],
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let order = found_order(work, &mut faults, order)?;
    let fits = |line: &OrderLine| open(line) && line.despatched_on.is_none();
    let rows = named(work, &mut faults, &order, lines, "despatched", fits);
    not_before_placing(&mut faults, &rows, day);
    faults.check()?;
    let mut parts = Vec::new();
    for row in rows {
        parts.push(row.part);
        let last_contact_on = row.last_contact_on.max(Some(day));
        let text = format!(
            "Line {}, {}: goods left on {day}",
            row.number,
            work.book.part_number(row.part)
        );
        let number = row.number;
        work.change(Change::OrderLine(OrderLine {
            despatched_on: Some(day),
            last_contact_on,
            ..row
        }));
        say_order(work, &order, number, text);
    }
    touch(work, order.id);
    bind_parts(work, parts);
    Ok(Subject::Order(order.id))
}

fn contact(
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
    let rows = named(work, &mut faults, &order, lines, "asked about", open);
    not_before_placing(&mut faults, &rows, day);
    faults.check()?;
    let asked = match lines.is_empty() {
        true => String::new(),
        false => {
            let numbers: Vec<_> = rows.iter().map(|row| row.number.to_string()).collect();
            let noun = if rows.len() == 1 { "line" } else { "lines" };
            format!(" {noun} {}", numbers.join(", "))
        }
    };
    for row in rows {
        let last_contact_on = row.last_contact_on.max(Some(day));
        work.change(Change::OrderLine(OrderLine { last_contact_on, ..row }));
    }
    let note = match note.trim() {
        "" => String::new(),
        note => format!(": {note}"),
    };
    let text = format!("Order {}{asked} known to be open on {day}{note}", order.number);
    say_order(work, &order, 0, text);
    touch(work, order.id);
    Ok(Subject::Order(order.id))
}

struct Cancelling<'a> {
    quantity: Option<Quantity>,
    by: CancelledBy,
    reason: &'a str,
}

fn cancel(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[i32],
    how: &Cancelling<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::text(&mut faults, "reason", how.reason, true);
    let order = found_order(work, &mut faults, order)?;
    let fits = |line: &OrderLine| line.outstanding().is_positive();
    let rows = named(work, &mut faults, &order, lines, "cancelled", fits);
    not_before_placing(&mut faults, &rows, day);
    if let Some(quantity) = how.quantity {
        check::positive(&mut faults, "quantity", quantity);
        if lines.len() != 1 {
            let message = "a quantity goes with exactly one line";
            faults.push("quantity", Reason::ValueInvalid, message);
        } else if let Some(row) = rows.first().filter(|row| quantity > row.outstanding()) {
            let left = work.amount(row.part, row.outstanding());
            let message = format!("only {left} still on order, not {quantity}");
            faults.push("quantity", Reason::OverCancel, message);
        }
    }
    faults.check()?;
    let mut parts = BTreeSet::new();
    for mut row in rows {
        let gone = how.quantity.unwrap_or_else(|| row.outstanding());
        let (id, part, number) = (row.id, row.part, row.number);
        parts.insert(part);
        let left = row.on_order() - gone;
        let who = match how.by {
            CancelledBy::Us => {
                row.cancelled_by_us += gone;
                "by us"
            }
            CancelledBy::Supplier => {
                row.cancelled_by_supplier += gone;
                "by the supplier"
            }
        };
        let text = format!(
            "Line {number}: {} of {} cancelled {who}: {}",
            work.amount(part, gone),
            work.book.part_number(part),
            how.reason.trim()
        );
        say_order(work, &order, number, text);
        shrink_pegs(work, id, left.or_zero(), ": the order was cancelled");
        if row.outstanding().is_zero() {
            row.closed_on = Some(day);
        }
        work.change(Change::OrderLine(row));
    }
    touch(work, order.id);
    for part in parts {
        bind_part(work, part);
        super::lines::say_short(work, short_lines(work, part));
    }
    Ok(Subject::Order(order.id))
}

fn short_lines(work: &Work<'_, '_>, part: PartId) -> Vec<LineId> {
    let lines = work.book.lines.values();
    lines.filter(|line| line.part == part).map(|line| line.id).collect()
}
