//! Bookings that concern no order and no build, and found parts.

use super::bind::bind_part;
use super::displace::make_room;
use super::effect::{Effect, EffectKind};
use super::issue::trim;
use super::lines::say_short;
use super::work::{Work, whose};
use super::{Subject, check};
use crate::book::Change;
use crate::book::model::{Account, Entry, Movement, MovementKind, Part, StockKey};
use crate::command::{BinQuantity, StockCommand};
use crate::ids::{BinId, LineId, MovementId, OrderLineId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

pub(super) fn run(work: &mut Work<'_, '_>, command: &StockCommand) -> Result<Subject, Refusal> {
    match command {
        StockCommand::Adjust { at, reason, expires_on, opening, quarantined, occurred_on } => {
            let how = Adjusting { reason, expires_on: *expires_on, opening: *opening };
            adjust(work, at, &how, *quarantined, *occurred_on)
        }
        StockCommand::Move { at, to, occurred_on } => transfer(work, at, to, *occurred_on),
        StockCommand::Scrap { at, reason, from_quarantine, occurred_on } => {
            let from = if *from_quarantine { Place::Quarantine } else { Place::Usable };
            let kind = MovementKind::Scrap;
            shift(work, at, &Shift { kind, from, to: Place::Scrap, reason }, *occurred_on)
        }
        StockCommand::Quarantine { at, reason, occurred_on } => {
            let (kind, from, to) = (MovementKind::Quarantine, Place::Usable, Place::Quarantine);
            shift(work, at, &Shift { kind, from, to, reason }, *occurred_on)
        }
        StockCommand::ReleaseQuarantine { at, reason, occurred_on } => {
            let (kind, from, to) =
                (MovementKind::QuarantineRelease, Place::Quarantine, Place::Usable);
            shift(work, at, &Shift { kind, from, to, reason }, *occurred_on)
        }
        StockCommand::Found { build, line, quantity, lot, reason, occurred_on } => {
            found(work, build, *line, &Finding { quantity: *quantity, lot, reason }, *occurred_on)
        }
        StockCommand::Receive { at, supplier, reason, expires_on, occurred_on } => {
            receive(work, at, supplier.as_ref(), reason, *expires_on, *occurred_on)
        }
    }
}

/// Part, bin, lot and day of a booking, checked.
pub(super) struct Spot {
    pub(super) part: Part,
    pub(super) bin: BinId,
    pub(super) key: StockKey,
    pub(super) day: Date,
}

/// The part, bin and lot that a booking names, with every fault noted.
pub(super) fn spot(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    at: &BinQuantity,
    occurred_on: Option<Date>,
) -> Option<Spot> {
    let part = faults.take("part", work.book.find_part(&at.part).cloned());
    let bin = faults.take("bin", work.book.find_bin(&at.bin).map(|bin| bin.id));
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

/// `2 of HD-1042` or `2 m of CB-35 (lot L7)`.
pub(super) fn amount_of(work: &Work<'_, '_>, key: &StockKey, quantity: Quantity) -> String {
    let amount = work.amount(key.part, quantity);
    let number = work.book.part_number(key.part);
    match key.lot.0.as_str() {
        "" => format!("{amount} of {number}"),
        lot => format!("{amount} of {number} (lot {lot})"),
    }
}

/// `HD-1042` or `CB-35 (lot L7)`.
fn stock_name(work: &Work<'_, '_>, key: &StockKey) -> String {
    let number = work.book.part_number(key.part);
    match key.lot.0.as_str() {
        "" => number.to_owned(),
        lot => format!("{number} (lot {lot})"),
    }
}

/// The effect of a booking, with its sentence.
pub(super) fn booked(
    work: &Work<'_, '_>,
    key: &StockKey,
    bin: BinId,
    quantity: Quantity,
    text: String,
) -> Effect {
    let mut effect = Effect::new(EffectKind::Booked, text);
    effect.part = work.book.part_number(key.part).to_owned();
    effect.quantity = Some(quantity);
    effect.bin = work.book.bin_code(bin).to_owned();
    effect.lot = key.lot.0.clone();
    effect
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
            let here = amount_of(work, key, has);
            format!("bin {code} holds {here} {what}, less than the {asked} asked for")
        }
    };
    Refusal::new(Reason::StockShort, message)
        .with("part", work.book.part_number(key.part))
        .with("bin", work.book.bin_code(bin))
        .with("available", has)
        .with("asked", asked)
}

