//! Binding by hand, issue and return.

use super::{Draw, lot_for, ref_build, some_line, up_to};
use crate::world::{BINS, by};
use baystart_core::book::Book;
use baystart_core::book::model::Line;
use baystart_core::command::{BindCommand, Command, LineQuantity};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;

pub(super) fn command(draw: &mut Draw, book: &Book) -> Command {
    let op = draw.below(14);
    let any = draw.chance(10);
    let holds = |line: &Line| {
        book.builds.get(&line.build).is_some_and(|build| build.state.keeps_bindings())
            && !line.exploded
    };
    let fits = |line: &Line| {
        any || match op {
            0..=1 => holds(line) && (book.open_need(line) - book.held_for(line.id)).is_positive(),
            2..=3 => book.held_for(line.id).is_positive(),
            4..=5 => holds(line) && book.short_of(line).is_positive(),
            6 => book.pegged_for(line.id).is_positive(),
            7..=9 => holds(line) && book.held_for(line.id).is_positive(),
            12.. => holds(line) && bound(book, line).is_positive(),
            _ => line.issued.is_positive(),
        }
    };
    let Some((build, line)) = some_line(draw, book, fits) else {
        let lines = Vec::new();
        let (stage, occurred_on) = (None, None);
        return Command::Bind(BindCommand::Issue { build: by("B-1"), lines, stage, occurred_on });
    };
    let build = ref_build(draw, build);
    Command::Bind(match op {
        0..=1 => {
            let need = book.open_need(line) - book.held_for(line.id);
            BindCommand::Reserve { build, lines: wishes(draw, book, line, need, 35) }
        }
        2..=3 => {
            let held = book.held_for(line.id);
            BindCommand::Release { build, lines: wishes(draw, book, line, held, 0) }
        }
        4..=5 => peg(draw, book, build, line),
        6 => unpeg(draw, book, build, line),
        7..=9 => {
            let held = book.held_for(line.id);
            let stage = book.stages.get(&line.stage).filter(|_| draw.chance(20));
            BindCommand::Issue {
                build,
                lines: wishes(draw, book, line, held, 30),
                stage: stage.map(|stage| stage.name.written().to_owned()),
                occurred_on: None,
            }
        }
        12.. => lend(draw, book, build, line),
        _ => {
            let mut lines = wishes(draw, book, line, line.issued, 0);
            for wish in &mut lines {
                let part = book.part_number(line.part);
                let lot = lot_for(draw, book, part);
                wish.bin = Some(by(draw.text(&BINS)));
                wish.lot = (!lot.is_empty()).then_some(lot);
            }
            BindCommand::Return { build, lines, occurred_on: None }
        }
    })
}

/// No line at all in so many of a hundred cases, else the line and sometimes
/// another one of its build.
fn wishes(
    draw: &mut Draw,
    book: &Book,
    line: &Line,
    most: Quantity,
    none: usize,
) -> Vec<LineQuantity> {
    if draw.chance(none) {
        return Vec::new();
    }
    let mut lines = vec![wish(draw, book, line, most)];
    if draw.chance(15) {
        let others = book.lines_of(line.build);
        if let Some(other) = draw.pick(&others).copied() {
            lines.push(wish(draw, book, other, book.open_need(other)));
        }
    }
    lines
}

fn wish(draw: &mut Draw, book: &Book, line: &Line, most: Quantity) -> LineQuantity {
    let part = book.part_number(line.part);
    LineQuantity {
        line: line.number,
        quantity: draw.chance(60).then(|| up_to(draw, most)),
        lot: draw.chance(25).then(|| lot_for(draw, book, part)).filter(|lot| !lot.is_empty()),
        bin: draw.chance(15).then(|| by(draw.text(&BINS))),
    }
}

/// Numbers of an order line.
fn named(book: &Book, id: baystart_core::ids::OrderLineId) -> Option<(Ref, i32)> {
    let row = book.order_lines.get(&id)?;
    let order = book.orders.get(&row.order)?;
    Some((Ref::Number(order.number.clone()), row.number))
}

fn peg(draw: &mut Draw, book: &Book, build: Ref, line: &Line) -> BindCommand {
    let loose = draw.chance(10);
    let rows: Vec<_> = book
        .order_lines
        .values()
        .filter(|row| row.part == line.part || loose)
        .filter(|row| book.free_on(row).is_positive() || loose)
        .collect();
    let row = draw.pick(&rows).copied();
    let most = row.map_or(Quantity::whole(1), |row| book.free_on(row).min(book.short_of(line)));
    let (order, order_line) =
        row.and_then(|row| named(book, row.id)).unwrap_or_else(|| (by("PO-1"), 1));
    let quantity = draw.chance(60).then(|| up_to(draw, most));
    BindCommand::Peg { build, line: line.number, order, order_line, quantity }
}

fn bound(book: &Book, line: &Line) -> Quantity {
    book.held_for(line.id) + book.pegged_for(line.id)
}

/// To a line of the same part in another build, mostly one that waits for it.
fn lend(draw: &mut Draw, book: &Book, build: Ref, line: &Line) -> BindCommand {
    let loose = draw.chance(10);
    let waits = |other: &Line| {
        let holds = book.builds.get(&other.build).is_some_and(|build| build.state.keeps_bindings());
        holds && (book.short_of(other) + book.pegged_for(other.id)).is_positive()
    };
    let others: Vec<_> = book
        .lines
        .values()
        .filter(|other| other.build != line.build || loose)
        .filter(|other| other.part == line.part && (waits(other) || loose))
        .collect();
    let other = draw.pick(&others).copied();
    let to_build = other.and_then(|other| book.builds.get(&other.build));
    let most =
        other.map_or(Quantity::whole(1), |other| bound(book, line).min(book.open_need(other)));
    BindCommand::Lend {
        build,
        line: line.number,
        to_build: to_build.map_or_else(|| by("B-1"), |build| ref_build(draw, build)),
        to_line: other.map_or(1, |other| other.number),
        quantity: draw.chance(50).then(|| up_to(draw, most)),
        reason: "the other one is late".to_owned(),
        shown: None,
    }
}

fn unpeg(draw: &mut Draw, book: &Book, build: Ref, line: &Line) -> BindCommand {
    let pegs: Vec<_> = book.pegs_of(line.id).collect();
    let peg = draw.pick(&pegs).copied();
    let (order, order_line) =
        peg.and_then(|peg| named(book, peg.order_line)).unwrap_or_else(|| (by("PO-1"), 1));
    BindCommand::Unpeg { build, line: line.number, order, order_line }
}
