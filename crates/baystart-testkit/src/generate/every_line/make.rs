//! What is made in the shop or finished outside.

use super::super::{Draw, day_near, lot_for, occurred, ref_build, some_line, up_to};
use crate::world::{BINS, by};
use baystart_core::book::Book;
use baystart_core::book::model::{Line, Made};
use baystart_core::command::{BinQuantity, Command, MakeCommand, StockCommand};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::civil::Date;

pub(super) fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let op = draw.below(10);
    if op == 0 {
        return missing_component(draw, book);
    }
    let (any, hasty) = (draw.chance(8), draw.chance(25));
    let fits = |line: &Line| {
        let outside = matches!(line.making.as_ref().map(|m| m.how), Some(Made::AtFinisher { .. }));
        let making = line.making.as_ref();
        let open = making.map_or(Quantity::ZERO, |making| making.open() - making.out);
        let out = making.map_or(Quantity::ZERO, |making| making.out);
        match op {
            1..=4 => !outside && open.is_positive() && (hasty || in_stock(book, line)),
            5..=6 => outside && open.is_positive() && (hasty || in_stock(book, line)),
            _ => out.is_positive(),
        }
    };
    let found = some_line(draw, book, |line| any || fits(line));
    let Some((build, line)) = found else { return missing_component(draw, book) };
    let made = line.making.as_ref();
    let most = made.map_or(Quantity::whole(1), |making| match op {
        1..=6 => making.open() - making.out,
        _ => making.out,
    });
    let quantity = match draw.below(10) {
        0..=3 => None,
        4 => Some(Quantity::from_milli(500)),
        _ => Some(up_to(draw, most)),
    };
    let build = ref_build(draw, build);
    let (bin, occurred_on) = (by(draw.text(&BINS)), occurred(draw, today));
    let lot = lot_for(draw, book, book.part_number(line.part));
    let line = line.number;
    let promised_on = if draw.chance(60) { day_near(draw, today, 0, 20) } else { None };
    Command::Make(match op {
        1..=4 => MakeCommand::RecordMade { build, line, quantity, bin, lot, occurred_on },
        5..=6 => MakeCommand::SendOut { build, line, quantity, promised_on, occurred_on },
        7 => MakeCommand::PromiseBack { build, line, promised_on, occurred_on },
        _ => MakeCommand::CameBack { build, line, quantity, bin, lot, occurred_on },
    })
}

/// Whether every component has something to be used up.
fn in_stock(book: &Book, made: &Line) -> bool {
    let mut components = book.components_of(made).into_iter();
    components.all(|line| {
        let consumable = book.parts.get(&line.part).is_some_and(|part| part.consumable);
        let here = book.held_for(line.id) + book.available_of(line.part);
        line.exploded || consumable || here.is_positive()
    })
}

/// Some of what a line's making lacks comes in.
fn missing_component(draw: &mut Draw, book: &Book) -> Command {
    let lacking = |line: &Line| {
        line.made_for != 0 && line.making.is_none() && book.short_of(line).is_positive()
    };
    let wanted = some_line(draw, book, lacking);
    let (part, quantity) = wanted.map_or_else(
        || (by("BR-60"), Quantity::whole(2)),
        |(_, line)| (Ref::Uid(line.part.0), book.short_of(line)),
    );
    let number = wanted.map_or("", |(_, line)| book.part_number(line.part));
    let (bin, lot) = (by(draw.text(&BINS)), lot_for(draw, book, number));
    Command::Stock(StockCommand::Receive {
        at: BinQuantity { part, bin, lot, quantity },
        supplier: None,
        reason: String::new(),
        expires_on: None,
        occurred_on: None,
    })
}
