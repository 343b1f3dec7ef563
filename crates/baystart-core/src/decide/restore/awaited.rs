//! Awaited things as they stood.

use crate::book::Change;
use crate::book::model::{Awaited, Build};
use crate::command::NewAwaited;
use crate::decide::Subject;
use crate::decide::builds::awaited_row;
use crate::decide::work::Work;
use crate::ids::AwaitedId;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use crate::restore::RestoredAwaited;

pub(super) fn restore(
    work: &mut Work<'_, '_>,
    build: &Ref,
    items: &[RestoredAwaited],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let build = faults.take("build", work.book.find_build(build).cloned());
    let Some(build) = build else { return faults.whole(None) };
    let there = work.book.awaited_of(build.id);
    let mut numbers: Vec<i32> = there.iter().map(|row| row.number).collect();
    let mut rows = Vec::new();
    for (i, item) in items.iter().enumerate() {
        let next = numbers.iter().max().map_or(1, |last| last + 1);
        let number = item.number.unwrap_or(next);
        if number < 1 || numbers.contains(&number) {
            let message = format!("{number} is no new number of an awaited thing");
            faults.push(nth("items", i).then("item"), Reason::DuplicateLine, message);
        }
        numbers.push(number);
        rows.extend(row(work, &mut faults, &build, (i, item), number));
    }
    faults.check()?;
    for mut row in rows {
        row.id = AwaitedId(work.fresh());
        work.change(Change::Awaited(row));
    }
    Ok(Subject::Build(build.id))
}

fn row(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    build: &Build,
    (i, item): (usize, &RestoredAwaited),
    number: i32,
) -> Option<Awaited> {
    let new = NewAwaited {
        kind: item.kind,
        name: item.name.clone(),
        identification: item.identification.clone(),
        source: item.source.clone(),
        stage: item.stage.clone(),
        line: item.line,
        asked_on: item.asked_on,
        quoted_days: item.quoted_days,
        expected_on: None,
    };
    let row = awaited_row(work, faults, build, (i, &new), number)?;
    let today = work.context.today;
    for (field, day) in [("received_on", item.received_on), ("dropped_on", item.dropped_on)] {
        let Some(day) = day else { continue };
        if day > today {
            let message = format!("{day} is after today, {today}");
            faults.push(nth("items", i).then(field), Reason::DateInFuture, message);
        }
    }
    if item.received_on.is_some_and(|day| day < row.asked_on) {
        let message = format!("it was asked for only on {}", row.asked_on);
        faults.push(nth("items", i).then("received_on"), Reason::DateInvalid, message);
    }
    if item.received_on.is_some() && item.dropped_on.is_some() {
        let message = "what came was not given up";
        faults.push(nth("items", i).then("dropped_on"), Reason::ValueInvalid, message);
    }
    let (received_on, dropped_on) = (item.received_on, item.dropped_on);
    // A customer's part that was moved to another stage keeps the stage that it had.
    let stage = match &item.stage {
        Some(name) => work.book.find_stage(build, name).map(|stage| stage.id).ok(),
        None => row.stage,
    };
    Some(Awaited { stage, promises: item.promises.clone(), received_on, dropped_on, ..row })
}
