//! Giving back what lines hold, when the stock or the supply under it goes.

use super::effect::{Caution, LineEffect, Why};
use super::work::Work;
use crate::book::Change;
use crate::book::model::{Peg, Reservation, StockKey};
use crate::ids::{LineId, OrderLineId, ReservationId};
use crate::quantity::Quantity;

/// Gives back part of a reservation.
pub(super) fn release(work: &mut Work<'_, '_>, id: ReservationId, quantity: Quantity, why: Why) {
    let Some(row) = work.book.reservations.get(&id).cloned() else { return };
    let Some(line) = work.book.lines.get(&row.line).cloned() else { return };
    let released = row.released + quantity;
    let held = row.held - quantity;
    let key = row.key.clone();
    work.change(Change::Reservation(Reservation { held, released, ..row }));
    let given_back = !why.displaces();
    work.on_line(&line, quantity, LineEffect::Released { lot: key.lot.clone(), why });
    if line.customer_supplied && given_back {
        work.caution(Caution::CustomersOwn { key, quantity });
    }
}

/// Takes part of a peg away.
pub(super) fn unpeg(
    work: &mut Work<'_, '_>,
    key: (LineId, OrderLineId),
    quantity: Quantity,
    why: Why,
) {
    let Some(peg) = work.book.pegs.get(&key).copied() else { return };
    let Some(line) = work.book.lines.get(&peg.line).cloned() else { return };
    work.change(Change::Peg(Peg { quantity: peg.quantity - quantity, ..peg }));
    work.on_line(&line, quantity, LineEffect::Unpegged { from: peg.order_line, why });
}

/// Gives back what a line holds beyond its need: pegs that nobody asked to
/// keep first, then the others, then reserved stock.
pub(super) fn trim(work: &mut Work<'_, '_>, line: LineId) {
    let Some(row) = work.book.lines.get(&line).cloned() else { return };
    let bound = work.book.held_for(line) + work.book.pegged_for(line);
    let mut excess = (bound - work.book.open_need(&row)).or_zero();
    let mut pegs: Vec<_> = work.book.pegs_of(line).copied().collect();
    pegs.sort_by_key(|peg| peg.kept);
    for peg in pegs {
        let taken = peg.quantity.min(excess);
        if taken.is_positive() {
            unpeg(work, (line, peg.order_line), taken, Why::NeedsNoMore);
            excess -= taken;
        }
    }
    let held: Vec<_> = work.book.reservations_of(line).map(|r| (r.id, r.held)).collect();
    for (id, held) in held {
        let taken = held.min(excess);
        if taken.is_positive() {
            release(work, id, taken, Why::NeedsNoMore);
            excess -= taken;
        }
    }
}

/// Makes sure that `quantity` of a stock is free to go: what is missing is
/// taken from the reservations of the builds that are served last. Returns the
/// lines that lost something.
pub(super) fn make_room(
    work: &mut Work<'_, '_>,
    key: &StockKey,
    quantity: Quantity,
) -> Vec<LineId> {
    let mut displaced = Vec::new();
    let available = work.book.stock.get(key).map_or(Quantity::ZERO, |stock| stock.available());
    let mut missing = (quantity - available).or_zero();
    if missing.is_zero() {
        return displaced;
    }
    let mut holders: Vec<_> = work
        .book
        .reservations_for_part(key.part)
        .filter(|row| row.key == *key && row.held.is_positive())
        .map(|row| (place_in_service(work, row.line), row.id, row.held, row.line))
        .collect();
    holders.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.cmp(&a.1)));
    for (_, id, held, line) in holders {
        if missing.is_zero() {
            break;
        }
        let taken = held.min(missing);
        missing -= taken;
        release(work, id, taken, Why::StockGone);
        displaced.push(line);
    }
    displaced.dedup();
    displaced
}

/// Makes sure that at most `room` of an order line is pegged: pegs that nobody
/// asked to keep go first, those of the builds that are served last before
/// others.
pub(super) fn shrink_pegs(
    work: &mut Work<'_, '_>,
    order_line: OrderLineId,
    room: Quantity,
    why: &Why,
) {
    let mut excess = (work.book.pegged_on(order_line) - room).or_zero();
    if excess.is_zero() {
        return;
    }
    let mut pegs: Vec<_> = work
        .book
        .pegs_on(order_line)
        .map(|peg| (!peg.kept, place_in_service(work, peg.line), *peg))
        .collect();
    pegs.sort_by(|a, b| (&b.0, &b.1, b.2.line).cmp(&(&a.0, &a.1, a.2.line)));
    for (_, _, peg) in pegs {
        if excess.is_zero() {
            return;
        }
        let taken = peg.quantity.min(excess);
        excess -= taken;
        unpeg(work, (peg.line, order_line), taken, why.clone());
    }
}

type Served = (crate::book::ServiceKey, i32);

pub(super) fn place_in_service(work: &Work<'_, '_>, line: LineId) -> Option<Served> {
    let line = work.book.lines.get(&line)?;
    let build = work.book.builds.get(&line.build)?;
    Some((work.book.service_key(build), line.number))
}
