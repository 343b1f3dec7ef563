//! Stock that changes its bin, goes to quarantine and back, or to scrap.

use crate::book::model::{Account, MovementKind};
use crate::command::BinQuantity;
use crate::decide::Subject;
use crate::decide::binding_rule::bind_part;
use crate::decide::check;
use crate::decide::displace::make_room;
use crate::decide::effect::StockEffect;
use crate::decide::ledger::{Booking, Spot, post, spot, too_little};
use crate::decide::work::{Work, say_short};
use crate::ids::{BinId, SupplierId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

pub(super) fn transfer(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    to: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", at.quantity);
    let spot = spot(work, &mut faults, at, "from", occurred_on);
    let to = faults.take("to", work.book.find_bin(to).map(|bin| bin.id));
    if let (Some(spot), Some(to)) = (&spot, to)
        && spot.bin == to
    {
        let message = format!("bin {} is where it lies already", work.book.bin_code(to));
        faults.push("to", Reason::ValueInvalid, message);
    }
    let (Spot { bin, key, day, .. }, to) = faults.whole((spot, to))?;
    let has = work.book.balances.get(&(key.clone(), bin)).map_or(Quantity::ZERO, |b| b.usable);
    if has < at.quantity {
        return Err(too_little(work, &key, bin, at.quantity, has, "usable"));
    }
    let kind = MovementKind::Transfer;
    let booking = Booking { kind, day, reason: "", line: None, order_line: None };
    post(work, &key, Account::Bin(bin), Account::Bin(to), at.quantity, &booking);
    work.on_stock(&key, to, at.quantity, StockEffect::Moved { from: bin });
    Ok(Subject::None)
}

#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Usable,
    Quarantine,
    Scrap,
    Supplier(SupplierId),
}

impl Place {
    const fn account(self, bin: BinId) -> Account {
        match self {
            Self::Usable => Account::Bin(bin),
            Self::Quarantine => Account::Quarantine(bin),
            Self::Scrap => Account::Scrap,
            Self::Supplier(supplier) => Account::Supplier(supplier),
        }
    }
}

pub(super) struct Shift<'a> {
    pub(super) kind: MovementKind,
    pub(super) from: Place,
    pub(super) to: Place,
    pub(super) reason: &'a str,
}

pub(super) fn shift(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    shift: &Shift<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let Shift { kind, from, to, reason } = *shift;
    shift_after(work, Faults::new(), at, (kind, from, Some(to), reason), occurred_on)
}

/// The same after faults that the caller found; where it goes to is None after one of them.
pub(super) fn shift_after(
    work: &mut Work<'_, '_>,
    mut faults: Faults,
    at: &BinQuantity,
    (kind, from, to, reason): (MovementKind, Place, Option<Place>, &str),
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    check::positive(&mut faults, "quantity", at.quantity);
    check::text(&mut faults, "reason", reason, true);
    let spot = spot(work, &mut faults, at, "bin", occurred_on);
    let (Spot { bin, key, day, .. }, to) = faults.whole((spot, to))?;
    let shift = Shift { kind, from, to, reason };
    let balance = work.book.balances.get(&(key.clone(), bin)).copied().unwrap_or_default();
    let (has, what) = match shift.from {
        Place::Quarantine => (balance.quarantined, "quarantined"),
        _ => (balance.usable, "usable"),
    };
    if has < at.quantity {
        return Err(too_little(work, &key, bin, at.quantity, has, what));
    }
    let reason = shift.reason.trim().to_owned();
    let what = match shift.to {
        Place::Scrap => StockEffect::Scrapped { reason },
        Place::Supplier(_) => StockEffect::SentBack { reason },
        Place::Quarantine => StockEffect::Quarantined { reason },
        Place::Usable => StockEffect::OutOfQuarantine { reason },
    };
    work.on_stock(&key, bin, at.quantity, what);
    let displaced = match shift.from {
        Place::Usable => make_room(work, &key, at.quantity),
        _ => Vec::new(),
    };
    let booking =
        Booking { kind: shift.kind, day, reason: shift.reason, line: None, order_line: None };
    post(work, &key, shift.from.account(bin), shift.to.account(bin), at.quantity, &booking);
    bind_part(work, key.part);
    say_short(work, displaced);
    Ok(Subject::None)
}
