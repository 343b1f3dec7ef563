//! Makes a command wrong in one way that people and programs get wrong.

mod every_line;

use super::Draw;
use crate::world::{DEEP, KITS, by, unit};
use baystart_core::command::{
    BinQuantity, BindCommand, BuildCommand, Command, LineQuantity, NewLine, NewStage, OrderCommand,
    Rejection, StockCommand,
};
use baystart_core::quantity::{QUANTITY_MILLI_MAX, Quantity};
use baystart_core::refs::Ref;
use jiff::ToSpan;
use jiff::civil::{Date, date};
use uuid::Uuid;

/// A reference to nothing.
fn nobody(draw: &mut Draw) -> Ref {
    match draw.chance(50) {
        true => by("NO-SUCH"),
        false => Ref::Uid(Uuid::max()),
    }
}

fn bad_quantity(draw: &mut Draw) -> Quantity {
    match draw.below(4) {
        0 => Quantity::ZERO,
        1 => Quantity::whole(-2),
        2 => Quantity::from_milli(-1),
        _ => Quantity::from_milli(QUANTITY_MILLI_MAX),
    }
}

fn bad_day(draw: &mut Draw, today: Date) -> Option<Date> {
    match draw.below(3) {
        0 => today.checked_add(1.day()).ok(),
        1 => Some(date(9999, 12, 31)),
        _ => Some(date(1900, 1, 1)),
    }
}

fn bad_text(draw: &mut Draw) -> String {
    match draw.below(10) {
        0..=5 => "  ".to_owned(),
        6..=7 => "long ".repeat(101),
        8 => "nobody sees\u{200b} it".to_owned(),
        _ => "turned \u{202e}round".to_owned(),
    }
}

pub(super) fn spoil(draw: &mut Draw, command: &mut Command, today: Date) {
    match command {
        Command::Stock(command) => stock(draw, command, today),
        Command::Build(command) => build(draw, command, today),
        Command::Bind(command) => bind(draw, command, today),
        Command::Make(command) => every_line::make(draw, command, today),
        Command::Order(command) => order(draw, command, today),
        Command::UpdateSettings { settings, etag, .. } => match draw.below(6) {
            0 => settings.working_days = [false; 7],
            1 => settings.ordering_days = [false; 7],
            2 => settings.reserve_window_days = 9999,
            3 => settings.stall_tolerance = f64::NAN,
            4 => settings.bays = 10_001,
            _ => "v0".clone_into(etag),
        },
        Command::AddClosures { closures } | Command::RemoveClosures { closures } => {
            match draw.below(4) {
                0 => closures.clear(),
                1 => closures.iter_mut().for_each(|row| row.last_day = date(2000, 1, 1)),
                2 => closures.iter_mut().for_each(|row| row.last_day = date(2999, 1, 1)),
                _ => closures.iter_mut().for_each(|row| row.supplier = Some(by("NO-SUCH"))),
            }
        }
        Command::CreatePart { part } | Command::UpdatePart { part, .. } => match draw.below(5) {
            0 => part.description = bad_text(draw),
            1 => "12345".clone_into(&mut part.gtin),
            2 => part.components.push((nobody(draw), bad_quantity(draw))),
            3 => {
                part.components.push((by("WH-10"), Quantity::whole(1)));
                part.components.push((by("WH-10"), Quantity::whole(2)));
            }
            _ => part.components.push((Ref::Number(part.number.clone()), Quantity::whole(1))),
        },
        Command::CreateSupplier { name, .. } => *name = bad_text(draw),
        Command::UpdateSupplier { name, etag, target, .. } => match draw.below(3) {
            0 => *name = bad_text(draw),
            1 => etag.clear(),
            _ => *target = nobody(draw),
        },
        Command::PutOffer { offer, .. } => match draw.below(5) {
            0 => offer.supplier = nobody(draw),
            1 => offer.part = nobody(draw),
            2 => offer.pack_size = Some(bad_quantity(draw)),
            3 => offer.price = crate::world::pounds(-1),
            _ => offer.quoted_days = Some(40_000),
        },
        Command::CreateBin { description, .. } => *description = bad_text(draw),
        Command::IssueToken { name, roles } => match draw.chance(50) {
            true => name.clear(),
            false => roles.clear(),
        },
        Command::RevokeToken { token } => *token = Uuid::max(),
    }
}

fn stock(draw: &mut Draw, command: &mut StockCommand, today: Date) {
    let day = bad_day(draw, today);
    let text = bad_text(draw);
    let how = draw.below(4);
    match command {
        StockCommand::Adjust { at, reason, occurred_on, .. }
        | StockCommand::Scrap { at, reason, occurred_on, .. }
        | StockCommand::Quarantine { at, reason, occurred_on }
        | StockCommand::ReleaseQuarantine { at, reason, occurred_on }
        | StockCommand::Receive { at, reason, occurred_on, .. } => match how {
            0 => *reason = text,
            1 => *occurred_on = day,
            _ => spot(draw, at),
        },
        StockCommand::ReturnToSupplier { at, supplier, reason, occurred_on, .. } => match how {
            0 => *reason = text,
            1 => *occurred_on = day,
            2 => *supplier = nobody(draw),
            _ => spot(draw, at),
        },
        StockCommand::Move { at, to, occurred_on } => match how {
            0 => *to = at.bin.clone(),
            1 => *occurred_on = day,
            _ => spot(draw, at),
        },
        StockCommand::Found { build, line, quantity, occurred_on, .. } => match how {
            0 => *build = nobody(draw),
            1 => *line = 99,
            2 => *quantity = bad_quantity(draw),
            _ => *occurred_on = day,
        },
    }
}

