//! What every booking has: a spot and a movement.

use super::effect::Caution;
use super::work::Work;
use super::{check, words};
use crate::book::Change;
use crate::book::model::{Account, Entry, Movement, MovementKind, Part, StockKey};
use crate::command::BinQuantity;
use crate::ids::{BinId, LineId, MovementId, OrderLineId};
use crate::quantity::Quantity;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// Part, bin, lot and day of a booking, checked.
pub(super) struct Spot {
    pub(super) part: Part,
    pub(super) bin: BinId,
    pub(super) key: StockKey,
    pub(super) day: Date,
}

/// The part, bin and lot that a booking names, with every fault noted; the request calls the bin
/// `bin_field`.
pub(super) fn spot(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    at: &BinQuantity,
    bin_field: &'static str,
    occurred_on: Option<Date>,
) -> Option<Spot> {
    let part = faults.take("part", work.book.find_part(&at.part).cloned());
    let bin = faults.take(bin_field, work.book.find_bin(&at.bin).map(|bin| bin.id));
    let day = check::occurred(work, faults, occurred_on);
    let part = part?;
    check::stocked(faults, "part", &part);
    let lot = check::lot(faults, "lot", &part, &at.lot);
    let key = StockKey { part: part.id, lot };
    Some(Spot { part, bin: bin?, key, day })
}

/// What a booking concerns beside its entries.
pub(super) struct Booking<'a> {
    pub(super) kind: MovementKind,
    pub(super) day: Date,
    pub(super) reason: &'a str,
    pub(super) line: Option<LineId>,
    pub(super) order_line: Option<OrderLineId>,
}

/// Books one movement of a part and lot from one account to another: the only
/// place that makes ledger entries.
pub(super) fn post(
    work: &mut Work<'_, '_>,
    key: &StockKey,
    from: Account,
    to: Account,
    quantity: Quantity,
    booking: &Booking<'_>,
) {
    let id = MovementId(work.fresh());
    let side = |account, quantity| Entry { key: key.clone(), account, quantity };
    work.change(Change::Moved(Movement {
        id,
        kind: booking.kind,
        occurred_on: booking.day,
        recorded_at: work.context.recorded_at,
        recorded_by: work.context.by.to_owned(),
        reason: booking.reason.trim().to_owned(),
        line: booking.line,
        order_line: booking.order_line,
        entries: vec![side(from, -quantity), side(to, quantity)],
    }));
}

/// Notes a lot's first receipt and its expiry, where they are new.
pub(super) fn lot_facts(
    work: &mut Work<'_, '_>,
    key: &StockKey,
    expires_on: Option<Date>,
    day: Date,
) {
    let old = work.book.stock.get(key).cloned().unwrap_or_default();
    let expires_on = expires_on.or(old.expires_on);
    let first_received_on = Some(old.first_received_on.map_or(day, |first| first.min(day)));
    if (expires_on, first_received_on) == (old.expires_on, old.first_received_on) {
        return;
    }
    work.change(Change::Lot { key: key.clone(), expires_on, first_received_on });
}

/// `HD-1042` or `CB-35 (lot L7)`.
fn stock_name(work: &Work<'_, '_>, key: &StockKey) -> String {
    let number = work.book.part_number(key.part);
    match key.lot.0.as_str() {
        "" => number.to_owned(),
        lot => format!("{number} (lot {lot})"),
    }
}

/// The refusal when a bin holds less than is asked of it.
pub(super) fn too_little(
    work: &Work<'_, '_>,
    key: &StockKey,
    bin: BinId,
    asked: Quantity,
    has: Quantity,
    what: &str,
) -> Refusal {
    let code = work.book.bin_code(bin);
    let message = match has.is_zero() {
        true => format!("bin {code} holds no {what} stock of {}", stock_name(work, key)),
        false => {
            let here = words::amount_of_stock(work.book, key, has);
            format!("bin {code} holds {here} {what}, less than the {asked} asked for")
        }
    };
    Refusal::new(Reason::StockShort, message)
        .with("part", work.book.part_number(key.part))
        .with("bin", work.book.bin_code(bin))
        .with("available", has)
        .with("asked", asked)
}

/// Shows the part's shelf-life or dangerous-goods note at receipt.
pub(super) fn say_handling(work: &mut Work<'_, '_>, part: &Part) {
    if !part.handling_note.is_empty() {
        work.caution(Caution::Handling(part.id));
    }
}
