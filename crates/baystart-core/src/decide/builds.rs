//! A build's life: quoted, open, in bay, ready for handover, delivered; or on
//! hold, or cancelled.

use super::bind::bind_parts;
use super::displace::{release, unpeg};
use super::effect::{Effect, EffectKind};
use super::lines;
use super::orders::peg_for;
use super::work::{Work, counted};
use super::{Subject, check};
use crate::book::Change;
use crate::book::model::{Build, BuildState, Stage};
use crate::command::{BuildCommand, BuildFields, NewLine, NewStage};
use crate::ids::{BuildId, PartId, StageId};
use crate::number::Number;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// Longest planned stage in working days.
const STAGE_DAYS_MAX: u32 = 365;
/// Most stages of one build.
const STAGES_MAX: usize = 100;
/// Priorities go from 1, served first, to this.
const PRIORITY_MAX: i32 = 9999;

pub(super) fn run(work: &mut Work<'_, '_>, command: &BuildCommand) -> Result<Subject, Refusal> {
    match command {
        BuildCommand::Create { number, fields, stages, lines } => {
            create(work, number, fields, stages, lines)
        }
        BuildCommand::Update { build, fields, etag } => update(work, build, fields, etag),
        BuildCommand::AddLines { build, lines } => lines::add_lines(work, build, lines),
        BuildCommand::ChangeLine { build, line, quantity, stage } => {
            lines::change_line(work, build, *line, *quantity, stage.as_deref())
        }
        BuildCommand::Open { build, occurred_on } => open(work, build, *occurred_on),
        BuildCommand::Hold { build, reason, occurred_on } => {
            hold(work, build, reason, *occurred_on)
        }
        BuildCommand::Resume { build, occurred_on } => resume(work, build, *occurred_on),
        BuildCommand::PutInBay { build, occurred_on } => {
            let from = &[BuildState::Open];
            let to = BuildState::InBay;
            step(work, build, *occurred_on, from, to, None)
        }
        BuildCommand::BeginStage { build, stage, occurred_on } => {
            stage_step(work, build, stage, *occurred_on, true)
        }
        BuildCommand::FinishStage { build, stage, occurred_on } => {
            stage_step(work, build, stage, *occurred_on, false)
        }
        BuildCommand::MarkReady { build, occurred_on } => mark_ready(work, build, *occurred_on),
        BuildCommand::Deliver { build, occurred_on } => {
            let from = &[BuildState::ReadyForHandover];
            end(work, build, *occurred_on, from, BuildState::Delivered, None)
        }
        BuildCommand::Cancel { build, reason, occurred_on } => {
            use BuildState::{InBay, OnHold, Open, Quoted, ReadyForHandover};
            let from = &[Quoted, Open, OnHold, InBay, ReadyForHandover];
            end(work, build, *occurred_on, from, BuildState::Cancelled, Some(reason))
        }
    }
}

fn check_fields(faults: &mut Faults, fields: &BuildFields) {
    check::text(faults, "vehicle", &fields.vehicle, true);
    check::text(faults, "customer", &fields.customer, false);
    if !(1..=PRIORITY_MAX).contains(&fields.priority) {
        let message = format!("{} is not in 1 to {PRIORITY_MAX}", fields.priority);
        faults.push("priority", Reason::ValueInvalid, message);
    }
}

fn check_stages(faults: &mut Faults, stages: &[NewStage]) {
    check::count(faults, "stages", stages.len(), true);
    if stages.len() > STAGES_MAX {
        let message = format!("{} are more than {STAGES_MAX}", stages.len());
        faults.push("stages", Reason::TooMany, message);
    }
    for (i, stage) in stages.iter().enumerate() {
        if stages.iter().take(i).any(|earlier| earlier.name == stage.name) {
            let message = format!("stage {} stands in the list twice", stage.name);
            faults.push(format!("stages[{i}].name"), Reason::DuplicateLine, message);
        }
        if stage.planned_days > STAGE_DAYS_MAX {
            let message = format!("{} days is beyond {STAGE_DAYS_MAX}", stage.planned_days);
            faults.push(format!("stages[{i}].planned_days"), Reason::ValueInvalid, message);
        }
    }
}

