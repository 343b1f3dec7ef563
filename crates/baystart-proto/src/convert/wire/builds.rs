//! Builds with stages and lines.

use super::{date, decimal, etag};
use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::{Build, BuildState, Line, Stage};

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
        stages: book.stages_of(build.id).into_iter().map(stage).collect(),
        lines,
        etag: etag(build.version),
        note: build.note.clone(),
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

fn stage(stage: &Stage) -> v1::Stage {
    v1::Stage {
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
    }
}
