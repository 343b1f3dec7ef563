//! Reserved parts go to the build's staging bin, line by line.

use super::binding_rule::bind_parts;
use super::displace::make_room;
use super::effect::{LineEffect, StockEffect};
use super::ledger::{Booking, post, too_little};
use super::work::{Work, say_short};
use super::{Subject, check};
use crate::book::model::{Account, Line, MovementKind, StockKey};
use crate::command::PickedLine;
use crate::ids::{BinId, LineId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;
use std::collections::BTreeSet;

/// One checked line of a pick.
struct Picked {
    line: Line,
    key: StockKey,
    bin: BinId,
    picked: Quantity,
    missing: Quantity,
}

pub(super) fn pick(
    work: &mut Work<'_, '_>,
    build: &Ref,
    lines: &[PickedLine],
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::count(&mut faults, "lines", lines.len(), true);
    let build = faults.take("build", work.book.find_build(build).cloned());
    let mut rows = Vec::new();
    if let Some(build) = &build {
        if build.staging_bin.is_none() {
            let message = format!("build {} has no staging bin: set one first", build.number);
            faults.push("build", Reason::BinUnknown, message);
        }
        for (i, picked) in lines.iter().enumerate() {
            let found = work.book.find_line(build, picked.line).cloned();
            let line = faults.take(nth("lines", i).then("line_number"), found);
            rows.extend(line.and_then(|line| checked(work, &mut faults, (i, picked), line)));
        }
    }
    let staging = build.as_ref().and_then(|build| build.staging_bin);
    let (build, staging) = faults.whole((build, staging))?;
    if !build.state.keeps_bindings() {
        let message =
            format!("build {} is {}: nothing is picked for it", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message));
    }
    let mut over = Faults::new();
    let mut hurt: BTreeSet<LineId> = rows.iter().map(|row| row.line.id).collect();
    for (i, row) in rows.iter().enumerate() {
        hurt.extend(pick_line(work, row, staging, day, &mut over, i)?);
    }
    over.check()?;
    bind_parts(work, rows.iter().map(|row| row.line.part));
    say_short(work, hurt);
    Ok(Subject::Build(build.id))
}

fn checked(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    (i, wanted): (usize, &PickedLine),
    line: Line,
) -> Option<Picked> {
    let at = |field: &'static str| nth("lines", i).then(field);
    let bin = faults.take(at("bin"), work.book.find_bin(&wanted.bin).map(|bin| bin.id));
    for (field, quantity) in [("picked", wanted.picked), ("missing", wanted.missing)] {
        if quantity.is_negative() {
            let message = format!("{quantity} is below 0");
            faults.push(at(field), Reason::QuantityInvalid, message);
        }
    }
    if !wanted.picked.is_positive() && !wanted.missing.is_positive() {
        faults.push(
            at("picked"),
            Reason::FieldMissing,
            "nothing was picked and nothing is missing",
        );
    }
    let part = work.book.parts.get(&line.part)?;
    check::stocked(faults, at("line_number"), part);
    let lot = check::lot(faults, at("lot"), part, &wanted.lot);
    let key = StockKey { part: part.id, lot };
    Some(Picked { line, key, bin: bin?, picked: wanted.picked, missing: wanted.missing })
}

/// Books one line; returns the lines that lost something by what is missing.
fn pick_line(
    work: &mut Work<'_, '_>,
    row: &Picked,
    staging: BinId,
    day: Date,
    over: &mut Faults,
    i: usize,
) -> Result<Vec<LineId>, Refusal> {
    let has = usable(work, &row.key, row.bin);
    if has < row.picked + row.missing {
        let asked = row.picked + row.missing;
        return Err(too_little(work, &row.key, row.bin, asked, has, "usable"));
    }
    let held: Quantity =
        work.book.reservations_of(row.line.id).filter(|r| r.key == row.key).map(|r| r.held).sum();
    // What lies in the staging bin already was picked before, for this line or another one that
    // waits there.
    let waiting = held_there(work, &row.key, staging);
    let left = held.min((waiting - usable(work, &row.key, staging)).or_zero());
    let left = if row.bin == staging { held } else { left };
    if row.picked > left {
        let message = format!(
            "only {} of line {} is reserved and still to be picked, not {}",
            work.amount(row.line.part, left),
            row.line.number,
            row.picked
        );
        over.push(nth("lines", i).then("picked"), Reason::StockShort, message);
        return Ok(Vec::new());
    }
    let line = Some(row.line.id);
    let mut displaced = Vec::new();
    if row.missing.is_positive() {
        displaced = make_room(work, &row.key, row.missing);
        let reason = "not found when it was picked";
        let kind = MovementKind::Adjustment;
        let booking = Booking { kind, day, reason, line: None, order_line: None };
        let from = Account::Bin(row.bin);
        post(work, &row.key, from, Account::Variance, row.missing, &booking);
        work.on_stock(&row.key, row.bin, row.missing, StockEffect::NotFound);
    }
    if row.picked.is_positive() && row.bin != staging {
        let kind = MovementKind::Picked;
        let booking = Booking { kind, day, reason: "", line, order_line: None };
        let (from, to) = (Account::Bin(row.bin), Account::Bin(staging));
        post(work, &row.key, from, to, row.picked, &booking);
        let lot = row.key.lot.clone();
        let what = LineEffect::Picked { lot, from: row.bin, into: staging };
        work.on_line(&row.line, row.picked, what);
    }
    Ok(displaced)
}

/// What the builds with one staging bin hold of a stock.
fn held_there(work: &Work<'_, '_>, key: &StockKey, staging: BinId) -> Quantity {
    let waits = |line: LineId| {
        let build = work.book.lines.get(&line).and_then(|line| work.book.builds.get(&line.build));
        build.is_some_and(|build| build.staging_bin == Some(staging))
    };
    let rows = work.book.reservations_for_part(key.part);
    rows.filter(|row| row.key == *key && waits(row.line)).map(|row| row.held).sum()
}

fn usable(work: &Work<'_, '_>, key: &StockKey, bin: BinId) -> Quantity {
    work.book.balances.get(&(key.clone(), bin)).map_or(Quantity::ZERO, |balance| balance.usable)
}
