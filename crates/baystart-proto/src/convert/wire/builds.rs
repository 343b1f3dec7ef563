//! Builds with stages and lines.

use super::promises::customer_promise;
use super::{date, decimal, etag};
use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::{
    Awaited, AwaitedKind, Build, BuildState, Line, Made, Making, Promise, Stage,
};
use baystart_core::decide::{Warning, words};
use baystart_core::ids::{BuildId, StageId};
use baystart_core::plan::{self, ToPick};

/// A build state on the wire.
#[must_use]
pub const fn build_state(state: BuildState) -> v1::BuildState {
    match state {
        BuildState::Quoted => v1::BuildState::Quoted,
        BuildState::Open => v1::BuildState::Open,
        BuildState::InBay => v1::BuildState::InBay,
        BuildState::ReadyForHandover => v1::BuildState::ReadyForHandover,
        BuildState::Delivered => v1::BuildState::Delivered,
        BuildState::OnHold => v1::BuildState::OnHold,
        BuildState::Cancelled => v1::BuildState::Cancelled,
    }
}

/// The state of a wire number, if it is one.
#[must_use]
pub fn build_state_of(number: i32) -> Option<BuildState> {
    match v1::BuildState::try_from(number).ok()? {
        v1::BuildState::Unspecified => None,
        v1::BuildState::Quoted => Some(BuildState::Quoted),
        v1::BuildState::Open => Some(BuildState::Open),
        v1::BuildState::InBay => Some(BuildState::InBay),
        v1::BuildState::ReadyForHandover => Some(BuildState::ReadyForHandover),
        v1::BuildState::Delivered => Some(BuildState::Delivered),
        v1::BuildState::OnHold => Some(BuildState::OnHold),
        v1::BuildState::Cancelled => Some(BuildState::Cancelled),
    }
}

/// A build with its stages, and its lines where `with_lines`.
#[must_use]
pub fn build(book: &Book, build: &Build, with_lines: bool) -> v1::Build {
    let mut lines = Vec::new();
    if with_lines {
        lines.extend(book.lines_of(build.id).into_iter().map(|l| line(book, l)));
    }
    v1::Build {
        uid: build.id.to_string(),
        number: build.number.written().to_owned(),
        vehicle: build.vehicle.clone(),
        customer: build.customer.clone(),
        state: build_state(build.state).into(),
        priority: build.priority,
        planned_start: build.planned_start.map(date),
        required_by: build.required_by.map(date),
        stages: book.stages_of(build.id).into_iter().map(|row| stage(book, row)).collect(),
        lines,
        etag: etag(build.version),
        note: build.note.clone(),
        for_stock: build.for_stock,
        staging_bin_code: build.staging_bin.map_or(String::new(), |b| book.bin_code(b).to_owned()),
        awaited: book.awaited_of(build.id).into_iter().map(|row| awaited(book, row)).collect(),
        warnings: if with_lines { warnings(book, build.id) } else { Vec::new() },
        customer_promises: build.customer_promises.iter().map(customer_promise).collect(),
        delivered_on: build.delivered_on.map(date),
    }
}

/// Where a stage stands.
pub(super) fn stage_state(stage: &Stage) -> v1::StageState {
    match (stage.begun_on, stage.done_on) {
        (_, Some(_)) => v1::StageState::Done,
        (Some(_), None) => v1::StageState::Begun,
        (None, None) => v1::StageState::Waiting,
    }
}

/// What should be told of a build's parts.
#[must_use]
pub fn warnings(book: &Book, build: BuildId) -> Vec<v1::LineWarning> {
    let rows = baystart_core::decide::warnings(book, build);
    rows.iter().map(|row| warning(book, row)).collect()
}

pub(super) fn warning(book: &Book, row: &Warning) -> v1::LineWarning {
    v1::LineWarning { line_number: row.line, text: words::warning(book, row) }
}

fn awaited(book: &Book, row: &Awaited) -> v1::AwaitedItem {
    let kind = match row.kind {
        AwaitedKind::Vehicle => v1::AwaitedKind::Vehicle,
        AwaitedKind::CustomerPart => v1::AwaitedKind::CustomerPart,
        AwaitedKind::Paper => v1::AwaitedKind::Paper,
    };
    let stage = row.stage.and_then(|stage| book.stages.get(&stage));
    let line = row.line.and_then(|line| book.lines.get(&line));
    let expected = |promise: &Promise| v1::ExpectedDate {
        expected_on: Some(date(promise.promised_on)),
        known_on: Some(date(promise.known_on)),
    };
    v1::AwaitedItem {
        item_number: row.number,
        kind: kind.into(),
        name: row.name.clone(),
        identification: row.identification.clone(),
        source: row.source.clone(),
        stage_name: stage.map_or(String::new(), |stage| stage.name.written().to_owned()),
        line_number: line.map_or(0, |line| line.number),
        asked_on: Some(date(row.asked_on)),
        usual_days: row.quoted_days.map(|days| i32::try_from(days).unwrap_or(i32::MAX)),
        expected: row.promises.iter().map(expected).collect(),
        received_on: row.received_on.map(date),
        dropped_on: row.dropped_on.map(date),
    }
}

