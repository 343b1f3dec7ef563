//! What people say of a build: vehicle, priority, dates, stages and first lines.

use super::{on_build, rebind};
use crate::book::Change;
use crate::book::model::{Build, BuildState, Stage};
use crate::command::{BuildFields, NewLine, NewStage};
use crate::decide::Subject;
use crate::decide::effect::BuildEffect;
use crate::decide::lines;
use crate::decide::warnings;
use crate::decide::work::Work;
use crate::decide::{check, closed_days};
use crate::ids::{BinId, BuildId, StageId};
use crate::number::Number;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};

/// Longest planned stage in working days.
const STAGE_DAYS_MAX: u32 = 365;
/// Most stages of one build.
const STAGES_MAX: usize = 100;
/// Priorities go from 1, served first, to this.
const PRIORITY_MAX: i32 = 9999;

pub(in crate::decide) fn check_fields(faults: &mut Faults, fields: &BuildFields) {
    check::text(faults, "vehicle", &fields.vehicle, true);
    check::text(faults, "customer", &fields.customer, false);
    if !(1..=PRIORITY_MAX).contains(&fields.priority) {
        let message = format!("{} is not in 1 to {PRIORITY_MAX}", fields.priority);
        faults.push("priority", Reason::ValueInvalid, message);
    }
}

pub(in crate::decide) fn check_stages(faults: &mut Faults, stages: &[NewStage]) {
    check::count(faults, "stages", stages.len(), true);
    if stages.len() > STAGES_MAX {
        let message = format!("{} are more than {STAGES_MAX}", stages.len());
        faults.push("stages", Reason::TooMany, message);
    }
    // Before each is looked at beside each.
    if stages.len() > crate::limits::LINES_MAX {
        return;
    }
    for (i, stage) in stages.iter().enumerate() {
        if stages.iter().take(i).any(|earlier| earlier.name == stage.name) {
            let message = format!("stage {} stands in the list twice", stage.name);
            faults.push(nth("stages", i).then("name"), Reason::DuplicateLine, message);
        }
        if stage.planned_days > STAGE_DAYS_MAX {
            let message = format!("{} days is beyond {STAGE_DAYS_MAX}", stage.planned_days);
            faults.push(nth("stages", i).then("planned_days"), Reason::ValueInvalid, message);
        }
    }
}

pub(super) fn create(
    work: &mut Work<'_, '_>,
    number: &Number,
    fields: &BuildFields,
    stages: &[NewStage],
    new_lines: &[NewLine],
    for_stock: bool,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check_fields(&mut faults, fields);
    check_stages(&mut faults, stages);
    let mut firms = Vec::new();
    for (i, stage) in stages.iter().enumerate() {
        let firm = stage.off_site.as_ref().and_then(|firm| {
            let found = work.book.find_supplier(firm).map(|supplier| supplier.id);
            faults.take(nth("stages", i).then("off_site"), found)
        });
        firms.push(firm);
    }
    let staging_bin = staging_bin(work, &mut faults, fields);
    let ids: Vec<StageId> = stages.iter().map(|_| StageId(work.fresh())).collect();
    let stage_of = |name: &str| {
        let wanted = crate::text::normal(name);
        let names = stages.iter().map(|stage| stage.name.normal());
        let at = crate::book::by_beginning(&wanted, names);
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
            for_stock,
            staging_bin: None,
            customer_promises: Vec::new(),
            delivered_on: None,
            opened_at: None,
            version: 0,
        },
        fields,
        staging_bin,
    )));
    for (((new, off_site), id_of_stage), ordinal) in stages.iter().zip(firms).zip(ids).zip(1..) {
        work.change(Change::Stage(Stage {
            id: id_of_stage,
            build: id,
            ordinal,
            name: new.name.clone(),
            planned_days: new.planned_days,
            begun_on: None,
            done_on: None,
            off_site,
        }));
    }
    let count = rows.len();
    lines::add(work, id, rows);
    on_build(work, id, BuildEffect::Quoted { stages: stages.len(), lines: count });
    closed_days::say(work, fields.planned_start, None);
    if let Some(build) = work.book.builds.get(&id).cloned() {
        warnings::say(work, &build, None);
    }
    Ok(Subject::Build(id))
}

/// The shelf on which the build's picked parts wait.
pub(in crate::decide) fn staging_bin(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    fields: &BuildFields,
) -> Option<BinId> {
    let bin = fields.staging_bin.as_ref()?;
    faults.take("staging_bin", work.book.find_bin(bin).map(|bin| bin.id))
}

pub(in crate::decide) fn with_fields(
    build: Build,
    fields: &BuildFields,
    staging_bin: Option<BinId>,
) -> Build {
    Build {
        staging_bin,
        vehicle: fields.vehicle.trim().to_owned(),
        customer: fields.customer.trim().to_owned(),
        priority: fields.priority,
        planned_start: fields.planned_start,
        required_by: fields.required_by,
        version: build.version + 1,
        ..build
    }
}

pub(super) fn update(
    work: &mut Work<'_, '_>,
    build: &Ref,
    fields: &BuildFields,
    etag: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check_fields(&mut faults, fields);
    let staging_bin = staging_bin(work, &mut faults, fields);
    let found = faults.take("build", work.book.find_build(build).cloned());
    let old = faults.whole(found)?;
    check::same_etag(old.version, etag, &format!("build {}", old.number))?;
    let (id, before) = (old.id, old.planned_start);
    work.change(Change::Build(with_fields(old, fields, staging_bin)));
    on_build(work, id, BuildEffect::Changed);
    let booked = fields.planned_start.filter(|_| fields.planned_start != before);
    closed_days::say(work, booked, None);
    rebind(work, id);
    Ok(Subject::Build(id))
}
