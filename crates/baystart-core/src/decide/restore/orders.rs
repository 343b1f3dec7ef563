//! Open orders as they stood.

use crate::book::Change;
use crate::book::model::{Order, OrderLine, Part, Promise, Supplier, TakenBack};
use crate::decide::orders::{blank, line_of, pieces};
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::ids::{LineId, OrderId, OrderLineId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use crate::restore::{RestoredOrder, RestoredOrderLine};
use jiff::civil::Date;

pub(super) fn restore(work: &mut Work<'_, '_>, new: &RestoredOrder) -> Result<Subject, Refusal> {
    let mut lengths = Faults::new();
    check::count(&mut lengths, "lines", new.lines.len(), false);
    // Before the lines are looked through, each beside each.
    lengths.check()?;
    let mut faults = Faults::new();
    check::count(&mut faults, "lines", new.lines.len(), true);
    check::text(&mut faults, "supplier_reference", &new.supplier_reference, false);
    let supplier = faults.take("supplier", work.book.find_supplier(&new.supplier).cloned());
    let id = OrderId(work.fresh());
    let mut rows = Vec::new();
    for i in 0..new.lines.len() {
        rows.extend(row(work, &mut faults, supplier.as_ref(), (id, i), new));
    }
    let pieces = listed_pieces(work, &mut faults, id, new, &rows);
    let supplier = faults.whole(supplier)?;
    if let Ok(old) = work.book.find_order(&Ref::Number(new.number.clone())) {
        let message = format!("order {} exists already", old.number);
        return Err(Refusal::new(Reason::OrderExists, message));
    }
    work.change(Change::Order(Order {
        id,
        number: new.number.clone(),
        supplier: supplier.id,
        supplier_reference: new.supplier_reference.trim().to_owned(),
        version: 1,
    }));
    for row in rows.into_iter().chain(pieces) {
        work.change(Change::OrderLine(row));
    }
    Ok(Subject::Order(id))
}

fn row(
    work: &mut Work<'_, '_>,
    faults: &mut Faults,
    supplier: Option<&Supplier>,
    (order, i): (OrderId, usize),
    new: &RestoredOrder,
) -> Option<OrderLine> {
    let line = new.lines.get(i)?;
    let at = |field: &'static str| nth("lines", i).then(field);
    let before = new.lines.get(..i).unwrap_or_default();
    if line.number < 1 || before.iter().any(|other| other.number == line.number) {
        let message = format!("{} is no new number of a line", line.number);
        faults.push(at("line"), Reason::DuplicateLine, message);
    }
    check::positive(faults, at("quantity"), line.quantity);
    if line.rejected.is_negative() {
        let message = format!("{} is below 0", line.rejected);
        faults.push(at("rejected"), Reason::QuantityInvalid, message);
    }
    if let Some(price) = line.price.filter(|price| price.ten_thousandths < 0) {
        let message = format!("{price} is below 0");
        faults.push(at("price"), Reason::MoneyInvalid, message);
    }
    dates(work, faults, i, line);
    let id = OrderLineId(work.fresh());
    let part = faults.take(at("part"), work.book.find_part(&line.part).cloned())?;
    packages(faults, i, line, &part, new);
    let for_line = for_line(work, faults, i, line);
    let sold_as = new.lines.iter().find(|head| head.number == line.package_line);
    let sold_as = sold_as.and_then(|head| work.book.find_part(&head.part).ok().map(|p| p.id));
    let offer =
        supplier.and_then(|supplier| work.book.offer_of(supplier.id, sold_as.unwrap_or(part.id)));
    let price = offer
        .and_then(|offer| offer.price)
        .filter(|_| line.package_line == 0 && line.quoted_days.is_none());
    let known = [line.placed_on, line.acknowledged_on, line.despatched_on];
    let known = known.into_iter().chain(line.promises.last().map(|last| Some(last.known_on)));
    Some(OrderLine {
        price: line.price.or(price),
        quoted_days: line.quoted_days.unwrap_or(offer.and_then(|offer| offer.quoted_days)),
        placed_on: line.placed_on,
        acknowledged_on: line.acknowledged_on,
        despatched_on: line.despatched_on,
        last_contact_on: line.last_contact_on.or(known.max().flatten()),
        for_line,
        promises: line.promises.clone(),
        taken_back: taken_back(line),
        package_line: line.package_line,
        package: part.is_kit(),
        rejected: line.rejected,
        ..blank(id, order, line.number, part.id, line.quantity)
    })
}

/// What was taken back, each in its place among all promises as they became known.
fn taken_back(line: &RestoredOrderLine) -> Vec<TakenBack> {
    let mut rows = line.taken_back.clone();
    rows.sort_by_key(|(promise, _)| promise.known_on);
    let place = |(i, (promise, on)): (usize, (Promise, Date))| {
        let known = line.promises.iter().filter(|other| other.known_on <= promise.known_on);
        TakenBack { promise, place: known.count() + i, on, reason: String::new() }
    };
    rows.into_iter().enumerate().map(place).collect()
}

fn dates(work: &Work<'_, '_>, faults: &mut Faults, i: usize, line: &RestoredOrderLine) {
    let today = work.context.today;
    let known = |promise: &Promise| ("promise_known_on", Some(promise.known_on));
    let days: [(&str, Option<Date>); 4] = [
        ("placed_on", line.placed_on),
        ("acknowledged_on", line.acknowledged_on),
        ("despatched_on", line.despatched_on),
        ("last_contact_on", line.last_contact_on),
    ];
    let taken = line.taken_back.iter().flat_map(|(promise, on)| {
        [("taken_back", Some(promise.known_on)), ("taken_back", Some(*on))]
    });
    for (field, day) in days.into_iter().chain(line.promises.iter().map(known)).chain(taken) {
        let Some(day) = day else { continue };
        let field = nth("lines", i).then(field);
        match line.placed_on {
            _ if day > today => {
                let message = format!("{day} is after today, {today}");
                faults.push(field, Reason::DateInFuture, message);
            }
            None => {
                let message = "the order is a draft: the supplier has no part in it";
                faults.push(field, Reason::OrderLineState, message);
            }
            Some(placed) if day < placed => {
                let message = format!("{day} is before the line was placed, {placed}");
                faults.push(field, Reason::DateInvalid, message);
            }
            Some(_) => {}
        }
    }
}

/// Notes pieces of no package, and packages of parts of one.
fn packages(
    faults: &mut Faults,
    i: usize,
    line: &RestoredOrderLine,
    part: &Part,
    new: &RestoredOrder,
) {
    let has_pieces = new.lines.iter().any(|piece| piece.package_line == line.number);
    if (part.is_kit() || has_pieces) && line.quantity.milli() % 1000 != 0 {
        let message = format!("part {} is a package: whole ones are ordered", part.number);
        faults.push(nth("lines", i).then("quantity"), Reason::QuantityInvalid, message);
    }
    if has_pieces && !part.is_kit() {
        let message =
            format!("part {} is no kit, but line {} has pieces", part.number, line.number);
        faults.push(nth("lines", i).then("part"), Reason::ValueInvalid, message);
    }
    if line.package_line == 0 {
        return;
    }
    if part.is_kit() {
        let message = format!("part {} is a kit: name its own pieces", part.number);
        faults.push(nth("lines", i).then("part"), Reason::KitNotStocked, message);
    }
    if !new.lines.iter().any(|head| head.number == line.package_line) {
        let message = format!("the order has no line {}", line.package_line);
        faults.push(nth("lines", i).then("package_line"), Reason::LineUnknown, message);
    }
}

fn for_line(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    i: usize,
    line: &RestoredOrderLine,
) -> Option<LineId> {
    let (build, number) = line.for_line.as_ref()?;
    let build = faults.take(nth("lines", i).then("for_build"), work.book.find_build(build))?;
    let found = work.book.find_line(build, *number).map(|line| line.id);
    faults.take(nth("lines", i).then("for_line"), found)
}

/// The pieces, by their kits' lists, of packages that name none.
fn listed_pieces(
    work: &mut Work<'_, '_>,
    faults: &mut Faults,
    order: OrderId,
    new: &RestoredOrder,
    rows: &[OrderLine],
) -> Vec<OrderLine> {
    let mut next = new.lines.iter().map(|line| line.number).max().unwrap_or(0) + 1;
    let mut found = Vec::new();
    for head in rows.iter().filter(|row| row.package) {
        if rows.iter().any(|row| row.package_line == head.number) {
            continue;
        }
        let Some(kit) = work.book.parts.get(&head.part).cloned() else { continue };
        let listed = pieces(work, &kit, head.ordered);
        let at = new.lines.iter().position(|line| line.number == head.number).unwrap_or(0);
        let listed = listed.map_err(|refusal| (refusal.reason, refusal.message));
        let Some(listed) = faults.take(nth("lines", at).then("quantity"), listed) else { continue };
        for (part, quantity) in listed {
            let id = OrderLineId(work.fresh());
            found.push(OrderLine {
                for_line: head.for_line.and_then(|kit| line_of(work, kit, part)),
                package: false,
                package_line: head.number,
                price: None,
                rejected: Quantity::ZERO,
                id,
                number: next,
                part,
                ordered: quantity,
                order,
                ..head.clone()
            });
            next += 1;
        }
    }
    found
}
