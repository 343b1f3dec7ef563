//! A reasoned correction, and the stock with which a shop begins.

use crate::book::model::{Account, MovementKind};
use crate::command::BinQuantity;
use crate::decide::Subject;
use crate::decide::binding_rule::bind_part;
use crate::decide::check;
use crate::decide::displace::make_room;
use crate::decide::effect::StockEffect;
use crate::decide::ledger::{Booking, Spot, lot_facts, post, spot, too_little};
use crate::decide::work::{Work, say_short};
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

pub(super) struct Adjusting<'a> {
    pub(super) reason: &'a str,
    pub(super) expires_on: Option<Date>,
    pub(super) opening: bool,
}

pub(super) fn adjust(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    how: &Adjusting<'_>,
    quarantined: bool,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    if at.quantity.is_zero() {
        faults.push("change", Reason::QuantityInvalid, "0 changes nothing");
    }
    check::text(&mut faults, "reason", how.reason, true);
    let spot = spot(work, &mut faults, at, "bin", occurred_on);
    let Spot { bin, key, day, .. } = faults.whole(spot)?;
    let kind = if how.opening { MovementKind::Opening } else { MovementKind::Adjustment };
    let booking = Booking { kind, day, reason: how.reason, line: None, order_line: None };
    let place = if quarantined { Account::Quarantine(bin) } else { Account::Bin(bin) };
    let size = if at.quantity.is_negative() { -at.quantity } else { at.quantity };
    let corrected = StockEffect::Corrected { reason: how.reason.trim().to_owned() };
    let mut displaced = Vec::new();
    if at.quantity.is_negative() {
        let balance = work.book.balances.get(&(key.clone(), bin)).copied().unwrap_or_default();
        let (has, what) = match quarantined {
            true => (balance.quarantined, "quarantined"),
            false => (balance.usable, "usable"),
        };
        if has < size {
            return Err(too_little(work, &key, bin, size, has, what));
        }
        work.on_stock(&key, bin, at.quantity, corrected);
        if !quarantined {
            displaced = make_room(work, &key, size);
        }
        post(work, &key, place, Account::Variance, size, &booking);
    } else {
        lot_facts(work, &key, how.expires_on, day);
        post(work, &key, Account::Variance, place, size, &booking);
        work.on_stock(&key, bin, at.quantity, corrected);
    }
    bind_part(work, key.part);
    say_short(work, displaced);
    Ok(Subject::None)
}