fn create(
    work: &mut Work<'_, '_>,
    number: &Number,
    fields: &BuildFields,
    stages: &[NewStage],
    new_lines: &[NewLine],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check_fields(&mut faults, fields);
    check_stages(&mut faults, stages);
    let ids: Vec<StageId> = stages.iter().map(|_| StageId(work.fresh())).collect();
    let stage_of = |name: &str| {
        let wanted = name.split_whitespace().collect::<Vec<_>>().join(" ").to_uppercase();
        let at = stages.iter().position(|stage| stage.name.normal() == wanted);
        at.and_then(|at| ids.get(at)).copied().ok_or_else(|| {
            let names: Vec<_> = stages.iter().map(|stage| stage.name.written()).collect();
            let message = format!("no stage \"{name}\" among: {}", names.join(", "));
            (Reason::StageUnknown, message)
        })
    };
    let rows = lines::checked(work, &mut faults, new_lines, stage_of);
    faults.check()?;
    if let Ok(old) = work.book.find_build(&Ref::Number(number.clone())) {
        let message = format!("build {} exists already", old.number);
        return Err(Refusal::new(Reason::BuildExists, message));
    }
    let id = BuildId(work.fresh());
    work.change(Change::Build(with_fields(
        Build {
            id,
            number: number.clone(),
            vehicle: String::new(),
            customer: String::new(),
            state: BuildState::Quoted,
            held_from: None,
            priority: fields.priority,
            planned_start: None,
            required_by: None,
            note: String::new(),
            opened_at: None,
            version: 0,
        },
        fields,
    )));
    for ((new, id_of_stage), ordinal) in stages.iter().zip(ids).zip(1..) {
        work.change(Change::Stage(Stage {
            id: id_of_stage,
            build: id,
            ordinal,
            name: new.name.clone(),
            planned_days: new.planned_days,
            begun_on: None,
            done_on: None,
        }));
    }
    let count = rows.len();
    lines::add(work, id, rows);
    let mut effect = Effect::new(EffectKind::State, "");
    effect.build = number.written().to_owned();
    effect.text = format!(
        "Build {number} quoted, with {} and {}",
        counted(stages.len(), "stage"),
        counted(count, "line")
    );
    work.effect(effect);
    Ok(Subject::Build(id))
}

fn with_fields(build: Build, fields: &BuildFields) -> Build {
    Build {
        vehicle: fields.vehicle.trim().to_owned(),
        customer: fields.customer.trim().to_owned(),
        priority: fields.priority,
        planned_start: fields.planned_start,
        required_by: fields.required_by,
        version: build.version + 1,
        ..build
    }
}

fn update(
    work: &mut Work<'_, '_>,
    build: &Ref,
    fields: &BuildFields,
    etag: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check_fields(&mut faults, fields);
    let found = faults.take("build", work.book.find_build(build).cloned());
    faults.check()?;
    let Some(old) = found else { return Ok(Subject::None) };
    check::same_etag(old.version, etag, &format!("build {}", old.number))?;
    let id = old.id;
    let text = format!("Build {} changed", old.number);
    work.change(Change::Build(with_fields(old, fields)));
    say_state(work, id, text);
    rebind(work, id);
    Ok(Subject::Build(id))
}

fn say_state(work: &mut Work<'_, '_>, build: BuildId, text: String) {
    let mut effect = Effect::new(EffectKind::State, text);
    if let Some(build) = work.book.builds.get(&build) {
        effect.build = build.number.written().to_owned();
    }
    work.effect(effect);
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
    faults.check()?;
    let Some(build) = found else {
        return Err(Refusal::new(Reason::BuildUnknown, "no such build"));
    };
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
) -> Result<Subject, Refusal> {
    let verb = match to {
        BuildState::InBay => "put in the bay",
        state => state.text(),
    };
    let (build, _) = checked(work, build, occurred_on, from, verb)?;
    let id = build.id;
    let stands = match to {
        BuildState::InBay => "in the bay",
        state => state.text(),
    };
    let text = format!("Build {} is {stands}", build.number);
    let note = note.map_or(build.note.clone(), |note| note.trim().to_owned());
    let version = build.version + 1;
    work.change(Change::Build(Build { state: to, note, version, ..build }));
    say_state(work, id, text);
    Ok(Subject::Build(id))
}