fn spot(draw: &mut Draw, at: &mut BinQuantity) {
    match draw.below(5) {
        0 => at.part = nobody(draw),
        1 => at.bin = nobody(draw),
        2 => at.lot = if at.lot.is_empty() { "L9".to_owned() } else { String::new() },
        3 => at.part = by(draw.text(&KITS)),
        _ => at.quantity = bad_quantity(draw),
    }
}

fn build(draw: &mut Draw, command: &mut BuildCommand, today: Date) {
    let day = bad_day(draw, today);
    match command {
        BuildCommand::Create { fields, stages, lines, .. } => match draw.below(6) {
            0 => fields.vehicle = bad_text(draw),
            1 => fields.priority = 0,
            2 => stages.extend(stages.clone()),
            3 => {
                let name = |n: usize| crate::world::number(&format!("Stage {n}"));
                let stage = |n| NewStage { name: name(n), planned_days: 1, off_site: None };
                *stages = (0..101).map(stage).collect();
                lines.clear();
            }
            4 => stages.iter_mut().for_each(|stage| stage.planned_days = 1000),
            _ => spoil_lines(draw, lines),
        },
        BuildCommand::Update { build, fields, etag } => match draw.below(3) {
            0 => *build = nobody(draw),
            1 => fields.priority = 10_000,
            _ => "v0".clone_into(etag),
        },
        BuildCommand::AddLines { lines, .. } => spoil_lines(draw, lines),
        BuildCommand::ChangeLine { build, line, quantity, stage } => match draw.below(5) {
            0 => *build = nobody(draw),
            1 => *line = 99,
            2 => *quantity = Some(Quantity::whole(-1)),
            3 => (*quantity, *stage) = (None, None),
            _ => *stage = Some("Paint".to_owned()),
        },
        BuildCommand::Hold { build, reason, occurred_on }
        | BuildCommand::Cancel { build, reason, occurred_on } => match draw.below(3) {
            0 => *build = nobody(draw),
            1 => *reason = bad_text(draw),
            _ => *occurred_on = day,
        },
        BuildCommand::BeginStage { build, stage, occurred_on }
        | BuildCommand::FinishStage { build, stage, occurred_on } => match draw.below(3) {
            0 => *build = nobody(draw),
            1 => "Paint".clone_into(stage),
            _ => *occurred_on = day,
        },
        BuildCommand::Open { build, occurred_on }
        | BuildCommand::Resume { build, occurred_on }
        | BuildCommand::PutInBay { build, occurred_on }
        | BuildCommand::MarkReady { build, occurred_on }
        | BuildCommand::Deliver { build, occurred_on } => match draw.chance(50) {
            true => *build = nobody(draw),
            false => *occurred_on = day,
        },
        BuildCommand::PromiseDelivery { .. }
        | BuildCommand::Substitute { .. }
        | BuildCommand::AddAwaited { .. }
        | BuildCommand::ExpectAwaited { .. }
        | BuildCommand::ReceiveAwaited { .. }
        | BuildCommand::DropAwaited { .. } => every_line::build(draw, command, today),
    }
}

fn spoil_lines(draw: &mut Draw, lines: &mut [NewLine]) {
    let Some(line) = lines.last_mut() else { return };
    match draw.below(6) {
        0 => "Paint".clone_into(&mut line.stage),
        1 => line.part = nobody(draw),
        2 => line.quantity = bad_quantity(draw),
        3 => line.unit = Some(unit("KGM")),
        4 => line.fitted_before = Quantity::whole(-1),
        _ => line.part = by(&format!("DEEP-{}", 1 + draw.below(DEEP))),
    }
}

