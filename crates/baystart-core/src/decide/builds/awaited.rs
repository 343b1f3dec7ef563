//! Things that no order brings: the vehicle, a customer's part, a paper.

use super::on_build;
use crate::book::Change;
use crate::book::model::{
    Account, Awaited, AwaitedKind, Build, Line, MovementKind, Promise, StockKey,
};
use crate::command::NewAwaited;
use crate::decide::binding_rule::reserve;
use crate::decide::effect::{AwaitedEffect, BuildEffect, StockEffect};
use crate::decide::ledger::{Booking, lot_facts, post, say_handling};
use crate::decide::work::{Work, touch};
use crate::decide::{Subject, check, closed_days};
use crate::ids::AwaitedId;
use crate::refs::Ref;
use crate::refusal::{Faults, FieldPath, Reason, Refusal, nth};
use jiff::civil::Date;

/// Most awaited things of one build.
const AWAITED_MAX: usize = 200;
/// Longest quoted time in days.
const QUOTED_DAYS_MAX: u32 = 3650;

/// News of an awaited thing.
pub(super) struct News<'a> {
    pub(super) expected_on: Option<Date>,
    pub(super) identification: Option<&'a str>,
}

/// How it came.
pub(super) struct Arrival<'a> {
    pub(super) bin: Option<&'a Ref>,
    pub(super) lot: &'a str,
    pub(super) identification: Option<&'a str>,
}

fn named(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    build: &Ref,
    number: i32,
) -> Option<(Build, Awaited)> {
    let build = faults.take("build", work.book.find_build(build).cloned())?;
    let row = work.book.awaited_of(build.id).into_iter().find(|row| row.number == number);
    let found = row.cloned().ok_or_else(|| {
        let message = format!("build {} awaits nothing of number {number}", build.number);
        (Reason::AwaitedUnknown, message)
    });
    let row = faults.take("item_number", found)?;
    Some((build, row))
}

fn live(build: &Build) -> Result<(), Refusal> {
    if build.state.is_over() {
        let message = format!("build {} is {}: it awaits nothing", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message));
    }
    Ok(())
}

fn still_open(row: &Awaited) -> Result<(), Refusal> {
    let done = match (row.received_on, row.dropped_on) {
        (Some(day), _) => format!("came on {day}"),
        (None, Some(day)) => format!("was given up on {day}"),
        (None, None) => return Ok(()),
    };
    let message = format!("{} {}, {}, {done}", row.kind.text(), row.number, row.name);
    Err(Refusal::new(Reason::AwaitedState, message))
}

/// A vehicle identification number has 17 letters and digits without I, O and Q (ISO 3779); shorter
/// ones are older or of trailers.
fn identification(
    faults: &mut Faults,
    field: impl Into<FieldPath>,
    kind: AwaitedKind,
    text: &str,
) -> String {
    let field = &field.into();
    check::text(faults, field, text, false);
    let text = text.trim();
    if kind != AwaitedKind::Vehicle || text.is_empty() {
        return text.to_owned();
    }
    let text = text.to_uppercase();
    let wrong = |c: char| !c.is_ascii_alphanumeric() || "IOQ".contains(c);
    if text.len() > 17 || text.contains(|c: char| !c.is_ascii_alphanumeric()) {
        let message = format!("\"{text}\" is no vehicle identification number");
        faults.push(field, Reason::ValueInvalid, message);
    } else if text.len() == 17 && text.contains(wrong) {
        let message = format!(
            "\"{text}\" holds I, O or Q, which no identification number of 17 characters does"
        );
        faults.push(field, Reason::ValueInvalid, message);
    }
    text
}

