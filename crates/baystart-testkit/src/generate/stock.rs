//! Bookings that concern no order.

use super::{Draw, amount, lot_for, ref_build, some_line, stocked, up_to};
use crate::world::{BINS, SUPPLIERS, by};
use baystart_core::book::Book;
use baystart_core::book::model::BinBalance;
use baystart_core::command::{BinQuantity, Command, StockCommand};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::civil::date;

pub(super) fn command(draw: &mut Draw, book: &Book) -> Command {
    let reason = draw.text(&["counted", "dented", "put right"]).to_owned();
    let occurred_on = None;
    Command::Stock(match draw.below(22) {
        0..=2 => {
            let (expires_on, opening) = (expiry(draw), draw.chance(20));
            let quarantined = draw.chance(15);
            let at = incoming(draw, book);
            StockCommand::Adjust { at, reason, expires_on, opening, quarantined, occurred_on }
        }
        3..=4 => {
            let quarantined = draw.chance(20);
            let mut at = outgoing(draw, book, quarantined);
            at.quantity = -at.quantity;
            let (expires_on, opening) = (None, false);
            StockCommand::Adjust { at, reason, expires_on, opening, quarantined, occurred_on }
        }
        5..=6 => {
            let to = by(draw.text(&BINS));
            StockCommand::Move { at: outgoing(draw, book, false), to, occurred_on }
        }
        7..=8 => {
            let from_quarantine = draw.chance(50);
            let at = outgoing(draw, book, from_quarantine);
            StockCommand::Scrap { at, reason, from_quarantine, occurred_on }
        }
        9..=10 => StockCommand::Quarantine { at: outgoing(draw, book, false), reason, occurred_on },
        11..=12 => {
            let at = outgoing(draw, book, true);
            StockCommand::ReleaseQuarantine { at, reason, occurred_on }
        }
        13..=14 => found(draw, book, reason),
        15..=16 => {
            let from_quarantine = draw.chance(50);
            let at = outgoing(draw, book, from_quarantine);
            let supplier = by(draw.text(&SUPPLIERS));
            StockCommand::ReturnToSupplier { at, supplier, reason, from_quarantine, occurred_on }
        }
        _ => StockCommand::Receive {
            at: incoming(draw, book),
            supplier: draw.chance(60).then(|| by(draw.text(&SUPPLIERS))),
            reason,
            expires_on: expiry(draw),
            occurred_on,
        },
    })
}

fn expiry(draw: &mut Draw) -> Option<jiff::civil::Date> {
    if draw.chance(70) {
        return None;
    }
    draw.pick(&[date(2026, 3, 9), date(2026, 6, 1), date(2027, 1, 1)]).copied()
}

fn incoming(draw: &mut Draw, book: &Book) -> BinQuantity {
    let part = stocked(draw);
    BinQuantity {
        part: by(part),
        bin: by(draw.text(&BINS)),
        lot: lot_for(draw, book, part),
        quantity: amount(draw, part, 5),
    }
}

/// Something that lies in a bin, mostly.
fn outgoing(draw: &mut Draw, book: &Book, quarantined: bool) -> BinQuantity {
    let has = |balance: &BinBalance| match quarantined {
        true => balance.quarantined,
        false => balance.usable,
    };
    let there: Vec<_> = book.balances.iter().filter(|(_, row)| has(row).is_positive()).collect();
    let Some(((key, bin), balance)) = draw.pick(&there).copied().filter(|_| draw.chance(92)) else {
        return incoming(draw, book);
    };
    BinQuantity {
        part: Ref::Uid(key.part.0),
        bin: Ref::Uid(bin.0),
        lot: key.lot.0.to_lowercase(),
        quantity: up_to(draw, has(balance)),
    }
}

fn found(draw: &mut Draw, book: &Book, reason: String) -> StockCommand {
    let holds = |line: &baystart_core::book::model::Line| {
        book.builds.get(&line.build).is_some_and(|build| build.state.keeps_bindings())
    };
    let any = draw.chance(15);
    let Some((build, line)) = some_line(draw, book, |line| any || holds(line)) else {
        let (build, line, lot) = (by("B-1"), 1, String::new());
        let (quantity, occurred_on) = (Quantity::whole(1), None);
        return StockCommand::Found { build, line, quantity, lot, reason, occurred_on };
    };
    let part = book.part_number(line.part).to_owned();
    StockCommand::Found {
        build: ref_build(draw, build),
        line: line.number,
        quantity: amount(draw, &part, 2),
        lot: lot_for(draw, book, &part),
        reason,
        occurred_on: None,
    }
}
