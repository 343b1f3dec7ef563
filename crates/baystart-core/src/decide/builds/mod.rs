//! A build's life: quoted, open, in bay, ready for handover, delivered; or on
//! hold, or cancelled.

mod awaited;
mod fields;
mod life;
mod promised;
mod stages;
mod substitute;

pub(super) use awaited::checked as awaited_row;
pub(super) use fields::{check_fields, check_stages, staging_bin, with_fields};
pub(super) use life::peg_ordered_for;

use crate::book::Change;
use crate::book::model::{Build, BuildState};
use crate::command::BuildCommand;
use crate::decide::Subject;
use crate::decide::binding_rule::bind_parts;
use crate::decide::check;
use crate::decide::effect::{BuildEffect, Caution, Effect};
use crate::decide::lines;
use crate::decide::work::Work;
use crate::ids::{BuildId, PartId};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use awaited::{Arrival, News};
use jiff::civil::Date;
use substitute::Accepting;

pub(super) fn run(work: &mut Work<'_, '_>, command: &BuildCommand) -> Result<Subject, Refusal> {
    match command {
        BuildCommand::Create { number, fields, stages, lines, for_stock } => {
            fields::create(work, number, fields, stages, lines, *for_stock)
        }
        BuildCommand::Update { build, fields, etag } => fields::update(work, build, fields, etag),
        BuildCommand::AddLines { build, lines } => lines::add_lines(work, build, lines),
        BuildCommand::ChangeLine { build, line, quantity, stage } => {
            lines::change_line(work, build, *line, *quantity, stage.as_deref())
        }
        BuildCommand::Open { build, occurred_on } => life::open(work, build, *occurred_on),
        BuildCommand::Hold { build, reason, occurred_on } => {
            life::hold(work, build, reason, *occurred_on)
        }
        BuildCommand::Resume { build, occurred_on } => life::resume(work, build, *occurred_on),
        BuildCommand::PutInBay { build, occurred_on } => {
            let from = &[BuildState::Open];
            let to = BuildState::InBay;
            let id = step(work, build, *occurred_on, from, to, None)?;
            say_taken(work, id);
            Ok(Subject::Build(id))
        }
        BuildCommand::BeginStage { build, stage, occurred_on } => {
            stages::stage_step(work, build, stage, *occurred_on, true)
        }
        BuildCommand::FinishStage { build, stage, occurred_on } => {
            stages::stage_step(work, build, stage, *occurred_on, false)
        }
        BuildCommand::MarkReady { build, occurred_on } => {
            stages::mark_ready(work, build, *occurred_on)
        }
        BuildCommand::Deliver { build, occurred_on } => {
            let from = &[BuildState::ReadyForHandover];
            life::end(work, build, *occurred_on, from, BuildState::Delivered, None)
        }
        BuildCommand::Cancel { build, reason, occurred_on } => {
            use BuildState::{InBay, OnHold, Open, Quoted, ReadyForHandover};
            let from = &[Quoted, Open, OnHold, InBay, ReadyForHandover];
            life::end(work, build, *occurred_on, from, BuildState::Cancelled, Some(reason))
        }
        BuildCommand::Substitute { build, line, part, approved_by, reason, occurred_on } => {
            let how = Accepting { part, approved_by, reason };
            substitute::substitute(work, build, *line, &how, *occurred_on)
        }
        BuildCommand::AddAwaited { build, items } => awaited::add(work, build, items),
        BuildCommand::ExpectAwaited { build, item, expected_on, identification, occurred_on } => {
            let news =
                News { expected_on: *expected_on, identification: identification.as_deref() };
            awaited::expect(work, build, *item, &news, *occurred_on)
        }
        BuildCommand::ReceiveAwaited { build, item, bin, lot, identification, occurred_on } => {
            let arrival =
                Arrival { bin: bin.as_ref(), lot, identification: identification.as_deref() };
            awaited::receive(work, build, *item, &arrival, *occurred_on)
        }
        BuildCommand::DropAwaited { build, item, reason, occurred_on } => {
            awaited::drop_item(work, build, *item, reason, *occurred_on)
        }
        BuildCommand::PromiseDelivery { build, delivery_on, note, occurred_on } => {
            promised::promise(work, build, *delivery_on, note, *occurred_on)
        }
    }
}

fn on_build(work: &mut Work<'_, '_>, build: BuildId, what: BuildEffect) {
    work.effect(Effect::Build { build, what });
}

fn parts_of(work: &Work<'_, '_>, build: BuildId) -> Vec<PartId> {
    work.book.lines_of(build).into_iter().map(|line| line.part).collect()
}

fn rebind(work: &mut Work<'_, '_>, build: BuildId) {
    let parts = parts_of(work, build);
    bind_parts(work, parts);
}

/// `quoted, open or on hold`.
fn one_of(states: &[BuildState]) -> String {
    let words: Vec<_> = states.iter().map(|state| state.text()).collect();
    match words.split_last() {
        Some((last, [])) => (*last).to_owned(),
        Some((last, before)) => format!("{} or {last}", before.join(", ")),
        None => String::new(),
    }
}

/// The build and the day, checked; and that its state is one of `from`.
fn checked(
    work: &Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
    from: &[BuildState],
    verb: &str,
) -> Result<(Build, Date), Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let found = faults.take("build", work.book.find_build(build).cloned());
    let build = faults.whole(found)?;
    if !from.contains(&build.state) {
        let message = format!(
            "build {} is {} and cannot be {verb}; it must be {}",
            build.number,
            build.state,
            one_of(from)
        );
        return Err(Refusal::new(Reason::BuildState, message).with("state", build.state));
    }
    Ok((build, day))
}

fn step(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
    from: &[BuildState],
    to: BuildState,
    note: Option<&str>,
) -> Result<BuildId, Refusal> {
    let verb = match to {
        BuildState::InBay => "put in the bay",
        state => state.text(),
    };
    let (build, day) = checked(work, build, occurred_on, from, verb)?;
    let id = build.id;
    let delivered_on = Some(day).filter(|_| to == BuildState::Delivered);
    let note = note.map_or(build.note.clone(), |note| note.trim().to_owned());
    let version = build.version + 1;
    work.change(Change::Build(Build { state: to, note, delivered_on, version, ..build }));
    on_build(work, id, BuildEffect::Stands(to));
    Ok(id)
}

/// Says who stands in the bays, where none was free for the build.
fn say_taken(work: &mut Work<'_, '_>, build: BuildId) {
    let bays = work.book.settings.as_ref().map_or(0, |settings| settings.bays);
    let builds = work.book.bays_taken_beside(build);
    if !builds.is_empty() {
        work.caution(Caution::BaysTaken { bays, builds });
    }
}
