//! A new order: a draft, or placed at once.

use super::place::place;
use super::{on_order, package};
use crate::book::Change;
use crate::book::model::{Order, OrderLine, Supplier};
use crate::command::NewOrderLine;
use crate::decide::effect::{Caution, OrderEffect};
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::ids::{LineId, OrderId, OrderLineId, PartId};
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

/// One line of a new order, checked.
struct NewRow {
    part: PartId,
    quantity: Quantity,
    price: Option<crate::money::Money>,
    quoted_days: Option<u32>,
    for_line: Option<LineId>,
    /// The pieces of a package, for the whole quantity; empty: not a package.
    pieces: Vec<(PartId, Quantity)>,
}

fn new_rows(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    supplier: Option<&Supplier>,
    lines: &[NewOrderLine],
) -> Vec<NewRow> {
    let mut rows = Vec::new();
    for (i, new) in lines.iter().enumerate() {
        check::positive(faults, nth("lines", i).then("quantity"), new.quantity);
        if let Some(price) = new.price.filter(|price| price.ten_thousandths < 0) {
            let message = format!("{price} is below 0");
            faults.push(nth("lines", i).then("price"), Reason::MoneyInvalid, message);
        }
        let part = faults.take(nth("lines", i).then("part"), work.book.find_part(&new.part));
        if let Some(part) = part {
            check::unit(faults, nth("lines", i).then("unit_code"), part, new.unit);
        }
        let mut for_line = None;
        if let Some((build, number)) = &new.for_line {
            let field = nth("lines", i).then("for_line");
            let build = faults.take(field.then("build"), work.book.find_build(build));
            let line = build.and_then(|build| {
                let found = work.book.find_line(build, *number);
                faults.take(field.then("line_number"), found)
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
            if let Some(line) = line.filter(|line| line.customer_supplied) {
                let message =
                    format!("line {} is brought by the customer, not ordered", line.number);
                faults.push(nth("lines", i).then("for_line"), Reason::ValueInvalid, message);
            }
            for_line = line.map(|line| line.id);
        }
        let Some(part) = part else { continue };
        let offer = supplier.and_then(|supplier| work.book.offer_of(supplier.id, part.id));
        if part.is_kit() && new.quantity.milli() % 1000 != 0 {
            let message = format!("part {} is a package: order whole ones", part.number);
            faults.push(nth("lines", i).then("quantity"), Reason::QuantityInvalid, message);
            continue;
        }
        let pieces = package::pieces(work, part, new.quantity);
        let pieces = pieces.map_err(|refusal| (refusal.reason, refusal.message));
        let Some(pieces) = faults.take(nth("lines", i).then("quantity"), pieces) else { continue };
        rows.push(NewRow {
            part: part.id,
            quantity: new.quantity,
            price: new.price.or(offer.and_then(|offer| offer.price)),
            quoted_days: offer.and_then(|offer| offer.quoted_days),
            for_line,
            pieces,
        });
    }
    rows
}

pub(super) fn create(
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
    let supplier = faults.whole(supplier)?;
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
    let mut next = 1;
    for row in rows {
        say_terms(work, &supplier, &row);
        let number = next;
        next += 1;
        let package = !row.pieces.is_empty();
        let line = OrderLineId(work.fresh());
        work.change(Change::OrderLine(OrderLine {
            price: row.price,
            quoted_days: row.quoted_days,
            for_line: row.for_line,
            package,
            ..blank(line, id, number, row.part, row.quantity)
        }));
        for (part, quantity) in row.pieces {
            let piece = OrderLineId(work.fresh());
            work.change(Change::OrderLine(OrderLine {
                quoted_days: row.quoted_days,
                for_line: row.for_line.and_then(|kit| package::line_of(work, kit, part)),
                package_line: number,
                ..blank(piece, id, next, part, quantity)
            }));
            next += 1;
        }
    }
    on_order(work, id, OrderEffect::Drafted { lines: count });
    if let Some(day) = placed_on {
        place(work, &order, day);
    }
    Ok(Subject::Order(id))
}

/// An order line of which nothing but its part and quantity is known.
pub(in crate::decide) fn blank(
    id: OrderLineId,
    order: OrderId,
    number: i32,
    part: PartId,
    ordered: Quantity,
) -> OrderLine {
    OrderLine {
        id,
        order,
        number,
        part,
        ordered,
        received: Quantity::ZERO,
        over_accepted: Quantity::ZERO,
        cancelled_by_us: Quantity::ZERO,
        cancelled_by_supplier: Quantity::ZERO,
        price: None,
        quoted_days: None,
        placed_on: None,
        acknowledged_on: None,
        despatched_on: None,
        last_contact_on: None,
        closed_on: None,
        for_line: None,
        promises: Vec::new(),
        taken_back: Vec::new(),
        package_line: 0,
        package: false,
        rejected: Quantity::ZERO,
    }
}

/// Says where a line does not fit the offer's pack size or minimum.
fn say_terms(work: &mut Work<'_, '_>, supplier: &Supplier, row: &NewRow) {
    let Some(offer) = work.book.offer_of(supplier.id, row.part) else { return };
    let NewRow { part, quantity, .. } = *row;
    let minimum = offer.minimum_quantity.filter(|least| quantity < *least);
    let uneven = |pack: &Quantity| pack.is_positive() && quantity.milli() % pack.milli() != 0;
    let pack = offer.pack_size.filter(uneven);
    if minimum.is_some() || pack.is_some() {
        work.caution(Caution::Terms { supplier: supplier.id, part, quantity, minimum, pack });
    }
}
