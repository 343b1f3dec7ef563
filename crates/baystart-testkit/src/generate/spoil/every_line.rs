//! The same for commands about made, awaited, substituted and picked lines.

use super::{bad_day, bad_quantity, bad_text, nobody};
use crate::generate::Draw;
use baystart_core::command::{BuildCommand, MakeCommand, PickedLine};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::civil::{Date, date};

pub(super) fn make(draw: &mut Draw, command: &mut MakeCommand, today: Date) {
    let day = bad_day(draw, today);
    match command {
        MakeCommand::RecordMade { build, line, quantity, bin, lot, occurred_on }
        | MakeCommand::CameBack { build, line, quantity, bin, lot, occurred_on } => {
            match draw.below(6) {
                0 => *build = nobody(draw),
                1 => *line = 99,
                2 => *quantity = Some(bad_quantity(draw)),
                3 => *bin = nobody(draw),
                4 => "L9".clone_into(lot),
                _ => *occurred_on = day,
            }
        }
        MakeCommand::SendOut { build, line, quantity, promised_on, occurred_on } => {
            match draw.below(5) {
                0 => *build = nobody(draw),
                1 => *line = 99,
                2 => *quantity = Some(bad_quantity(draw)),
                3 => *promised_on = Some(date(1999, 1, 1)),
                _ => *occurred_on = day,
            }
        }
        MakeCommand::PromiseBack { build, line, promised_on, occurred_on } => match draw.below(4) {
            0 => *build = nobody(draw),
            1 => *line = 99,
            2 => *promised_on = None,
            _ => *occurred_on = day,
        },
    }
}

pub(super) fn build(draw: &mut Draw, command: &mut BuildCommand, today: Date) {
    let day = bad_day(draw, today);
    match command {
        BuildCommand::Substitute { build, line, part, approved_by, reason, occurred_on } => {
            match draw.below(6) {
                0 => *build = nobody(draw),
                1 => *line = 99,
                2 => *part = nobody(draw),
                3 => *approved_by = bad_text(draw),
                4 => *reason = bad_text(draw),
                _ => *occurred_on = day,
            }
        }
        BuildCommand::AddAwaited { build, items } => {
            let Some(item) = items.last_mut() else { return };
            match draw.below(7) {
                0 => *build = nobody(draw),
                1 => item.name = bad_text(draw),
                2 => "NOT-A-NUMBER!".clone_into(&mut item.identification),
                3 => item.stage = Some("Paint".to_owned()),
                4 => item.line = Some(99),
                5 => item.expected_on = Some(date(1999, 1, 1)),
                _ => items.clear(),
            }
        }
        BuildCommand::ExpectAwaited { build, item, expected_on, identification, occurred_on } => {
            match draw.below(4) {
                0 => *build = nobody(draw),
                1 => *item = 99,
                2 => (*expected_on, *identification) = (None, None),
                _ => *occurred_on = day,
            }
        }
        BuildCommand::ReceiveAwaited { build, item, bin, occurred_on, .. } => match draw.below(4) {
            0 => *build = nobody(draw),
            1 => *item = 99,
            2 => *bin = bin.take().map_or_else(|| Some(nobody(draw)), |_| None),
            _ => *occurred_on = day,
        },
        BuildCommand::DropAwaited { build, item, reason, occurred_on } => match draw.below(4) {
            0 => *build = nobody(draw),
            1 => *item = 99,
            2 => *reason = bad_text(draw),
            _ => *occurred_on = day,
        },
        BuildCommand::PromiseDelivery { build, delivery_on, occurred_on, .. } => {
            match draw.below(3) {
                0 => *build = nobody(draw),
                1 => *delivery_on = Date::MIN,
                _ => *occurred_on = day,
            }
        }
        _ => {}
    }
}

pub(super) fn pick(
    draw: &mut Draw,
    build: &mut Ref,
    lines: &mut Vec<PickedLine>,
    occurred_on: &mut Option<Date>,
    day: Option<Date>,
) {
    match draw.below(7) {
        0 => *build = nobody(draw),
        1 => *occurred_on = day,
        2 => lines.clear(),
        how => {
            let Some(line) = lines.last_mut() else { return };
            match how {
                3 => line.line = 99,
                4 => line.bin = nobody(draw),
                5 => "L9".clone_into(&mut line.lot),
                _ => line.missing = Quantity::whole(-1),
            }
        }
    }
}
