//! Goods of an order come in and go to the builds that they are pegged to.

use super::{package, touch};
use crate::book::Change;
use crate::book::model::{
    Account, MovementKind, Order, OrderLine, OrderLineState, Part, Peg, StockKey,
};
use crate::command::ReceiptLine;
use crate::decide::binding_rule::{bind_part, reserve};
use crate::decide::displace::place_in_service;
use crate::decide::effect::{Caution, LineEffect, StockEffect};
use crate::decide::ledger::{Booking, lot_facts, post, say_handling};
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::ids::BinId;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

/// One receipt, checked.
struct Receipt {
    row: OrderLine,
    part: Part,
    key: StockKey,
    bin: BinId,
    quantity: Quantity,
    over: Quantity,
    over_accepted_by: String,
    expires_on: Option<Date>,
}

pub(super) fn receive(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[ReceiptLine],
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::count(&mut faults, "lines", lines.len(), true);
    let order = faults.take("order", work.book.find_order(order).cloned());
    let mut receipts = Vec::new();
    if let Some(order) = &order {
        let lines = package::pieces_of(work, &mut faults, order, lines);
        for (i, line) in lines.iter().enumerate() {
            let earlier: &[Receipt] = &receipts;
            receipts.extend(checked(work, &mut faults, order, (i, line), earlier, day));
        }
    }
    let order = faults.whole(order)?;
    for receipt in &receipts {
        accept(work, &order, receipt, day);
    }
    package::settle(work, order.id, day);
    for receipt in &receipts {
        bind_part(work, receipt.part.id);
    }
    touch(work, order.id);
    Ok(Subject::Order(order.id))
}

fn checked(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    order: &Order,
    (i, line): (usize, &ReceiptLine),
    earlier: &[Receipt],
    day: Date,
) -> Option<Receipt> {
    let at = |field: &'static str| nth("lines", i).then(field);
    let bin = faults.take(at("bin"), work.book.find_bin(&line.bin).map(|bin| bin.id));
    let found = work.book.find_order_line(order, line.line).cloned();
    let row = faults.take(at("line_number"), found)?;
    let part = work.book.parts.get(&row.part)?.clone();
    let lot = check::lot(faults, at("lot"), &part, &line.lot);
    let state = row.state();
    let label = format!("line {} of order {}", row.number, order.number);
    if row.placed_on.is_none() {
        let message = format!("{label} was never placed: nothing of it is on order");
        faults.push(at("line_number"), Reason::OrderLineState, message);
        return None;
    }
    match state {
        OrderLineState::Received | OrderLineState::Cancelled if line.over_accepted_by.is_none() => {
            let message = format!("{label} is {}: nothing of it is on order", state.text());
            faults.push(at("line_number"), Reason::OrderLineState, message);
            return None;
        }
        _ => {}
    }
    if let Some(placed) = row.placed_on.filter(|placed| day < *placed) {
        let message = format!("{day} is before {label} was placed, {placed}");
        faults.push("occurred_on", Reason::DateInvalid, message);
    }
    let twice = |other: &&Receipt| other.row.id == row.id;
    let before: Quantity = earlier.iter().filter(twice).map(|other| other.quantity).sum();
    let left = (row.on_order() - before).or_zero();
    let quantity = line.quantity.unwrap_or(left);
    check::positive(faults, at("quantity"), quantity);
    let over = (quantity - left).or_zero();
    let accepted_by = line.over_accepted_by.as_deref().unwrap_or("").trim().to_owned();
    if over.is_positive() && accepted_by.is_empty() {
        let message = format!(
            "{quantity} are more than the {} still on order on {label}",
            work.amount(row.part, left)
        );
        faults.push(at("quantity"), Reason::OverReceipt, message);
    }
    Some(Receipt {
        key: StockKey { part: part.id, lot },
        row,
        part,
        bin: bin?,
        quantity,
        over,
        over_accepted_by: accepted_by,
        expires_on: line.expires_on,
    })
}

fn accept(work: &mut Work<'_, '_>, order: &Order, receipt: &Receipt, day: Date) {
    let Some(mut row) = work.book.order_lines.get(&receipt.row.id).cloned() else { return };
    let key = &receipt.key;
    lot_facts(work, key, receipt.expires_on, day);
    let reason = match receipt.over.is_positive() {
        true => format!("over-delivery accepted by {}", receipt.over_accepted_by),
        false => String::new(),
    };
    let booking = Booking {
        kind: MovementKind::Receipt,
        day,
        reason: &reason,
        line: None,
        order_line: Some(row.id),
    };
    let from = Account::Supplier(order.supplier);
    post(work, key, from, Account::Bin(receipt.bin), receipt.quantity, &booking);
    work.on_stock(key, receipt.bin, receipt.quantity, StockEffect::Delivered { on: row.id });
    say_handling(work, &receipt.part);
    if receipt.over.is_positive() {
        let (part, over) = (key.part, receipt.over);
        let accepted_by = receipt.over_accepted_by.clone();
        work.caution(Caution::OverDelivered { part, over, accepted_by });
    }

    hand_over(work, &row, receipt);
    row.received += receipt.quantity;
    row.over_accepted += receipt.over;
    row.last_contact_on = row.last_contact_on.max(Some(day));
    // An over-delivery that comes later does not move the day of completion.
    if row.outstanding().is_zero() && row.closed_on.is_none() {
        row.closed_on = Some(day);
    }
    work.change(Change::OrderLine(row));
}

/// Turns pegs on the order line into reservations of what came: kept pegs
/// first, then in the order of service.
fn hand_over(work: &mut Work<'_, '_>, row: &OrderLine, receipt: &Receipt) {
    let mut left = receipt.quantity;
    let mut pegs: Vec<_> = work
        .book
        .pegs_on(row.id)
        .map(|peg| (!peg.kept, place_in_service(work, peg.line), *peg))
        .collect();
    pegs.sort_by(|a, b| (&a.0, &a.1, a.2.line).cmp(&(&b.0, &b.1, b.2.line)));
    for (_, _, peg) in pegs {
        let taken = peg.quantity.min(left);
        if taken.is_zero() {
            return;
        }
        left -= taken;
        let Some(line) = work.book.lines.get(&peg.line).cloned() else { continue };
        work.change(Change::Peg(Peg { quantity: peg.quantity - taken, ..peg }));
        reserve(work, &line, receipt.key.clone(), taken);
        work.on_line(&line, taken, LineEffect::Arrived);
    }
}
