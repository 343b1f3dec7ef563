//! The binding rule (design, section 4): which requirement takes which supply.

use super::displace::place_in_service;
use super::effect::{Caution, LineEffect, Why};
use super::work::Work;
use crate::book::model::{Line, OrderLine, Peg, Reservation, StockKey};
use crate::book::{Book, Change};
use crate::calendar::WorkCalendar;
use crate::ids::{LineId, OrderLineId, PartId, ReservationId};
use crate::leadtime::{self, OpenSupply};
use crate::quantity::Quantity;
use jiff::civil::Date;
use std::collections::BTreeSet;

/// Days that an arrival is looked for.
const HORIZON_DAYS: u32 = 730;

/// What is known of an order line that is still on order.
pub(crate) fn open_supply(line: &OrderLine) -> Option<OpenSupply> {
    Some(OpenSupply {
        placed_on: line.placed_on?,
        quoted_days: line.quoted_days,
        promise: line.promises.last().map(|promise| leadtime::Promise {
            date: promise.promised_on,
            known_on: promise.known_on,
        }),
        despatched_on: line.despatched_on,
    })
}

/// Median arrival of an order line, seen from the start of `today`; None where
/// nothing dates it within two years.
#[must_use]
pub fn expected_on(book: &Book, line: &OrderLine, today: Date) -> Option<Date> {
    let supplier = book.orders.get(&line.order)?.supplier;
    let closures = book.closures_of(supplier);
    leadtime::arrival_cdf(&open_supply(line)?, today, &closures, HORIZON_DAYS)?.quantile(0.5)
}

/// Binds what is unbound of one part, and upgrades pegs to free stock or to an
/// earlier free supply. Takes nothing that is bound to another build.
pub(super) fn bind_part(work: &mut Work<'_, '_>, part: PartId) {
    bind_part_except(work, part, &[]);
}

/// The same, but leaves some lines as a person has just left them.
pub(super) fn bind_part_except(work: &mut Work<'_, '_>, part: PartId, except: &[LineId]) {
    let Some(row) = work.book.parts.get(&part) else { return };
    if row.consumable || row.is_kit() {
        return;
    }
    let today = work.context.today;
    if !anything_is_free(work.book, part) {
        return;
    }
    let mut lines: Vec<_> = work
        .book
        .lines_for_part(part)
        .filter(|line| !line.exploded && !line.customer_supplied)
        .filter(|line| !except.contains(&line.id))
        .filter(|line| work.book.builds.get(&line.build).is_some_and(|b| b.state.binds()))
        .filter(|line| is_unsettled(work.book, line))
        .map(|line| (place_in_service(work, line.id), line.id))
        .collect();
    lines.sort();
    if lines.is_empty() {
        return;
    }
    let supplies = supplies(work.book, part, today);
    let calendar = work.book.calendar();
    let far = |(_, line)| (line, is_far(work, line, &calendar));
    let lines: Vec<(LineId, bool)> = lines.into_iter().map(far).collect();
    // A later line's upgrade may free what an earlier one would rather have.
    // Each round gives some line a sooner source, so the rounds come to an end.
    loop {
        let before = work.changes_made();
        for (line, far) in &lines {
            if *far {
                peg_short(work, *line, &supplies);
                reserve_short(work, *line);
            } else {
                reserve_short(work, *line);
                peg_short(work, *line, &supplies);
                upgrade_to_stock(work, *line, &supplies);
                upgrade_to_earlier(work, *line, &supplies);
            }
        }
        // Who starts only after the reserve window can wait for what the near ones leave.
        for (line, _) in lines.iter().filter(|(_, far)| *far) {
            upgrade_to_earlier(work, *line, &supplies);
        }
        if work.changes_made() == before {
            return;
        }
    }
}

/// Whether a part has stock or a supply that nobody has. Where it has none there is nothing to bind,
/// and no arrival need be dated.
fn anything_is_free(book: &Book, part: PartId) -> bool {
    let stock = || book.stock_of(part).any(|(_, stock)| stock.available().is_positive());
    stock() || book.order_lines_for_part(part).any(|line| book.free_on(line).is_positive())
}

/// Whether a line may take anything: it is short, or a peg of it may give way to an earlier source.
/// What is bound to stock as a whole stays as it is, whatever happens to others.
fn is_unsettled(book: &Book, line: &Line) -> bool {
    book.pegs_of(line.id).any(|peg| !peg.kept) || book.short_of(line).is_positive()
}

/// Binds several parts; each once.
pub(super) fn bind_parts(work: &mut Work<'_, '_>, parts: impl IntoIterator<Item = PartId>) {
    for part in parts.into_iter().collect::<BTreeSet<_>>() {
        bind_part(work, part);
    }
}

/// An order line by which a part can come, with its median arrival.
type Supply = (Date, String, i32, OrderLineId);

/// The part's order lines that are on order, soonest median first.
fn supplies(book: &Book, part: PartId, today: Date) -> Vec<Supply> {
    let mut supplies: Vec<_> = book
        .order_lines_for_part(part)
        .filter(|line| line.on_order().is_positive())
        .map(|line| {
            let number = book.orders.get(&line.order).map_or("", |order| order.number.normal());
            let expected = expected_on(book, line, today).unwrap_or(Date::MAX);
            (expected, number.to_owned(), line.number, line.id)
        })
        .collect();
    supplies.sort();
    supplies
}

/// Whether the build's planned start is further off than the reserve window,
/// so that stock serves it last.
fn is_far(work: &Work<'_, '_>, line: LineId, calendar: &WorkCalendar) -> bool {
    let book = &work.book;
    let Some(settings) = &book.settings else { return false };
    let build = book.lines.get(&line).and_then(|line| book.builds.get(&line.build));
    let Some(start) = build.and_then(|build| build.planned_start) else { return false };
    let days = calendar.working_days_between(work.context.today, start);
    days > i64::from(settings.reserve_window_days)
}

