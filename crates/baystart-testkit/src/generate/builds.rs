//! A build's life and lines.

use super::{Draw, amount, day_near, occurred, ref_build, stocked};
use crate::world::{KITS, by, number};
use baystart_core::book::Book;
use baystart_core::book::model::{Build, BuildState};
use baystart_core::command::{BuildCommand, BuildFields, Command, NewLine, NewStage};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use jiff::civil::Date;

const STAGES: [&str; 3] = ["Strip", "Electrical", "Fit out"];
/// Builds that are neither delivered nor cancelled at once, about.
const LIVE_BUILDS_MAX: usize = 5;

pub(super) fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let over = BuildState::is_over;
    let live: Vec<_> = book.builds.values().filter(|build| !over(build.state)).collect();
    let room = live.len() < LIVE_BUILDS_MAX;
    if (room && draw.chance(45)) || draw.chance(3) {
        return Command::Build(create(draw, book, today));
    }
    let all: Vec<_> = book.builds.values().collect();
    let pool = if draw.chance(90) { &live } else { &all };
    let Some(build) = draw.pick(pool).copied() else {
        return Command::Build(create(draw, book, today));
    };
    Command::Build(of(draw, book, build, today))
}

fn create(draw: &mut Draw, book: &Book, today: Date) -> BuildCommand {
    let fresh = if draw.chance(95) { book.builds.len() + 1 } else { 1 };
    let stages = 2 + draw.below(2);
    let stages = STAGES.iter().take(stages).zip(1..);
    let stages: Vec<_> = stages
        .map(|(name, planned_days)| NewStage { name: number(name), planned_days, off_site: None })
        .collect();
    let count = 1 + draw.below(5);
    BuildCommand::Create {
        number: number(&format!("B-{fresh}")),
        fields: fields(draw, today),
        lines: (0..count).map(|_| line(draw)).collect(),
        stages,
        for_stock: false,
    }
}

fn fields(draw: &mut Draw, today: Date) -> BuildFields {
    BuildFields {
        vehicle: "Hill van".to_owned(),
        customer: "Torrin Mountain Rescue".to_owned(),
        priority: i32::try_from(1 + draw.below(3)).unwrap_or(1),
        planned_start: if draw.chance(60) { day_near(draw, today, 0, 60) } else { None },
        required_by: if draw.chance(40) { day_near(draw, today, 20, 90) } else { None },
        staging_bin: None,
    }
}

pub(super) fn line(draw: &mut Draw) -> NewLine {
    let part = if draw.chance(20) { draw.text(&KITS) } else { stocked(draw) };
    let part = if draw.chance(1) { draw.text(&["DEEP-1", "DEEP-17"]) } else { part };
    let quantity = match draw.chance(2) {
        // A thousandth of a kit has components that no quantity can hold.
        true => Quantity::from_milli(1),
        false => amount(draw, part, 4),
    };
    let fitted = draw.chance(4) && !KITS.contains(&part);
    NewLine {
        stage: draw.text(&["strip", "ELECTRICAL"]).to_owned(),
        part: by(part),
        quantity,
        unit: None,
        fitted_before: if fitted { Quantity::whole(1) } else { Quantity::ZERO },
        customer_supplied: false,
    }
}

fn of(draw: &mut Draw, book: &Book, build: &Build, today: Date) -> BuildCommand {
    let build_ref = ref_build(draw, build);
    let occurred_on = occurred(draw, today);
    if draw.chance(8) {
        let op = draw.below(9);
        return step(draw, book, build, build_ref, op, occurred_on);
    }
    match draw.below(12) {
        0 => {
            let lines = (0..1 + draw.below(2)).map(|_| line(draw)).collect();
            return BuildCommand::AddLines { build: build_ref, lines };
        }
        1 | 2 => return change_line(draw, book, build, build_ref),
        3 => {
            let etag = format!("v{}", build.version);
            return BuildCommand::Update { build: build_ref, fields: fields(draw, today), etag };
        }
        _ => {}
    }
    let op = match build.state {
        BuildState::Quoted => usize::from(draw.chance(4)) * 8,
        BuildState::Open if draw.chance(4) => 8,
        BuildState::Open => 1 + usize::from(draw.chance(25)) * 5,
        BuildState::InBay if draw.chance(10) => 6,
        BuildState::InBay => bay_step(draw, book, build),
        BuildState::OnHold => 7,
        BuildState::ReadyForHandover => 5,
        BuildState::Delivered | BuildState::Cancelled => draw.below(9),
    };
    step(draw, book, build, build_ref, op, occurred_on)
}

/// What comes next in the bay, mostly.
fn bay_step(draw: &mut Draw, book: &Book, build: &Build) -> usize {
    if draw.chance(15) {
        return 2 + draw.below(3);
    }
    let stages = book.stages_of(build.id);
    if stages.iter().any(|stage| stage.begun_on.is_some() && stage.done_on.is_none()) {
        return 3;
    }
    if stages.iter().any(|stage| stage.begun_on.is_none()) { 2 } else { 4 }
}

fn change_line(draw: &mut Draw, book: &Book, build: &Build, build_ref: Ref) -> BuildCommand {
    let lines = book.lines_of(build.id);
    let line = draw.pick(&lines).copied();
    let part = line.map_or("", |line| book.part_number(line.part)).to_owned();
    let quantity = draw.chance(80).then(|| match draw.chance(10) {
        true => Quantity::ZERO,
        false => amount(draw, &part, 5),
    });
    let stage = draw.chance(30).then(|| draw.text(&STAGES).to_owned());
    BuildCommand::ChangeLine {
        build: build_ref,
        line: line.map_or(1, |line| line.number),
        quantity,
        stage,
    }
}

/// A step of the build's life: 0 open, 1 put in bay, 2 begin, 3 finish, 4 ready,
/// 5 deliver, 6 hold, 7 resume, 8 cancel.
fn step(
    draw: &mut Draw,
    book: &Book,
    build: &Build,
    build_ref: Ref,
    op: usize,
    occurred_on: Option<Date>,
) -> BuildCommand {
    let stages = book.stages_of(build.id);
    let waiting = stages.iter().find(|stage| stage.begun_on.is_none());
    let begun = stages.iter().find(|stage| stage.begun_on.is_some() && stage.done_on.is_none());
    let plausible = draw.chance(90);
    let name = |stage: Option<&&baystart_core::book::model::Stage>, other: &str| match stage {
        Some(stage) if plausible => stage.name.written().to_lowercase(),
        _ => other.to_owned(),
    };
    let other = draw.text(&STAGES);
    let reason = "waits for the customer".to_owned();
    let build = build_ref;
    match op {
        0 => BuildCommand::Open { build, occurred_on },
        1 => BuildCommand::PutInBay { build, occurred_on },
        2 => BuildCommand::BeginStage { build, stage: name(waiting, other), occurred_on },
        3 => BuildCommand::FinishStage { build, stage: name(begun, other), occurred_on },
        4 => BuildCommand::MarkReady { build, occurred_on },
        5 => BuildCommand::Deliver { build, occurred_on },
        6 => BuildCommand::Hold { build, reason, occurred_on },
        7 => BuildCommand::Resume { build, occurred_on },
        _ => BuildCommand::Cancel { build, reason, occurred_on },
    }
}