pub(super) fn add(
    work: &mut Work<'_, '_>,
    build: &Ref,
    items: &[NewAwaited],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::count(&mut faults, "items", items.len(), true);
    let found = faults.take("build", work.book.find_build(build).cloned());
    let Some(build) = found else { return faults.whole(None) };
    let there = work.book.awaited_of(build.id);
    if there.len() + items.len() > AWAITED_MAX {
        let message = format!("a build awaits at most {AWAITED_MAX} things");
        faults.push("items", Reason::TooMany, message);
    }
    let first = there.last().map_or(1, |row| row.number + 1);
    let has_vehicle = |row: &Awaited| row.kind == AwaitedKind::Vehicle && row.dropped_on.is_none();
    let mut vehicle = there.iter().any(|row| has_vehicle(row));
    let mut rows: Vec<Awaited> = Vec::new();
    for ((i, new), number) in items.iter().enumerate().zip(first..) {
        if new.kind == AwaitedKind::Vehicle && std::mem::replace(&mut vehicle, true) {
            let message = format!("build {} has its vehicle already", build.number);
            faults.push(nth("items", i).then("kind"), Reason::DuplicateLine, message);
        }
        let Some(row) = checked(work, &mut faults, &build, (i, new), number) else { continue };
        if rows.iter().any(|earlier| row.line.is_some() && earlier.line == row.line) {
            let message = "the build line is named twice";
            faults.push(nth("items", i).then("line_number"), Reason::DuplicateLine, message);
        }
        rows.push(row);
    }
    faults.check()?;
    live(&build)?;
    let named: Vec<Date> =
        rows.iter().filter_map(|row| Some(row.promises.last()?.promised_on)).collect();
    for mut row in rows {
        row.id = AwaitedId(work.fresh());
        let expected_on = row.promises.last().map(|promise| promise.promised_on);
        put(work, row, AwaitedEffect::Added { expected_on });
    }
    closed_days::say(work, named, None);
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

fn put(work: &mut Work<'_, '_>, row: Awaited, what: AwaitedEffect) {
    let (build, item) = (row.build, row.id);
    work.change(Change::Awaited(row));
    on_build(work, build, BuildEffect::Awaited { item, what });
}

/// The checked thing without an id; faults under `items[i]`.
pub(in crate::decide) fn checked(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    build: &Build,
    (i, new): (usize, &NewAwaited),
    number: i32,
) -> Option<Awaited> {
    let at = |field: &'static str| nth("items", i).then(field);
    check::text(faults, at("name"), &new.name, true);
    check::text(faults, at("source"), &new.source, false);
    let identification =
        identification(faults, at("identification"), new.kind, &new.identification);
    let asked_on = new.asked_on.unwrap_or(work.context.today);
    if asked_on > work.context.today {
        let message = format!("{asked_on} is after today, {}", work.context.today);
        faults.push(at("asked_on"), Reason::DateInFuture, message);
    }
    if let Some(day) = new.expected_on.filter(|day| *day < asked_on) {
        let message = format!("{day} is before it was asked for, {asked_on}");
        faults.push(at("expected_on"), Reason::DateInvalid, message);
    }
    if let Some(days) = new.quoted_days.filter(|days| *days > QUOTED_DAYS_MAX) {
        let message = format!("{days} days is beyond {QUOTED_DAYS_MAX}");
        faults.push(at("usual_days"), Reason::ValueInvalid, message);
    }
    let stage = match &new.stage {
        None => Some(None),
        Some(name) => {
            let found = work.book.find_stage(build, name).map(|stage| Some(stage.id));
            faults.take(at("stage_name"), found)
        }
    };
    let line = match new.line {
        None => Some(None),
        Some(number) => {
            let found = work.book.find_line(build, number);
            faults.take(at("line_number"), found).map(Some)
        }
    };
    match (new.kind, line.flatten()) {
        (AwaitedKind::CustomerPart, None) if new.line.is_none() => {
            let message = "name the build line that the customer's part is";
            faults.push(at("line_number"), Reason::FieldMissing, message);
        }
        (AwaitedKind::CustomerPart, Some(line)) => {
            customers(work, faults, &at("line_number"), line)
        }
        (AwaitedKind::Vehicle | AwaitedKind::Paper, Some(_)) => {
            let message = format!("a {} is no line of the build", new.kind.text());
            faults.push(at("line_number"), Reason::ValueInvalid, message);
        }
        _ => {}
    }
    if new.kind == AwaitedKind::Vehicle && new.stage.is_none() {
        let message = "name the stage that cannot begin without the vehicle";
        faults.push(at("stage_name"), Reason::FieldMissing, message);
    }
    let (stage, line) = (stage?, line?);
    let promise = |promised_on| Promise { promised_on, known_on: work.context.today };
    Some(Awaited {
        id: AwaitedId(uuid::Uuid::nil()),
        build: build.id,
        number,
        kind: new.kind,
        name: new.name.trim().to_owned(),
        identification,
        source: new.source.trim().to_owned(),
        // A customer's part gates the stage of its line.
        stage: line.map(|line| line.stage).or(stage),
        line: line.map(|line| line.id),
        asked_on,
        quoted_days: new.quoted_days,
        promises: new.expected_on.map(promise).into_iter().collect(),
        received_on: None,
        dropped_on: None,
    })
}

/// Notes a line that the customer does not bring, or that is awaited already.
fn customers(work: &Work<'_, '_>, faults: &mut Faults, field: &FieldPath, line: &Line) {
    if !line.customer_supplied {
        let message = format!("line {} is not marked as brought by the customer", line.number);
        faults.push(field, Reason::ValueInvalid, message);
    }
    if let Some(row) = work.book.awaited_for(line.id).find(|row| row.is_open()) {
        let message = format!("line {} is awaited already, as number {}", line.number, row.number);
        faults.push(field, Reason::DuplicateLine, message);
    }
}

pub(super) fn expect(
    work: &mut Work<'_, '_>,
    build: &Ref,
    item: i32,
    news: &News<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let found = named(work, &mut faults, build, item);
    if news.expected_on.is_none() && news.identification.is_none() {
        faults.push("expected_on", Reason::FieldMissing, "give a date or an identification");
    }
    let Some((build, mut row)) = found else { return faults.whole(None) };
    if let Some(text) = news.identification {
        row.identification = identification(&mut faults, "identification", row.kind, text);
    }
    if let Some(expected_on) = news.expected_on {
        if expected_on < row.asked_on {
            let message = format!("{expected_on} is before it was asked for, {}", row.asked_on);
            faults.push("expected_on", Reason::DateInvalid, message);
        }
        if row.promises.last().is_some_and(|last| last.known_on > day) {
            let message = format!("a later date became known after {day}");
            faults.push("occurred_on", Reason::DateInvalid, message);
        }
        if day < row.asked_on {
            let message = format!("{day} is before it was asked for, {}", row.asked_on);
            faults.push("occurred_on", Reason::DateInvalid, message);
        }
    }
    faults.check()?;
    live(&build)?;
    still_open(&row)?;
    let what = match news.expected_on {
        None => AwaitedEffect::Identified { identification: row.identification.clone() },
        Some(on) => {
            let before = row.promises.last().map(|last| last.promised_on);
            row.promises.push(Promise { promised_on: on, known_on: day });
            AwaitedEffect::Expected { on, before }
        }
    };
    put(work, row, what);
    closed_days::say(work, news.expected_on, None);
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

pub(super) fn receive(
    work: &mut Work<'_, '_>,
    build: &Ref,
    item: i32,
    arrival: &Arrival<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let found = named(work, &mut faults, build, item);
    let bin =
        arrival.bin.and_then(|bin| faults.take("bin", work.book.find_bin(bin).map(|bin| bin.id)));
    let Some((build, mut row)) = found else { return faults.whole(None) };
    if day < row.asked_on {
        let message = format!("{day} is before it was asked for, {}", row.asked_on);
        faults.push("occurred_on", Reason::DateInvalid, message);
    }
    if let Some(text) = arrival.identification {
        row.identification = identification(&mut faults, "identification", row.kind, text);
    }
    let line = row.line.and_then(|line| work.book.lines.get(&line).cloned());
    let mut key = None;
    if let Some(line) = &line {
        if arrival.bin.is_none() {
            faults.push("bin", Reason::FieldMissing, "say into which bin it goes");
        }
        if let Some(part) = work.book.parts.get(&line.part) {
            let lot = check::lot(&mut faults, "lot", part, arrival.lot);
            key = Some(StockKey { part: line.part, lot });
        }
    } else if arrival.bin.is_some() || !arrival.lot.is_empty() {
        let message = format!("a {} goes into no bin", row.kind.text());
        faults.push("bin", Reason::ValueInvalid, message);
    }
    faults.check()?;
    live(&build)?;
    still_open(&row)?;
    if line.is_some() && !build.state.keeps_bindings() {
        let message = format!("build {} is {}: open it first", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message));
    }
    row.received_on = Some(day);
    put(work, row, AwaitedEffect::Here { since: day });
    if let (Some(line), Some(key), Some(bin)) = (line, key, bin) {
        let lacks = work.book.short_of(&line);
        if lacks.is_positive() {
            lot_facts(work, &key, None, day);
            let booking = Booking {
                kind: MovementKind::CustomerReceipt,
                day,
                reason: "",
                line: Some(line.id),
                order_line: None,
            };
            post(work, &key, Account::Customer(build.id), Account::Bin(bin), lacks, &booking);
            work.on_stock(&key, bin, lacks, StockEffect::FromCustomer);
            if let Some(part) = work.book.parts.get(&line.part).cloned() {
                say_handling(work, &part);
            }
            reserve(work, &line, key, lacks);
        }
    }
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

pub(super) fn drop_item(
    work: &mut Work<'_, '_>,
    build: &Ref,
    item: i32,
    reason: &str,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::text(&mut faults, "reason", reason, true);
    let found = named(work, &mut faults, build, item);
    let (build, mut row) = faults.whole(found)?;
    live(&build)?;
    still_open(&row)?;
    row.dropped_on = Some(day);
    put(work, row, AwaitedEffect::Dropped { reason: reason.trim().to_owned() });
    touch(work, &build);
    Ok(Subject::Build(build.id))
}