struct Adjusting<'a> {
    reason: &'a str,
    expires_on: Option<Date>,
    opening: bool,
}

fn adjust(
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
    let spot = spot(work, &mut faults, at, occurred_on);
    faults.check()?;
    let Some(Spot { bin, key, day, .. }) = spot else { return Ok(Subject::None) };
    let kind = if how.opening { MovementKind::Opening } else { MovementKind::Adjustment };
    let booking = Booking { kind, day, reason: how.reason, line: None, order_line: None };
    let place = if quarantined { Account::Quarantine(bin) } else { Account::Bin(bin) };
    let size = if at.quantity.is_negative() { -at.quantity } else { at.quantity };
    let amount = amount_of(work, &key, size);
    let code = work.book.bin_code(bin).to_owned();
    let reason = how.reason.trim();
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
        let text = format!("Took {amount} off bin {code}: {reason}");
        let effect = booked(work, &key, bin, at.quantity, text);
        work.effect(effect);
        if !quarantined {
            displaced = make_room(work, &key, size);
        }
        post(work, &key, place, Account::Variance, size, &booking);
    } else {
        lot_facts(work, &key, how.expires_on, day);
        post(work, &key, Account::Variance, place, size, &booking);
        let text = format!("Added {amount} to bin {code}: {reason}");
        let effect = booked(work, &key, bin, at.quantity, text);
        work.effect(effect);
    }
    bind_part(work, key.part);
    say_short(work, displaced);
    Ok(Subject::None)
}

fn transfer(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    to: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", at.quantity);
    let mut inner = Faults::new();
    let spot = spot(work, &mut inner, at, occurred_on);
    // The request calls the bin that stock leaves "from".
    for fault in inner.list() {
        let field = if fault.field == "bin" { "from" } else { fault.field.as_str() };
        faults.push(field, fault.reason, fault.message.clone());
    }
    let to = faults.take("to", work.book.find_bin(to).map(|bin| bin.id));
    if let (Some(spot), Some(to)) = (&spot, to)
        && spot.bin == to
    {
        let message = format!("bin {} is where it lies already", work.book.bin_code(to));
        faults.push("to", Reason::ValueInvalid, message);
    }
    faults.check()?;
    let (Some(Spot { bin, key, day, .. }), Some(to)) = (spot, to) else {
        return Ok(Subject::None);
    };
    let has = work.book.balances.get(&(key.clone(), bin)).map_or(Quantity::ZERO, |b| b.usable);
    if has < at.quantity {
        return Err(too_little(work, &key, bin, at.quantity, has, "usable"));
    }
    let kind = MovementKind::Transfer;
    let booking = Booking { kind, day, reason: "", line: None, order_line: None };
    post(work, &key, Account::Bin(bin), Account::Bin(to), at.quantity, &booking);
    let text = format!(
        "Moved {} from bin {} to bin {}",
        amount_of(work, &key, at.quantity),
        work.book.bin_code(bin),
        work.book.bin_code(to)
    );
    let effect = booked(work, &key, to, at.quantity, text);
    work.effect(effect);
    Ok(Subject::None)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    Usable,
    Quarantine,
    Scrap,
}

impl Place {
    const fn account(self, bin: BinId) -> Account {
        match self {
            Self::Usable => Account::Bin(bin),
            Self::Quarantine => Account::Quarantine(bin),
            Self::Scrap => Account::Scrap,
        }
    }
}

struct Shift<'a> {
    kind: MovementKind,
    from: Place,
    to: Place,
    reason: &'a str,
}

fn shift(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    shift: &Shift<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", at.quantity);
    check::text(&mut faults, "reason", shift.reason, true);
    let spot = spot(work, &mut faults, at, occurred_on);
    faults.check()?;
    let Some(Spot { bin, key, day, .. }) = spot else { return Ok(Subject::None) };
    let balance = work.book.balances.get(&(key.clone(), bin)).copied().unwrap_or_default();
    let (has, what) = match shift.from {
        Place::Quarantine => (balance.quarantined, "quarantined"),
        _ => (balance.usable, "usable"),
    };
    if has < at.quantity {
        return Err(too_little(work, &key, bin, at.quantity, has, what));
    }
    let amount = amount_of(work, &key, at.quantity);
    let code = work.book.bin_code(bin);
    let reason = shift.reason.trim();
    let text = match shift.to {
        Place::Scrap => format!("Scrapped {amount} from bin {code}: {reason}"),
        Place::Quarantine => format!("Quarantined {amount} in bin {code}: {reason}"),
        Place::Usable => format!("Released {amount} in bin {code} from quarantine: {reason}"),
    };
    let effect = booked(work, &key, bin, at.quantity, text);
    work.effect(effect);
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

struct Finding<'a> {
    quantity: Quantity,
    lot: &'a str,
    reason: &'a str,
}

