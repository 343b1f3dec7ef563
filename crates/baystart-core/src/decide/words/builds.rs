//! What was done to a build, as a sentence.

use super::counted;
use crate::book::Book;
use crate::book::model::BuildState;
use crate::decide::effect::{AwaitedEffect, BuildEffect};
use crate::ids::{AwaitedId, BuildId};
use crate::text::percent;
use jiff::civil::Date;

pub(super) fn sentence(book: &Book, build: BuildId, what: &BuildEffect) -> String {
    let number = book.build_number(build);
    match what {
        BuildEffect::Quoted { stages, lines } => format!(
            "Build {number} quoted, with {} and {}",
            counted(*stages, "stage"),
            counted(*lines, "line")
        ),
        BuildEffect::Changed => format!("Build {number} changed"),
        BuildEffect::Stands(BuildState::InBay) => format!("Build {number} is in the bay"),
        BuildEffect::Stands(state) => format!("Build {number} is {state}"),
        BuildEffect::OnHold { reason } => format!("Build {number} is on hold: {reason}"),
        BuildEffect::OffHold { state } => {
            format!("Build {number} is off hold; it is {state} again")
        }
        BuildEffect::StageBegun(stage) => {
            format!("Stage {} of build {number} is begun", book.stage_name(*stage))
        }
        BuildEffect::StageDone(stage) => {
            format!("Stage {} of build {number} is done", book.stage_name(*stage))
        }
        BuildEffect::LinesAdded(count) => {
            format!("Added {} to build {number}", counted(*count, "line"))
        }
        BuildEffect::Substituted { line, old, new, approved_by, reason } => format!(
            "Line {line} takes {} instead of {}, accepted by {approved_by}: {reason}",
            book.part_number(*new),
            book.part_number(*old)
        ),
        BuildEffect::Awaited { item, what } => awaited(book, *item, what),
        BuildEffect::Promised { on, before, chance } => promised(*on, *before, *chance),
    }
}

fn awaited(book: &Book, item: AwaitedId, what: &AwaitedEffect) -> String {
    let row = book.awaited.get(&item);
    let item = row.map_or("?".to_owned(), |row| format!("{} {}", row.kind.text(), row.name));
    match what {
        AwaitedEffect::Added { expected_on: Some(date) } => {
            format!("Awaited: {item}, expected {date}")
        }
        AwaitedEffect::Added { expected_on: None } => format!("Awaited: {item}, no date yet"),
        AwaitedEffect::Identified { identification } => {
            format!("{item}: identification {identification}")
        }
        AwaitedEffect::Expected { on, before: None } => format!("{item}: expected {on}"),
        AwaitedEffect::Expected { on, before: Some(before) } if on == before => {
            format!("{item}: still expected {on}")
        }
        AwaitedEffect::Expected { on, before: Some(before) } => {
            format!("{item}: moved from {before} to {on}")
        }
        AwaitedEffect::Here { since } => format!("Here since {since}: {item}"),
        AwaitedEffect::Dropped { reason } => format!("No longer awaited: {item}: {reason}"),
    }
}

fn promised(on: Date, before: Option<Date>, chance: Option<f64>) -> String {
    let what = match before {
        Some(before) if before == on => format!("Promised again for {on}"),
        Some(before) => format!("Promise moved from {before} to {on}"),
        None => format!("Promised to the customer for {on}"),
    };
    match chance {
        Some(chance) => format!("{what}: kept with a chance of {}", percent(chance)),
        None => what,
    }
}