/// Free stock of a part, soonest expiry first, then oldest lot. Expired lots
/// come last: a person decides about them.
pub(super) fn free_stock(book: &Book, part: PartId, today: Date) -> Vec<(StockKey, Quantity)> {
    let mut lots: Vec<_> = book
        .stock_of(part)
        .filter(|(_, stock)| stock.available().is_positive())
        .map(|(key, stock)| {
            let expires = stock.expires_on.unwrap_or(Date::MAX);
            let first = stock.first_received_on.unwrap_or(Date::MAX);
            (expires < today, expires, first, key.clone(), stock.available())
        })
        .collect();
    lots.sort();
    lots.into_iter().map(|(_, _, _, key, available)| (key, available)).collect()
}

/// Sets stock aside for a line.
pub(super) fn reserve(work: &mut Work<'_, '_>, line: &Line, key: StockKey, quantity: Quantity) {
    let id = ReservationId(work.fresh());
    work.change(Change::Reservation(Reservation {
        id,
        line: line.id,
        key: key.clone(),
        made: quantity,
        held: quantity,
        issued: Quantity::ZERO,
        released: Quantity::ZERO,
        moved: Quantity::ZERO,
    }));
    work.on_line(line, quantity, LineEffect::Reserved { lot: key.lot.clone() });
    say_expired(work, key);
}

/// Says that a lot's date has passed: a person decides whether it may be used.
fn say_expired(work: &mut Work<'_, '_>, key: StockKey) {
    let expires_on = work.book.stock.get(&key).and_then(|stock| stock.expires_on);
    if let Some(best_before) = expires_on.filter(|day| *day < work.context.today) {
        work.caution(Caution::Expired { key, best_before });
    }
}

/// Binds part of an order line to a line; adds to a peg that is there.
pub(super) fn peg(
    work: &mut Work<'_, '_>,
    line: &Line,
    order_line: OrderLineId,
    quantity: Quantity,
    kept: bool,
) {
    if !work.book.order_lines.contains_key(&order_line) {
        return;
    }
    let old = work.book.pegs.get(&(line.id, order_line)).copied();
    let before = old.map_or(Quantity::ZERO, |old| old.quantity);
    let kept = kept || old.is_some_and(|old| old.kept);
    work.change(Change::Peg(Peg { line: line.id, order_line, quantity: before + quantity, kept }));
    work.on_line(line, quantity, LineEffect::Pegged { to: order_line });
}

fn reserve_short(work: &mut Work<'_, '_>, line: LineId) {
    let Some(line) = work.book.lines.get(&line).cloned() else { return };
    let mut short = work.book.short_of(&line);
    if short.is_zero() {
        return;
    }
    for (key, available) in free_stock(work.book, line.part, work.context.today) {
        let taken = available.min(short);
        reserve(work, &line, key, taken);
        short -= taken;
        if short.is_zero() {
            return;
        }
    }
}

fn peg_short(work: &mut Work<'_, '_>, line: LineId, supplies: &[Supply]) {
    let Some(line) = work.book.lines.get(&line).cloned() else { return };
    let mut short = work.book.short_of(&line);
    for (_, _, _, id) in supplies {
        if short.is_zero() {
            return;
        }
        let Some(supply) = work.book.order_lines.get(id) else { continue };
        let taken = work.book.free_on(supply).min(short);
        if taken.is_positive() {
            peg(work, &line, *id, taken, false);
            short -= taken;
        }
    }
}

/// The line's pegs that may be rebound, latest supply first.
fn loose_pegs(work: &Work<'_, '_>, line: LineId, supplies: &[Supply]) -> Vec<Peg> {
    let mut pegs = Vec::new();
    for (_, _, _, id) in supplies.iter().rev() {
        pegs.extend(work.book.pegs.get(&(line, *id)).filter(|peg| !peg.kept).copied());
    }
    pegs
}

fn upgrade_to_stock(work: &mut Work<'_, '_>, line: LineId, supplies: &[Supply]) {
    let Some(row) = work.book.lines.get(&line).cloned() else { return };
    for old in loose_pegs(work, line, supplies) {
        let mut left = old.quantity;
        for (key, available) in free_stock(work.book, row.part, work.context.today) {
            let taken = available.min(left);
            super::displace::unpeg(work, (line, old.order_line), taken, Why::StockIsFree);
            reserve(work, &row, key, taken);
            left -= taken;
            if left.is_zero() {
                break;
            }
        }
        if left.is_positive() {
            return;
        }
    }
}

fn upgrade_to_earlier(work: &mut Work<'_, '_>, line: LineId, supplies: &[Supply]) {
    let Some(row) = work.book.lines.get(&line).cloned() else { return };
    let when = |id: OrderLineId| {
        supplies.iter().find(|supply| supply.3 == id).map_or(Date::MAX, |supply| supply.0)
    };
    for old in loose_pegs(work, line, supplies) {
        let mut left = old.quantity;
        for (expected, _, _, id) in supplies {
            if left.is_zero() || *expected >= when(old.order_line) {
                break;
            }
            let Some(supply) = work.book.order_lines.get(id) else { continue };
            let taken = work.book.free_on(supply).min(left);
            if !taken.is_positive() {
                continue;
            }
            super::displace::unpeg(work, (line, old.order_line), taken, Why::EarlierSupply);
            peg(work, &row, *id, taken, false);
            left -= taken;
        }
    }
}