fn found(
    work: &mut Work<'_, '_>,
    build: &Ref,
    number: i32,
    finding: &Finding<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", finding.quantity);
    check::text(&mut faults, "reason", finding.reason, false);
    let day = check::occurred(work, &mut faults, occurred_on);
    let build = faults.take("line.build", work.book.find_build(build).cloned());
    let line = build.as_ref().and_then(|build| {
        faults.take("line.line_number", work.book.find_line(build, number).cloned())
    });
    let part = line.as_ref().and_then(|line| work.book.parts.get(&line.part).cloned());
    let mut key = None;
    if let Some(part) = &part {
        check::stocked(&mut faults, "line.line_number", part);
        if line.as_ref().is_some_and(|line| line.exploded) && !part.is_kit() {
            let message = format!("line {number} is a kit: name its components' lines");
            faults.push("line.line_number", Reason::KitNotStocked, message);
        }
        let lot = check::lot(&mut faults, "lot", part, finding.lot);
        key = Some(StockKey { part: part.id, lot });
    }
    faults.check()?;
    let (Some(build), Some(line), Some(key)) = (build, line, key) else {
        return Ok(Subject::None);
    };
    if !build.state.holds() {
        let message = format!("build {} is {}: nothing is fitted to it", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message));
    }
    let kind = MovementKind::Found;
    let reason = finding.reason;
    let booking = Booking { kind, day, reason, line: Some(line.id), order_line: None };
    post(work, &key, Account::Variance, Account::Build(build.id), finding.quantity, &booking);
    let issued = line.issued + finding.quantity;
    work.change(Change::Line(crate::book::model::Line { issued, ..line.clone() }));
    let mut effect = work.on_line(EffectKind::Booked, &line, finding.quantity);
    effect.text = format!(
        "Found {} that the ledger did not have, and booked it {}",
        amount_of(work, &key, finding.quantity),
        whose(&effect).replacen("for ", "to ", 1)
    );
    work.effect(effect);
    super::issue::say_over_issue(work, line.id);
    trim(work, line.id);
    bind_part(work, line.part);
    Ok(Subject::None)
}

fn receive(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    supplier: Option<&Ref>,
    reason: &str,
    expires_on: Option<Date>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", at.quantity);
    check::text(&mut faults, "reason", reason, false);
    let from = match supplier {
        None => Some(Account::UnknownSupplier),
        Some(wanted) => {
            let found = work.book.find_supplier(wanted).map(|s| Account::Supplier(s.id));
            faults.take("supplier", found)
        }
    };
    let spot = spot(work, &mut faults, at, occurred_on);
    faults.check()?;
    let (Some(Spot { part, bin, key, day }), Some(from)) = (spot, from) else {
        return Ok(Subject::None);
    };
    lot_facts(work, &key, expires_on, day);
    let kind = MovementKind::Receipt;
    let booking = Booking { kind, day, reason, line: None, order_line: None };
    post(work, &key, from, Account::Bin(bin), at.quantity, &booking);
    let text = format!(
        "Received {} into bin {}, without an order",
        amount_of(work, &key, at.quantity),
        work.book.bin_code(bin)
    );
    let effect = booked(work, &key, bin, at.quantity, text);
    work.effect(effect);
    say_handling(work, &part);
    bind_part(work, key.part);
    Ok(Subject::None)
}

/// Shows the part's shelf-life or dangerous-goods note at receipt.
pub(super) fn say_handling(work: &mut Work<'_, '_>, part: &Part) {
    if part.handling_note.is_empty() {
        return;
    }
    let mut effect = Effect::new(
        EffectKind::Caution,
        format!("Caution, {}: {}", part.number, part.handling_note),
    );
    effect.part = part.number.written().to_owned();
    work.effect(effect);
}
