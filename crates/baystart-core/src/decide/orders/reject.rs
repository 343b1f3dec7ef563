//! Goods that are not as ordered: refused at the door, sent back, or set aside.

use super::named::found_order;
use super::place::peg_for;
use super::{on_line, package, touch};
use crate::book::Change;
use crate::book::model::{Account, MovementKind, Order, OrderLine, StockKey};
use crate::command::{Rejection, Settlement};
use crate::decide::binding_rule::bind_part;
use crate::decide::displace::{make_room, shrink_pegs};
use crate::decide::effect::{OrderLineEffect, StockEffect, Why};
use crate::decide::ledger::{Booking, post, too_little};
use crate::decide::work::{Work, say_short};
use crate::decide::{Subject, check};
use crate::ids::{BinId, LineId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// What is rejected, how, and what comes of it.
pub(super) struct Rejecting<'a> {
    pub(super) quantity: Quantity,
    pub(super) how: &'a Rejection,
    pub(super) settlement: Settlement,
    pub(super) reason: &'a str,
}

/// Stock that goes, checked.
struct Spot {
    bin: BinId,
    key: StockKey,
}

pub(super) fn reject(
    work: &mut Work<'_, '_>,
    order: &Ref,
    number: i32,
    what: &Rejecting<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::positive(&mut faults, "quantity", what.quantity);
    check::text(&mut faults, "reason", what.reason, true);
    let order = found_order(work, &mut faults, order)?;
    let found = work.book.find_order_line(&order, number).cloned();
    let row = faults.take("line_number", found);
    if let Some(row) = &row {
        named(work, &mut faults, &order, row, day);
    }
    let spot = row.as_ref().and_then(|row| spot(work, &mut faults, row, what.how));
    let (mut row, spot) = faults.whole((row, spot))?;
    fits(work, &row, what)?;
    let mut hurt = Vec::new();
    if let Some(spot) = spot {
        hurt = book_out(work, &order, &row, &spot, what, day)?;
        row.received -= what.quantity;
    }
    row.rejected += what.quantity;
    row.last_contact_on = row.last_contact_on.max(Some(day));
    match what.settlement {
        Settlement::Redelivery => row.despatched_on = None,
        Settlement::Credit => {
            let gone = what.quantity.min(row.outstanding());
            shrink_pegs(work, row.id, (row.on_order() - gone).or_zero(), &Why::WillNotCome);
            row.cancelled_by_supplier += gone;
        }
    }
    row.closed_on = row.closed_on.filter(|_| row.outstanding().is_zero());
    if row.outstanding().is_zero() && row.closed_on.is_none() {
        row.closed_on = Some(day);
    }
    let (id, part, for_line) = (row.id, row.part, row.for_line);
    work.change(Change::OrderLine(row));
    let Rejecting { quantity, settlement, .. } = *what;
    let reason = what.reason.trim().to_owned();
    on_line(work, id, OrderLineEffect::Rejected { quantity, settlement, reason });
    package::settle(work, order.id, day);
    touch(work, order.id);
    if let Some(line) = for_line.filter(|_| what.settlement == Settlement::Redelivery) {
        peg_for(work, line, id);
    }
    bind_part(work, part);
    let lines = work.book.lines_for_part(part).map(|line| line.id);
    hurt.extend(lines.collect::<Vec<_>>());
    hurt.sort();
    hurt.dedup();
    say_short(work, hurt);
    Ok(Subject::Order(order.id))
}

/// Notes a line of which nothing can be rejected.
fn named(work: &Work<'_, '_>, faults: &mut Faults, order: &Order, row: &OrderLine, day: Date) {
    let label = format!("line {} of order {}", row.number, order.number);
    if row.package {
        let part = work.book.part_number(row.part);
        let message = format!("{label} is package {part}: name the piece");
        faults.push("line_number", Reason::KitNotStocked, message);
    }
    match row.placed_on {
        None => {
            let message = format!("{label} was never placed");
            faults.push("line_number", Reason::OrderLineState, message);
        }
        Some(placed) if day < placed => {
            let message = format!("{day} is before {label} was placed, {placed}");
            faults.push("occurred_on", Reason::DateInvalid, message);
        }
        Some(_) => {}
    }
}

/// Where what is rejected lies, which nothing does that was refused at the door.
#[allow(clippy::option_option)]
fn spot(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    row: &OrderLine,
    how: &Rejection,
) -> Option<Option<Spot>> {
    let (bin, lot) = match how {
        Rejection::Refused => return Some(None),
        Rejection::SentBack { bin, lot, .. } | Rejection::Quarantined { bin, lot } => (bin, lot),
    };
    let bin = faults.take("bin", work.book.find_bin(bin).map(|bin| bin.id));
    let part = work.book.parts.get(&row.part)?;
    let lot = check::lot(faults, "lot", part, lot);
    Some(Some(Spot { bin: bin?, key: StockKey { part: row.part, lot } }))
}

fn fits(work: &Work<'_, '_>, row: &OrderLine, what: &Rejecting<'_>) -> Result<(), Refusal> {
    let (most, stands, value) = match what.how {
        Rejection::Refused => (row.on_order(), "still on order", "on_order"),
        _ => (row.received, "received", "received"),
    };
    if what.quantity <= most {
        return Ok(());
    }
    let message = format!(
        "{} of line {} is {stands}, less than the {} rejected",
        work.amount(row.part, most),
        row.number,
        what.quantity
    );
    Err(Refusal::new(Reason::OverReject, message).with(value, most))
}

/// Books the goods out of usable stock; returns the lines that lost something by it.
fn book_out(
    work: &mut Work<'_, '_>,
    order: &Order,
    row: &OrderLine,
    spot: &Spot,
    what: &Rejecting<'_>,
    day: Date,
) -> Result<Vec<LineId>, Refusal> {
    let Spot { bin, key } = spot;
    let balance = work.book.balances.get(&(key.clone(), *bin)).copied().unwrap_or_default();
    let (from, to, kind, sent_back) = match what.how {
        Rejection::SentBack { from_quarantine: true, .. } => (
            Account::Quarantine(*bin),
            Account::Supplier(order.supplier),
            MovementKind::ReturnToSupplier,
            true,
        ),
        Rejection::SentBack { .. } => (
            Account::Bin(*bin),
            Account::Supplier(order.supplier),
            MovementKind::ReturnToSupplier,
            true,
        ),
        _ => (Account::Bin(*bin), Account::Quarantine(*bin), MovementKind::Quarantine, false),
    };
    let (has, kind_of_stock) = match from {
        Account::Quarantine(_) => (balance.quarantined, "quarantined"),
        _ => (balance.usable, "usable"),
    };
    if has < what.quantity {
        return Err(too_little(work, key, *bin, what.quantity, has, kind_of_stock));
    }
    let displaced = match from {
        Account::Bin(_) => make_room(work, key, what.quantity),
        _ => Vec::new(),
    };
    let booking = Booking { kind, day, reason: what.reason, line: None, order_line: Some(row.id) };
    post(work, key, from, to, what.quantity, &booking);
    work.on_stock(key, *bin, what.quantity, StockEffect::Rejected { sent_back });
    Ok(displaced)
}
