//! Stages begun and done, and a build that is ready for handover.

use super::{checked, step};
use crate::book::Change;
use crate::book::model::{Build, BuildState, Stage};
use crate::decide::Subject;
use crate::decide::check;
use crate::decide::effect::{Effect, EffectKind};
use crate::decide::work::{Work, touch};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

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
    let (row, text) = match (begin, stage.begun_on, stage.done_on) {
        (_, _, Some(done)) => return refuse(format!("{label} was done on {done}")),
        (true, Some(begun), _) => return refuse(format!("{label} was begun on {begun}")),
        (false, None, _) => return refuse(format!("{label} was not begun")),
        (false, Some(begun), _) if day < begun => {
            return refuse(format!("{label} was begun on {begun}, after {day}"));
        }
        (true, None, _) => (Stage { begun_on: Some(day), ..stage.clone() }, "begun"),
        (false, Some(_), _) => (Stage { done_on: Some(day), ..stage.clone() }, "done"),
    };
    work.change(Change::Stage(row));
    let mut effect = Effect::new(EffectKind::State, "");
    effect.build = build.number.written().to_owned();
    effect.stage = stage.name.written().to_owned();
    effect.text = format!("Stage {} of build {} is {text}", stage.name, build.number);
    work.effect(effect);
    if begin {
        say_missing(work, &build, &stage);
    }
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

/// Warns when a stage is begun without all its parts.
fn say_missing(work: &mut Work<'_, '_>, build: &Build, stage: &Stage) {
    let mut missing = Vec::new();
    for line in work.book.lines_of(build.id) {
        let here = line.issued + work.book.held_for(line.id);
        if line.stage == stage.id && work.book.gates(line) && here < line.required {
            missing.push(work.book.part_number(line.part).to_owned());
        }
    }
    if missing.is_empty() {
        return;
    }
    let text = format!("Stage {} begins without {}", stage.name, missing.join(", "));
    work.say(EffectKind::Caution, text);
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
