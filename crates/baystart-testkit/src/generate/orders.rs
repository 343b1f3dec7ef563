//! Orders from draft to receipt.

use super::{Draw, amount, day_near, lot_for, occurred, part_of, some_line, up_to};
use crate::world::{BINS, STOCKED, SUPPLIERS, by, number, pounds};
use baystart_core::book::Book;
use baystart_core::book::model::{Order, OrderLine};
use baystart_core::command::{
    CancelledBy, Command, NewOrderLine, OrderCommand, ReceiptLine, Rejection, Settlement,
};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::civil::Date;

/// Orders that have something outstanding at once, about.
const OPEN_ORDERS_MAX: usize = 6;

pub(super) fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let outstanding = |order: &&Order| {
        book.lines_of_order(order.id).iter().any(|line| line.outstanding().is_positive())
    };
    let open: Vec<_> = book.orders.values().filter(outstanding).collect();
    if (open.len() < OPEN_ORDERS_MAX && draw.chance(40)) || draw.chance(3) {
        return Command::Order(create(draw, book, today));
    }
    let all: Vec<_> = book.orders.values().collect();
    let pool = if draw.chance(92) { &open } else { &all };
    let Some(order) = draw.pick(pool).copied() else {
        return Command::Order(create(draw, book, today));
    };
    Command::Order(of(draw, book, order, today))
}

fn create(draw: &mut Draw, book: &Book, today: Date) -> OrderCommand {
    let fresh = if draw.chance(95) { book.orders.len() + 1 } else { 1 };
    let count = 1 + draw.below(3);
    OrderCommand::Create {
        number: number(&format!("PO-{fresh}")),
        supplier: by(draw.text(&SUPPLIERS)),
        lines: (0..count).map(|_| new_line(draw, book)).collect(),
        placed_on: if draw.chance(75) { day_near(draw, today, -2, 0) } else { None },
    }
}

/// A part that no random change has made a kit: an order of one is a package, which the naive model
/// does not know.
fn bought(draw: &mut Draw, book: &Book) -> &'static str {
    let is_kit = |text: &str| part_of(book, text).is_some_and(|part| part.is_kit());
    let plain: Vec<&str> = STOCKED.into_iter().filter(|text| !is_kit(text)).collect();
    draw.text(&plain)
}

fn new_line(draw: &mut Draw, book: &Book) -> NewOrderLine {
    let wanted = match draw.chance(50) {
        true => some_line(draw, book, |line| book.short_of(line).is_positive()),
        false => None,
    };
    let price = if draw.chance(30) { pounds(15_000) } else { None };
    let Some((build, line)) = wanted else {
        let part = bought(draw, book);
        let quantity = amount(draw, part, 6);
        return NewOrderLine { part: by(part), quantity, unit: None, price, for_line: None };
    };
    let kit = book.parts.get(&line.part).is_some_and(|part| part.is_kit());
    let part = if kit { by(bought(draw, book)) } else { Ref::Uid(line.part.0) };
    let named = (!kit && draw.chance(70)).then(|| (Ref::Number(build.number.clone()), line.number));
    let extra = Quantity::whole(i64::try_from(draw.below(2)).unwrap_or(0));
    let quantity = book.short_of(line) + extra;
    NewOrderLine { part, quantity, unit: None, price, for_line: named }
}

