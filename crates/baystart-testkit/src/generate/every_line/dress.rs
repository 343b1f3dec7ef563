//! Makes a command of every shop one of this shop: other parts, packages, staging bins.

use super::super::Draw;
use crate::world::every_line::{FINISHER, PARTS};
use crate::world::{BINS, KITS, by};
use baystart_core::book::Book;
use baystart_core::command::{
    BinQuantity, BuildCommand, Command, NewLine, OrderCommand, StockCommand,
};
use baystart_core::quantity::Quantity;

pub(super) fn dress(draw: &mut Draw, book: &Book, command: &mut Command) {
    match command {
        Command::Build(BuildCommand::Create { fields, stages, lines, for_stock, .. }) => {
            *for_stock = draw.chance(10);
            fields.staging_bin = draw.chance(75).then(|| by(draw.text(&BINS)));
            for stage in stages.iter_mut() {
                let firm = if draw.chance(95) { FINISHER } else { "NO-SUCH" };
                stage.off_site = draw.chance(15).then(|| by(firm));
            }
            lines.iter_mut().for_each(|line| other_line(draw, line));
        }
        Command::Build(BuildCommand::Update { fields, .. }) => {
            fields.staging_bin = draw.chance(75).then(|| by(draw.text(&BINS)));
        }
        Command::Build(BuildCommand::AddLines { lines, .. }) => {
            lines.iter_mut().for_each(|line| other_line(draw, line));
        }
        Command::Order(OrderCommand::Create { lines, .. }) => {
            for line in lines {
                if draw.chance(40) {
                    let part = if draw.chance(60) { draw.text(&KITS) } else { draw.text(&PARTS) };
                    line.part = by(part);
                    line.for_line = None;
                    line.quantity = Quantity::whole(1 + i64::from(draw.chance(50)));
                }
                if draw.chance(2) {
                    line.quantity = Quantity::from_milli(1500);
                }
                // For a line of that part, whatever the line is.
                let fits = |row: &&&baystart_core::book::model::Line| {
                    Ok(row.part) == book.find_part(&line.part).map(|part| part.id)
                };
                let rows: Vec<_> = book.lines.values().collect();
                let rows: Vec<_> = rows.iter().filter(fits).copied().collect();
                if let Some(row) = draw.pick(&rows).filter(|_| draw.chance(30))
                    && let Some(build) = book.builds.get(&row.build)
                {
                    let build = baystart_core::refs::Ref::Number(build.number.clone());
                    line.for_line = Some((build, row.number));
                }
            }
        }
        Command::Stock(StockCommand::Receive { at, .. } | StockCommand::Adjust { at, .. })
            if at.quantity.is_positive() && draw.chance(35) =>
        {
            other_stock(draw, book, at)
        }
        _ => {}
    }
}

fn other_line(draw: &mut Draw, line: &mut NewLine) {
    if draw.chance(45) {
        line.part = by(draw.text(&PARTS));
        line.fitted_before = Quantity::ZERO;
        line.quantity = Quantity::whole(1 + i64::try_from(draw.below(3)).unwrap_or(0));
        if draw.chance(3) {
            line.quantity = Quantity::from_milli(1);
        }
    }
    line.customer_supplied = draw.chance(18);
}

fn other_stock(draw: &mut Draw, book: &Book, at: &mut BinQuantity) {
    let part = draw.text(&PARTS);
    let tracked = book.find_part(&by(part)).is_ok_and(|part| part.lot_tracked);
    at.part = by(part);
    at.lot = if tracked { draw.text(&["L1", "L2"]).to_owned() } else { String::new() };
    at.quantity = Quantity::whole(1 + i64::try_from(draw.below(4)).unwrap_or(0));
}