fn bind(draw: &mut Draw, command: &mut BindCommand, today: Date) {
    let day = bad_day(draw, today);
    match command {
        BindCommand::Reserve { build, lines } | BindCommand::Release { build, lines } => {
            wishes(draw, build, lines);
        }
        BindCommand::Issue { build, lines, stage, occurred_on } => match draw.below(4) {
            0 => *stage = Some("Paint".to_owned()),
            1 => *occurred_on = day,
            _ => wishes(draw, build, lines),
        },
        BindCommand::Return { build, lines, occurred_on } => match draw.below(3) {
            0 => *occurred_on = day,
            _ => wishes(draw, build, lines),
        },
        BindCommand::Peg { build, line, order, order_line, quantity } => match draw.below(5) {
            0 => *build = nobody(draw),
            1 => *line = 99,
            2 => *order = nobody(draw),
            3 => *order_line += 1,
            _ => *quantity = Some(bad_quantity(draw)),
        },
        BindCommand::Lend { build, line, to_build, to_line, quantity, reason, shown } => {
            match draw.below(8) {
                0 => *build = nobody(draw),
                1 => *line = 99,
                2 => *to_build = nobody(draw),
                3 => *to_line = 99,
                4 => *reason = bad_text(draw),
                5 => *shown = Some(-1),
                6 => to_build.clone_from(build),
                _ => *quantity = Some(bad_quantity(draw)),
            }
        }
        BindCommand::Pick { build, lines, occurred_on } => {
            every_line::pick(draw, build, lines, occurred_on, day);
        }
        BindCommand::Unpeg { build, line, order, order_line } => match draw.below(4) {
            0 => *build = nobody(draw),
            1 => *line = 99,
            2 => *order = nobody(draw),
            _ => *order_line += 1,
        },
    }
}

fn wishes(draw: &mut Draw, build: &mut Ref, lines: &mut Vec<LineQuantity>) {
    let Some(wish) = lines.last_mut() else {
        *build = nobody(draw);
        return;
    };
    match draw.below(7) {
        0 => *build = nobody(draw),
        1 => wish.line = 99,
        2 => wish.quantity = Some(bad_quantity(draw)),
        3 => wish.lot = Some("L9".to_owned()),
        4 => wish.bin = if draw.chance(50) { Some(nobody(draw)) } else { None },
        5 => lines.clear(),
        _ => {
            let twice = wish.clone();
            lines.push(twice);
        }
    }
}

fn order(draw: &mut Draw, command: &mut OrderCommand, today: Date) {
    let day = bad_day(draw, today);
    match command {
        OrderCommand::DraftSuggested { supplier } => *supplier = Some(nobody(draw)),
        OrderCommand::Create { supplier, lines, placed_on, .. } => match draw.below(9) {
            0 => *supplier = nobody(draw),
            1 => *placed_on = day,
            2 => lines.clear(),
            how => {
                let Some(line) = lines.last_mut() else { return };
                match how {
                    3 => line.part = nobody(draw),
                    4 => line.quantity = bad_quantity(draw),
                    5 | 6 => line.price = crate::world::pounds(-1),
                    7 => line.unit = Some(unit("KGM")),
                    _ => line.for_line = Some((by("B-1"), 1 + i32::from(draw.chance(50)))),
                }
            }
        },
        OrderCommand::Place { order, occurred_on, .. } => match draw.chance(50) {
            true => *order = nobody(draw),
            false => *occurred_on = day,
        },
        OrderCommand::Acknowledge { order, supplier_reference, promises, occurred_on } => {
            match draw.below(6) {
                0 => *order = nobody(draw),
                1 => *supplier_reference = bad_text(draw),
                2 => promises.clear(),
                3 => promises.extend(promises.clone()),
                4 => promises.iter_mut().for_each(|row| row.1 = Some(date(1999, 1, 1))),
                _ => *occurred_on = day,
            }
        }
        OrderCommand::TakeBack { order, lines, reason, occurred_on } => match draw.below(6) {
            0 => *order = nobody(draw),
            1 => lines.push(99),
            2 => lines.extend(lines.clone()),
            3 => lines.clear(),
            4 => *reason = bad_text(draw),
            _ => *occurred_on = day,
        },
        OrderCommand::Despatch { order, lines, occurred_on }
        | OrderCommand::Contact { order, lines, occurred_on, .. } => match draw.below(4) {
            0 => *order = nobody(draw),
            1 => lines.push(99),
            2 => lines.extend(lines.clone()),
            _ => *occurred_on = day,
        },
        OrderCommand::Cancel { order, lines, quantity, reason, occurred_on, .. } => {
            match draw.below(6) {
                0 => *order = nobody(draw),
                1 => lines.push(99),
                2 => lines.extend(lines.clone()),
                3 => *quantity = Some(bad_quantity(draw)),
                4 => *reason = bad_text(draw),
                _ => *occurred_on = day,
            }
        }
        OrderCommand::Reject { order, line, quantity, how, reason, occurred_on, .. } => {
            match draw.below(6) {
                0 => *order = nobody(draw),
                1 => *line = 99,
                2 => *quantity = bad_quantity(draw),
                3 => *reason = bad_text(draw),
                4 => *occurred_on = day,
                _ => {
                    let bin = nobody(draw);
                    *how = Rejection::Quarantined { bin, lot: "L9".to_owned() };
                }
            }
        }
        OrderCommand::Receive { order, lines, occurred_on } => match draw.below(7) {
            0 => *order = nobody(draw),
            1 => *occurred_on = day,
            2 => lines.clear(),
            how => {
                let Some(line) = lines.last_mut() else { return };
                match how {
                    3 => line.line = 99,
                    4 => line.quantity = Some(bad_quantity(draw)),
                    5 => line.bin = nobody(draw),
                    _ => "L9".clone_into(&mut line.lot),
                }
            }
        },
    }
}
