//! The vehicle, a customer's part, a paper.

use super::super::{Draw, day_near, lot_for, occurred, ref_build, some_line};
use crate::world::{BINS, by};
use baystart_core::book::Book;
use baystart_core::book::model::{Awaited, AwaitedKind, Build, Line};
use baystart_core::command::{BuildCommand, Command, NewAwaited};
use jiff::civil::Date;

pub(super) fn command(draw: &mut Draw, book: &Book, today: Date) -> Command {
    if draw.chance(12) {
        return promise(draw, book, today);
    }
    let any = draw.chance(12);
    let open: Vec<&Awaited> = book.awaited.values().filter(|row| any || row.is_open()).collect();
    let op = draw.below(10);
    let row = draw.pick(&open).copied().filter(|_| op > 3);
    let build = row.and_then(|row| book.builds.get(&row.build));
    let (Some(row), Some(build)) = (row, build) else { return add(draw, book, today) };
    let build = ref_build(draw, build);
    let (item, occurred_on) = (row.number, occurred(draw, today));
    let identification = draw.chance(15).then(|| draw.text(&["GLN4T0RR1N2026042", "SN-77"]));
    let identification = identification.map(str::to_owned);
    Command::Build(match op {
        4..=5 => {
            let expected_on = day_near(draw, today, 0, 60).filter(|_| draw.chance(85));
            BuildCommand::ExpectAwaited { build, item, expected_on, identification, occurred_on }
        }
        6..=8 => {
            let line = row.line.and_then(|line| book.lines.get(&line));
            let part = line.map_or("", |line| book.part_number(line.part));
            let lot = lot_for(draw, book, part);
            let bin = line.map(|_| by(draw.text(&BINS)));
            BuildCommand::ReceiveAwaited { build, item, bin, lot, identification, occurred_on }
        }
        _ => {
            let reason = "the customer needs it no longer".to_owned();
            BuildCommand::DropAwaited { build, item, reason, occurred_on }
        }
    })
}

/// A delivery date that the customer was given.
fn promise(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let builds: Vec<&Build> = book.builds.values().collect();
    let build = draw.pick(&builds).copied();
    Command::Build(BuildCommand::PromiseDelivery {
        build: build.map_or_else(|| by("B-1"), |build| ref_build(draw, build)),
        delivery_on: day_near(draw, today, -2, 90).unwrap_or(today),
        note: String::new(),
        occurred_on: occurred(draw, today),
    })
}

fn add(draw: &mut Draw, book: &Book, today: Date) -> Command {
    let brought = |line: &Line| {
        let awaited = book.awaited.values().any(|row| row.line == Some(line.id) && row.is_open());
        line.customer_supplied && !awaited && book.short_of(line).is_positive()
    };
    let builds: Vec<&Build> = book.builds.values().collect();
    let found = some_line(draw, book, brought).filter(|_| draw.chance(50));
    let other = draw.pick(&builds).copied();
    let Some((build, line)) = found.map(|(b, line)| (b, Some(line))).or(other.map(|b| (b, None)))
    else {
        let items = Vec::new();
        return Command::Build(BuildCommand::AddAwaited { build: by("B-1"), items });
    };
    let kind = match line {
        Some(_) => AwaitedKind::CustomerPart,
        None if draw.chance(5) => AwaitedKind::CustomerPart,
        None if draw.chance(50) => AwaitedKind::Vehicle,
        None => AwaitedKind::Paper,
    };
    let needs_stage = kind == AwaitedKind::Vehicle || draw.chance(40);
    let stage = needs_stage.then(|| draw.text(&["Strip", "electrical"]).to_owned());
    let mut items = vec![NewAwaited {
        kind,
        name: "what is awaited".to_owned(),
        identification: String::new(),
        source: draw.text(&["", "Torrin Mountain Rescue"]).to_owned(),
        stage,
        line: line.map(|line| line.number),
        asked_on: day_near(draw, today, -20, 0).filter(|_| draw.chance(50)),
        quoted_days: draw.chance(40).then_some(21),
        expected_on: day_near(draw, today, 0, 60).filter(|_| draw.chance(60)),
    }];
    if draw.chance(15) {
        items.extend(items.clone());
    }
    Command::Build(BuildCommand::AddAwaited { build: ref_build(draw, build), items })
}