fn open(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let (build, _) = checked(work, build, occurred_on, &[BuildState::Quoted], "opened")?;
    let id = build.id;
    let number = build.number.clone();
    let version = build.version + 1;
    let opened_at = Some(work.context.recorded_at);
    work.change(Change::Build(Build { state: BuildState::Open, opened_at, version, ..build }));
    say_state(work, id, format!("Build {number} is open"));
    let ids: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    for line in ids {
        lines::explode(work, line)?;
    }
    peg_ordered_for(work, id);
    rebind(work, id);
    let ids: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    lines::say_short(work, ids);
    Ok(Subject::Build(id))
}

/// Pegs what was ordered for the build while it was a quote.
fn peg_ordered_for(work: &mut Work<'_, '_>, build: BuildId) {
    let lines: Vec<_> = work.book.lines_of(build).into_iter().map(|line| line.id).collect();
    let rows = work.book.order_lines.values();
    let ordered: Vec<_> = rows
        .filter_map(|row| Some((row.for_line?, row.id)))
        .filter(|(line, _)| lines.contains(line))
        .collect();
    for (line, supply) in ordered {
        peg_for(work, line, supply);
    }
}

fn hold(
    work: &mut Work<'_, '_>,
    build: &Ref,
    reason: &str,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::text(&mut faults, "reason", reason, true);
    faults.check()?;
    let from = &[BuildState::Open, BuildState::InBay];
    let (build, _) = checked(work, build, occurred_on, from, "put on hold")?;
    let id = build.id;
    let text = format!("Build {} is on hold: {}", build.number, reason.trim());
    let held_from = Some(build.state);
    let version = build.version + 1;
    let note = reason.trim().to_owned();
    work.change(Change::Build(Build {
        state: BuildState::OnHold,
        held_from,
        note,
        version,
        ..build
    }));
    say_state(work, id, text);
    Ok(Subject::Build(id))
}

fn resume(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let from = &[BuildState::OnHold];
    let (build, _) = checked(work, build, occurred_on, from, "taken off hold")?;
    let id = build.id;
    let state = build.held_from.unwrap_or(BuildState::Open);
    let text = format!("Build {} is off hold; it is {state} again", build.number);
    let version = build.version + 1;
    let note = String::new();
    work.change(Change::Build(Build { state, held_from: None, note, version, ..build }));
    say_state(work, id, text);
    rebind(work, id);
    let ids: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    lines::say_short(work, ids);
    Ok(Subject::Build(id))
}

fn stage_step(
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
    faults.check()?;
    let (Some(build), Some(stage)) = (build, stage) else { return Ok(Subject::None) };
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
    lines::touch(work, &build);
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

fn mark_ready(
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
    step(work, build, occurred_on, from, BuildState::ReadyForHandover, None)
}

/// Ends a build: what it still holds is given back and bound to others.
fn end(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
    from: &[BuildState],
    to: BuildState,
    reason: Option<&str>,
) -> Result<Subject, Refusal> {
    if let Some(reason) = reason {
        let mut faults = Faults::new();
        check::text(&mut faults, "reason", reason, true);
        faults.check()?;
    }
    let subject = step(work, build, occurred_on, from, to, reason)?;
    let Subject::Build(id) = subject else { return Ok(subject) };
    let lines: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    for line in &lines {
        let pegs: Vec<_> = work.book.pegs_of(*line).copied().collect();
        for peg in pegs {
            let key = (peg.line, peg.order_line);
            unpeg(work, key, peg.quantity, EffectKind::Unpegged, "");
        }
        let held: Vec<_> = work.book.reservations_of(*line).map(|r| (r.id, r.held)).collect();
        for (reservation, held) in held {
            if held.is_positive() {
                release(work, reservation, held, EffectKind::Released, "");
            }
        }
    }
    if to == BuildState::Cancelled {
        say_issued(work, id);
    }
    rebind(work, id);
    Ok(subject)
}

/// Reminds of what is in the vehicle of a cancelled build.
fn say_issued(work: &mut Work<'_, '_>, build: BuildId) {
    let in_vehicle = |line: &&crate::book::model::Line| line.issued.is_positive();
    let count = work.book.lines_of(build).into_iter().filter(in_vehicle).count();
    if count > 0 {
        let text = format!(
            "Parts of {} are in the vehicle: return what is not used",
            counted(count, "line")
        );
        work.say(EffectKind::Caution, text);
    }
}
