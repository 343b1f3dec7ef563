//! Drafts of what is suggested, made in one step.
//!
//! They are decided on the book of the transaction, so that what somebody drafted or placed a
//! moment ago is not drafted again.

use super::create::create;
use crate::book::Book;
use crate::command::NewOrderLine;
use crate::decide::Subject;
use crate::decide::effect::{Effect, ShopEffect};
use crate::decide::work::Work;
use crate::ids::SupplierId;
use crate::limits::LINES_MAX;
use crate::number::Number;
use crate::ordering::{PartNeed, order_quantity, part_needs, stock_need};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Characters of a supplier's code in the number of its draft.
const CODE_CHARS_MAX: usize = 40;

pub(super) fn draft_suggested(
    work: &mut Work<'_, '_>,
    supplier: Option<&Ref>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let only = supplier.and_then(|supplier| {
        faults.take("supplier", work.book.find_supplier(supplier)).map(|row| row.id)
    });
    faults.check()?;
    let mut orders: BTreeMap<(Number, SupplierId), Vec<NewOrderLine>> = BTreeMap::new();
    let needs = part_needs(work.book);
    for need in &needs {
        let quantity = need.to_order();
        let offer = need.offer.filter(|_| need.why_not.is_none() && quantity.is_positive());
        let Some(offer) = offer.and_then(|id| work.book.offers.get(&id)) else { continue };
        if only.is_some_and(|only| only != offer.supplier) {
            continue;
        }
        let Some(row) = work.book.suppliers.get(&offer.supplier) else { continue };
        let line = need.only_line().and_then(|id| work.book.lines.get(&id));
        let line = NewOrderLine {
            part: Ref::Uid(need.part.0),
            quantity: order_quantity(offer, quantity),
            unit: None,
            price: None,
            for_line: line.map(|line| (Ref::Uid(line.build.0), line.number)),
        };
        orders.entry((row.code.clone(), row.id)).or_default().push(line);
    }
    for_stock(work, only, &needs, &mut orders);
    if orders.is_empty() {
        work.effect(Effect::Shop(ShopEffect::NothingToDraft));
        return Ok(Subject::None);
    }
    for ((code, supplier), lines) in orders {
        for lines in lines.chunks(LINES_MAX) {
            let number = free_number(work.book, work.context.today, &code)?;
            create(work, &number, &Ref::Uid(supplier.0), lines, None)?;
        }
    }
    Ok(Subject::None)
}

/// Adds what parts that are kept in stock lack. When they are ordered was reckoned by whoever sent the
/// command; what there is of them is read from the book of the transaction.
fn for_stock(
    work: &Work<'_, '_>,
    only: Option<SupplierId>,
    shortages: &[PartNeed],
    orders: &mut BTreeMap<(Number, SupplierId), Vec<NewOrderLine>>,
) {
    for point in work.context.stock_points {
        let stocked = work.book.parts.get(&point.part).is_some_and(|part| part.stocked.is_some());
        let Some(offer) = work.book.best_offer(point.part).filter(|_| stocked) else { continue };
        let need = stock_need(work.book, point, shortages);
        if !need.to_order.is_positive() || only.is_some_and(|only| only != offer.supplier) {
            continue;
        }
        let Some(row) = work.book.suppliers.get(&offer.supplier) else { continue };
        let line = NewOrderLine {
            part: Ref::Uid(point.part.0),
            quantity: order_quantity(offer, need.to_order),
            unit: None,
            price: None,
            for_line: None,
        };
        orders.entry((row.code.clone(), row.id)).or_default().push(line);
    }
}

/// `S-20260914-CORRIE`, with `-2`, `-3` and so on where that is taken.
fn free_number(book: &Book, today: Date, code: &Number) -> Result<Number, Refusal> {
    let code: String = code.written().chars().take(CODE_CHARS_MAX).collect();
    let day = today.strftime("%Y%m%d");
    for n in 1..=book.orders.len() + 1 {
        let text = match n {
            1 => format!("S-{day}-{code}"),
            n => format!("S-{day}-{code}-{n}"),
        };
        let number = Number::parse(&text).map_err(|error| {
            Refusal::new(Reason::ValueInvalid, format!("order number \"{text}\" {error}"))
        })?;
        if book.find_order(&Ref::Number(number.clone())).is_err() {
            return Ok(number);
        }
    }
    Err(Refusal::new(Reason::OrderExists, format!("every number S-{day}-{code} is taken")))
}
