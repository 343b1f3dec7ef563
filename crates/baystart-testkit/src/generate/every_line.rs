//! Random commands about everything that a build line can be, among those of every shop.

mod awaited;
mod dress;
mod make;

use super::{Draw, occurred, orders, ref_build, some_line, spoil, up_to};
use crate::world::every_line::{BOUGHT, PARTS, every_part};
use crate::world::{BINS, STOCKED, by};
use baystart_core::book::Book;
use baystart_core::book::model::{BuildState, Line, Order};
use baystart_core::command::{BindCommand, BuildCommand, Command, NewMade, PickedLine};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::civil::Date;

/// A command for a state; see [`super::command`].
pub fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let mut command = match draw.below(100) {
        0..=51 => {
            let mut command = super::command(draw, book, today);
            dress::dress(draw, book, &mut command);
            return command;
        }
        52..=61 => awaited::command(draw, book, today),
        62..=80 => make::command(draw, book, today),
        81..=86 => pick(draw, book, today),
        87..=91 => substitute(draw, book, today),
        92..=96 => reject(draw, book, today),
        _ => update_part(draw, book),
    };
    if draw.chance(12) {
        spoil::spoil(draw, &mut command, today);
    }
    command
}

fn pick(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let staged = |line: &Line| {
        let build = book.builds.get(&line.build);
        build.is_some_and(|build| build.staging_bin.is_some())
    };
    let any = draw.chance(8);
    let found =
        some_line(draw, book, |line| any || (staged(line) && book.held_for(line.id).is_positive()));
    let (build, first) = match found {
        Some((build, line)) => (ref_build(draw, build), Some(line)),
        None => (by("B-1"), None),
    };
    let mut lines = Vec::new();
    if let Some(first) = first {
        lines.push(picked(draw, book, first));
        let others = book.lines_of(first.build);
        let held = others.iter().filter(|line| book.held_for(line.id).is_positive());
        let others: Vec<&&Line> = held.filter(|line| line.id != first.id).collect();
        if let Some(other) = draw.pick(&others).filter(|_| draw.chance(40)) {
            lines.push(picked(draw, book, other));
        }
    }
    let occurred_on = occurred(draw, today);
    Command::Bind(BindCommand::Pick { build, lines, occurred_on })
}

/// From where the ledger says that a part lies, mostly all of it found.
fn picked(draw: &mut Draw, book: &Book, line: &Line) -> PickedLine {
    let row = book.reservations_of(line.id).find(|row| row.held.is_positive());
    let lies = |key: &baystart_core::book::model::StockKey| {
        let there = book.balances.iter().filter(|((at, _), b)| at == key && b.usable.is_positive());
        there.map(|((_, bin), balance)| (*bin, balance.usable)).collect::<Vec<_>>()
    };
    let spots = row.map_or_else(Vec::new, |row| lies(&row.key));
    let spot = draw.pick(&spots).copied();
    let held = row.map_or(Quantity::whole(1), |row| row.held);
    let here = spot.map_or(held, |(_, usable)| usable);
    let picked = up_to(draw, held.min(here));
    let missing = match draw.chance(20) {
        true => (here - picked).or_zero().min(Quantity::whole(1)),
        false => Quantity::ZERO,
    };
    PickedLine {
        line: line.number,
        bin: spot.map_or_else(|| by(draw.text(&BINS)), |(bin, _)| Ref::Uid(bin.0)),
        lot: row.map_or_else(String::new, |row| row.key.lot.0.to_lowercase()),
        picked,
        missing,
    }
}

fn substitute(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let any = draw.chance(15);
    let found = some_line(draw, book, |line| {
        let over = book.builds.get(&line.build).is_some_and(|build| {
            matches!(build.state, BuildState::Delivered | BuildState::Cancelled)
        });
        any || (!over && line.issued.is_zero() && !line.exploded && line.making.is_none())
    });
    let (build, line) =
        found.map_or_else(|| (by("B-1"), 1), |(b, line)| (ref_build(draw, b), line.number));
    let part = match draw.chance(60) {
        true => by(draw.text(&PARTS)),
        false => by(draw.text(&STOCKED)),
    };
    Command::Build(BuildCommand::Substitute {
        build,
        line,
        part,
        approved_by: "Moira".to_owned(),
        reason: "the other one is sold out".to_owned(),
        occurred_on: occurred(draw, today),
    })
}

fn reject(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let known: Vec<&Order> = book.orders.values().collect();
    let order = draw.pick(&known).copied();
    let rows = order.map_or_else(Vec::new, |order| book.lines_of_order(order.id));
    let reference = order.map_or_else(|| by("PO-1"), |order| Ref::Number(order.number.clone()));
    let occurred_on = occurred(draw, today);
    Command::Order(orders::reject(draw, book, (reference, &rows), occurred_on))
}

fn update_part(draw: &mut Draw, book: &Book) -> Command {
    let name = draw.text(&PARTS);
    let target = by(name);
    let etag = format!("v{}", book.find_part(&target).map_or(0, |part| part.version));
    let mut part = every_part(name);
    match draw.below(9) {
        0 => part.made_to_order = !part.made_to_order,
        1 => part.superseded_by = Some(by(draw.text(&BOUGHT))),
        2 => part.companions = vec![by(draw.text(&BOUGHT))],
        3 => part.made = NewMade::InShop { working_days: 3 },
        4 => part.components.clear(),
        5 => part.components.push((by(draw.text(&BOUGHT)), Quantity::whole(1))),
        6 => part.made = NewMade::AtFinisher { supplier: by("MOSS"), quoted_days: Some(5000) },
        _ => part.description = "Another text".to_owned(),
    }
    Command::UpdatePart { target, part, etag }
}