fn making(book: &Book, row: &Making) -> v1::Making {
    let code = |id| book.suppliers.get(&id).map_or("?", |supplier| supplier.code.written());
    let (way, finisher_code) = match row.how {
        Made::AtFinisher { supplier, .. } => {
            (format!("finished by {}", code(supplier)), code(supplier).to_owned())
        }
        Made::InShop { working_days: 1 } => {
            ("made in the shop, 1 working day".to_owned(), String::new())
        }
        Made::InShop { working_days } => {
            (format!("made in the shop, {working_days} working days"), String::new())
        }
        Made::Listed => (String::new(), String::new()),
    };
    v1::Making {
        way,
        quantity: Some(decimal(row.quantity)),
        done: Some(decimal(row.done)),
        out: Some(decimal(row.out)),
        finisher_code,
        sent_on: row.sent_on.map(date),
        promised_back_on: row.promises.last().map(|promise| date(promise.promised_on)),
    }
}

/// What is reserved for a build and does not lie in its staging bin yet, stage by stage in the order
/// of work, bin by bin; `stage` narrows it by name, else stages that are done are left out.
#[must_use]
pub fn pick_list(book: &Book, build: &Build, stage: Option<StageId>) -> Vec<v1::PickLine> {
    plan::pick_list(book, build, stage).iter().map(|row| pick_line(book, row)).collect()
}

fn pick_line(book: &Book, row: &ToPick<'_>) -> v1::PickLine {
    let part = book.parts.get(&row.line.part);
    v1::PickLine {
        line_number: row.line.number,
        stage_name: book.stage_name(row.line.stage).to_owned(),
        part_number: book.part_number(row.line.part).to_owned(),
        part_description: part.map(|part| part.description.clone()).unwrap_or_default(),
        unit_code: part.map(|part| part.unit.code().to_owned()).unwrap_or_default(),
        bin_code: book.bin_code(row.bin).to_owned(),
        lot: row.key.lot.to_string(),
        quantity: Some(decimal(row.quantity)),
        expires_on: book.stock.get(row.key).and_then(|stock| stock.expires_on).map(date),
        handling_note: part.map(|part| part.handling_note.clone()).unwrap_or_default(),
    }
}

fn stage(book: &Book, stage: &Stage) -> v1::Stage {
    let firm = stage.off_site.and_then(|firm| book.suppliers.get(&firm));
    v1::Stage {
        off_site_code: firm.map_or(String::new(), |firm| firm.code.written().to_owned()),
        name: stage.name.written().to_owned(),
        planned_days: i32::try_from(stage.planned_days).unwrap_or(i32::MAX),
        state: stage_state(stage).into(),
        begun_on: stage.begun_on.map(date),
        done_on: stage.done_on.map(date),
    }
}

fn line(book: &Book, line: &Line) -> v1::BuildLine {
    let part = book.parts.get(&line.part);
    let stage = book.stages.get(&line.stage).map_or("?", |stage| stage.name.written());
    v1::BuildLine {
        line_number: line.number,
        stage_name: stage.to_owned(),
        part_number: book.part_number(line.part).to_owned(),
        part_description: part.map(|part| part.description.clone()).unwrap_or_default(),
        unit_code: part.map(|part| part.unit.code().to_owned()).unwrap_or_default(),
        required: Some(decimal(line.required)),
        issued: Some(decimal(line.issued)),
        reserved: Some(decimal(book.held_for(line.id))),
        pegged: Some(decimal(book.pegged_for(line.id))),
        short: Some(decimal(book.short_of(line))),
        kit_line_number: line.kit_line,
        exploded: line.exploded,
        gates: book.gates(line),
        made_for_line_number: line.made_for,
        making: line.making.as_ref().map(|row| making(book, row)),
        customer_supplied: line.customer_supplied,
        substituted: line.substituted.as_ref().map(|row| v1::Substitution {
            instead_of_part_number: book.part_number(row.instead_of).to_owned(),
            approved_by: row.approved_by.clone(),
            reason: row.reason.clone(),
            on: Some(date(row.on)),
        }),
        safety_related: part.is_some_and(|part| part.safety_related),
    }
}
