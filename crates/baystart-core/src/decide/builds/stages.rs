//! Stages begun and done, and a build that is ready for handover.

use super::{checked, on_build, step};
use crate::book::Change;
use crate::book::model::{Build, BuildState, Stage};
use crate::decide::Subject;
use crate::decide::check;
use crate::decide::effect::{BuildEffect, Caution};
use crate::decide::work::{Work, touch};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// Begins a stage of a build in the bay, or finishes it, each once.
///
/// It records what people did, so it does not judge whether they should: a stage may begin before earlier
/// ones are done, and without parts, papers or the vehicle; what parts it lacks is said. Whether a build
/// *can* start is a question to [`crate::plan::readiness`].
pub(super) fn stage_step(
    work: &mut Work<'_, '_>,
    build: &Ref,
    name: &str,
    occurred_on: Option<Date>,
    begin: bool,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let build = faults.take("build", work.book.find_build(build).cloned());
    let stage = build
        .as_ref()
        .and_then(|build| faults.take("stage_name", work.book.find_stage(build, name).cloned()));
    let (build, stage) = faults.whole((build, stage))?;
    if build.state != BuildState::InBay {
        let message =
            format!("build {} is {}: stages are worked on in the bay", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message).with("state", build.state));
    }
    let label = format!("stage {} of build {}", stage.name, build.number);
    let refuse = |message: String| Err(Refusal::new(Reason::StageState, message));
    let (row, what) = match (begin, stage.begun_on, stage.done_on) {
        (_, _, Some(done)) => return refuse(format!("{label} was done on {done}")),
        (true, Some(begun), _) => return refuse(format!("{label} was begun on {begun}")),
        (false, None, _) => return refuse(format!("{label} was not begun")),
        (false, Some(begun), _) if day < begun => {
            return refuse(format!("{label} was begun on {begun}, after {day}"));
        }
        (true, None, _) => {
            (Stage { begun_on: Some(day), ..stage.clone() }, BuildEffect::StageBegun(stage.id))
        }
        (false, Some(_), _) => {
            (Stage { done_on: Some(day), ..stage.clone() }, BuildEffect::StageDone(stage.id))
        }
    };
    work.change(Change::Stage(row));
    on_build(work, build.id, what);
    say_missing(work, &build, &stage, begin);
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

/// Warns when a stage is begun or finished without all its parts.
fn say_missing(work: &mut Work<'_, '_>, build: &Build, stage: &Stage, begins: bool) {
    let mut parts = Vec::new();
    for line in work.book.lines_of(build.id) {
        let here = line.issued + work.book.held_for(line.id);
        if line.stage == stage.id && work.book.gates(line) && here < line.required {
            parts.push(line.part);
        }
    }
    if !parts.is_empty() {
        let stage = stage.id;
        work.caution(match begins {
            true => Caution::StageLacks { stage, parts },
            false => Caution::StageDoneLacks { stage, parts },
        });
    }
}

pub(super) fn mark_ready(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let from = &[BuildState::InBay];
    let (row, _) = checked(work, build, occurred_on, from, "ready for handover")?;
    let open: Vec<_> = work
        .book
        .stages_of(row.id)
        .into_iter()
        .filter(|stage| stage.done_on.is_none())
        .map(|stage| stage.name.written().to_owned())
        .collect();
    if !open.is_empty() {
        let message = format!("build {} still has stages to do: {}", row.number, open.join(", "));
        return Err(Refusal::new(Reason::StagesOpen, message));
    }
    step(work, build, occurred_on, from, BuildState::ReadyForHandover, None).map(Subject::Build)
}