fn of(draw: &mut Draw, book: &Book, order: &Order, today: Date) -> OrderCommand {
    let rows = book.lines_of_order(order.id);
    let open: Vec<&OrderLine> =
        rows.iter().copied().filter(|row| row.on_order().is_positive()).collect();
    let row = draw.pick(&open).copied().or_else(|| draw.pick(&rows).copied());
    let line = row.map_or(1, |row| row.number);
    let reference = match draw.chance(10) {
        true => Ref::Uid(order.id.0),
        false => Ref::Number(order.number.clone()),
    };
    let occurred_on = occurred(draw, today);
    let lines = if draw.chance(40) { Vec::new() } else { vec![line] };
    let draft = rows.iter().any(|row| row.placed_on.is_none() && row.outstanding().is_positive());
    if draft && draw.chance(50) {
        return OrderCommand::Place {
            order: reference,
            occurred_on,
            unneeded_too: draw.chance(60),
        };
    }
    match draw.below(16) {
        0 => OrderCommand::Place { order: reference, occurred_on, unneeded_too: draw.chance(60) },
        1..=3 => OrderCommand::Acknowledge {
            order: reference,
            supplier_reference: draw.text(&["", "SO-77"]).to_owned(),
            promises: vec![(
                line,
                if draw.chance(85) { day_near(draw, today, -1, 50) } else { None },
            )],
            occurred_on,
        },
        4 => OrderCommand::Despatch { order: reference, lines, occurred_on },
        5 => {
            let note = "still waits for castings".to_owned();
            OrderCommand::Contact { order: reference, lines, note, occurred_on }
        }
        6..=7 => {
            let quantity =
                row.filter(|_| draw.chance(40)).map(|row| up_to(draw, row.outstanding()));
            OrderCommand::Cancel {
                order: reference,
                lines: if quantity.is_some() && draw.chance(90) { vec![line] } else { lines },
                quantity,
                by: if draw.chance(50) { CancelledBy::Us } else { CancelledBy::Supplier },
                reason: "no longer made".to_owned(),
                occurred_on,
            }
        }
        10 => {
            let promised = rows.iter().filter(|row| !row.promises.is_empty());
            let promised: Vec<i32> = promised.map(|row| row.number).collect();
            let one = draw.pick(&promised).copied().filter(|_| draw.chance(80)).unwrap_or(line);
            let reason = "a mistake".to_owned();
            OrderCommand::TakeBack { order: reference, lines: vec![one], reason, occurred_on }
        }
        8..=9 => reject(draw, book, (reference, &rows), occurred_on),
        _ => receive(draw, book, reference, row, occurred_on),
    }
}

/// Goods that are not as ordered: at the door, or out of a bin where they lie.
pub(super) fn reject(
    draw: &mut Draw,
    book: &Book,
    (order, rows): (Ref, &[&OrderLine]),
    occurred_on: Option<Date>,
) -> OrderCommand {
    let refused = draw.chance(30);
    let fits = |row: &&&OrderLine| match refused {
        true => row.on_order().is_positive(),
        false => row.received.is_positive(),
    };
    let fitting: Vec<&OrderLine> = rows.iter().filter(fits).copied().collect();
    let row = draw.pick(&fitting).copied().or_else(|| draw.pick(rows).copied());
    let part = row.map(|row| row.part);
    let quarantined = draw.chance(30);
    let lies = book.balances.iter().filter(|((key, _), balance)| {
        let has = if quarantined { balance.quarantined } else { balance.usable };
        Some(key.part) == part && has.is_positive()
    });
    let lies: Vec<_> =
        lies.map(|(spot, balance)| (spot, balance.usable + balance.quarantined)).collect();
    let spot = draw.pick(&lies).copied();
    let bin = spot.map_or_else(|| by(draw.text(&BINS)), |((_, bin), _)| Ref::Uid(bin.0));
    let lot = spot.map_or_else(String::new, |((key, _), _)| key.lot.0.to_lowercase());
    let here = spot.map_or(Quantity::whole(1), |(_, there)| there);
    let most = match row {
        Some(row) if refused => row.on_order(),
        Some(row) => row.received.min(here),
        None => Quantity::whole(1),
    };
    OrderCommand::Reject {
        order,
        line: row.map_or(1, |row| row.number),
        quantity: up_to(draw, most),
        how: match refused {
            true => Rejection::Refused,
            false if draw.chance(50) || quarantined => {
                Rejection::SentBack { bin, lot, from_quarantine: quarantined }
            }
            false => Rejection::Quarantined { bin, lot },
        },
        settlement: if draw.chance(60) { Settlement::Redelivery } else { Settlement::Credit },
        reason: "scratched".to_owned(),
        occurred_on,
    }
}

fn receive(
    draw: &mut Draw,
    book: &Book,
    order: Ref,
    row: Option<&OrderLine>,
    occurred_on: Option<Date>,
) -> OrderCommand {
    let count = if draw.chance(15) { 2 } else { 1 };
    let mut lines = Vec::new();
    for _ in 0..count {
        let part = row.map_or("", |row| book.part_number(row.part));
        let most = row.map_or(Quantity::whole(1), |row| row.on_order());
        lines.push(ReceiptLine {
            line: row.map_or(1, |row| row.number),
            quantity: draw.chance(60).then(|| up_to(draw, most)),
            bin: by(draw.text(&BINS)),
            lot: lot_for(draw, book, part),
            expires_on: None,
            over_accepted_by: draw.chance(15).then(|| "Moira".to_owned()),
        });
    }
    OrderCommand::Receive { order, lines, occurred_on }
}
