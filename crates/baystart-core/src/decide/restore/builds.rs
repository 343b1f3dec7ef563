//! A build as it stood.

use super::lines;
use crate::book::Change;
use crate::book::model::{Build, BuildState, Stage};
use crate::command::NewStage;
use crate::decide::builds::{check_fields, check_stages, staging_bin, with_fields};
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::ids::{BuildId, StageId};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use crate::restore::{RestoredBuild, RestoredStage};

pub(super) fn restore(work: &mut Work<'_, '_>, new: &RestoredBuild) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check_fields(&mut faults, &new.fields);
    check::text(&mut faults, "note", &new.note, false);
    state(&mut faults, new);
    let today = work.context.today;
    let made = new.customer_promises.iter().map(|promise| ("promised", promise.made_on));
    let delivered = new.delivered_on.map(|on| ("delivered_on", on));
    for (field, on) in made.chain(delivered).filter(|(_, on)| *on > today) {
        let message = format!("{on} is after today, {today}");
        faults.push(field, Reason::DateInFuture, message);
    }
    let id = BuildId(work.fresh());
    let stages = stages(work, &mut faults, id, new);
    let bin = staging_bin(work, &mut faults, &new.fields);
    let rows = lines::checked(work, &mut faults, id, &stages, new);
    faults.check()?;
    if let Ok(old) = work.book.find_build(&Ref::Number(new.number.clone())) {
        let message = format!("build {} exists already", old.number);
        return Err(Refusal::new(Reason::BuildExists, message));
    }
    let opened = new.state.keeps_bindings() || new.state == BuildState::Delivered;
    let now = Some(work.context.recorded_at).filter(|_| opened);
    let held_from = Some(new.held_from.unwrap_or(BuildState::Open));
    work.change(Change::Build(with_fields(
        Build {
            id,
            number: new.number.clone(),
            vehicle: String::new(),
            customer: String::new(),
            state: new.state,
            held_from: held_from.filter(|_| new.state == BuildState::OnHold),
            priority: new.fields.priority,
            planned_start: None,
            required_by: None,
            note: new.note.trim().to_owned(),
            for_stock: new.for_stock,
            staging_bin: None,
            customer_promises: new.customer_promises.clone(),
            delivered_on: new.delivered_on,
            opened_at: new.opened_at.or(now),
            version: 0,
        },
        &new.fields,
        bin,
    )));
    for stage in stages {
        work.change(Change::Stage(stage));
    }
    lines::add(work, rows);
    Ok(Subject::Build(id))
}

/// Notes states that do not fit the days of the stages.
fn state(faults: &mut Faults, new: &RestoredBuild) {
    let held_from = new.held_from.filter(|_| new.state == BuildState::OnHold);
    if new.held_from.is_some() && held_from.is_none() {
        let message = format!("the build is {}, not on hold", new.state);
        faults.push("held_from", Reason::ValueInvalid, message);
    }
    if held_from.is_some_and(|state| !state.binds()) {
        let message = "a build is put on hold when it is open or in bay";
        faults.push("held_from", Reason::ValueInvalid, message);
    }
    if new.delivered_on.is_some() && new.state != BuildState::Delivered {
        let message = format!("the build is {}, not delivered", new.state);
        faults.push("delivered_on", Reason::ValueInvalid, message);
    }
    let in_work = !matches!(held_from.unwrap_or(new.state), BuildState::Quoted | BuildState::Open);
    for (i, stage) in new.stages.iter().enumerate() {
        if stage.begun_on.is_some() && !in_work {
            let message = format!("the build is {}: its stages are not begun", new.state);
            faults.push(nth("stages", i).then("begun_on"), Reason::StageState, message);
        }
    }
}

fn stages(
    work: &mut Work<'_, '_>,
    faults: &mut Faults,
    build: BuildId,
    new: &RestoredBuild,
) -> Vec<Stage> {
    let plain = |stage: &RestoredStage| NewStage {
        name: stage.name.clone(),
        planned_days: stage.planned_days,
        off_site: stage.off_site.clone(),
    };
    check_stages(faults, &new.stages.iter().map(plain).collect::<Vec<_>>());
    let today = work.context.today;
    let mut rows = Vec::new();
    for ((i, stage), ordinal) in new.stages.iter().enumerate().zip(1..) {
        let at = |field: &'static str| nth("stages", i).then(field);
        for (field, day) in [("begun_on", stage.begun_on), ("done_on", stage.done_on)] {
            if let Some(day) = day.filter(|day| *day > today) {
                let message = format!("{day} is after today, {today}");
                faults.push(at(field), Reason::DateInFuture, message);
            }
        }
        if stage.done_on.is_some_and(|done| stage.begun_on.is_none_or(|begun| done < begun)) {
            let message = "a stage is begun before it is done";
            faults.push(at("done_on"), Reason::StageState, message);
        }
        let firm = stage.off_site.as_ref().and_then(|firm| {
            faults.take(at("off_site"), work.book.find_supplier(firm).map(|row| row.id))
        });
        rows.push(Stage {
            id: StageId(work.fresh()),
            build,
            ordinal,
            name: stage.name.clone(),
            planned_days: stage.planned_days,
            begun_on: stage.begun_on,
            done_on: stage.done_on,
            off_site: firm,
        });
    }
    rows
}
