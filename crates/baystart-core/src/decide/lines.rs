//! Lines of a build, and kits exploded into them.

use super::binding_rule::{bind_part, bind_parts};
use super::displace::trim;
use super::effect::{BuildEffect, Effect, LineEffect};
use super::ledger::{Booking, post};
use super::work::{Work, say_short, touch};
use super::{Subject, check, making, warnings};
use crate::book::Change;
use crate::book::model::{Account, Build, BuildState, Line, Lot, MovementKind, Stage, StockKey};
use crate::command::NewLine;
use crate::ids::{BuildId, LineId, PartId, StageId};
use crate::limits::{DEPTH_MAX, LINES_MAX};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};

/// A checked line, not yet numbered.
pub(super) struct NewRow {
    stage: StageId,
    part: PartId,
    required: Quantity,
    /// In the vehicle before the shop began with Baystart.
    fitted: Quantity,
    customer_supplied: bool,
}

/// Checks the lines that are asked for: part and stage of each, or the faults.
pub(super) fn checked(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    lines: &[NewLine],
    stage_of: impl Fn(&str) -> Result<StageId, (Reason, String)>,
) -> Vec<NewRow> {
    let mut rows = Vec::new();
    check::count(faults, "lines", lines.len(), false);
    for (i, new) in lines.iter().enumerate() {
        let stage = faults.take(nth("lines", i).then("stage_name"), stage_of(&new.stage));
        let part = faults.take(nth("lines", i).then("part"), work.book.find_part(&new.part));
        check::positive(faults, nth("lines", i).then("quantity"), new.quantity);
        let Some(part) = part else { continue };
        check::unit(faults, nth("lines", i).then("unit_code"), part, new.unit);
        let fitted = new.fitted_before;
        if fitted.is_negative() || (fitted.is_positive() && part.is_kit()) {
            let message = format!("{fitted} of part {} cannot be fitted already", part.number);
            faults.push(nth("lines", i).then("issued"), Reason::QuantityInvalid, message);
        }
        let customer_supplied = new.customer_supplied;
        if customer_supplied && (part.is_kit() || part.is_made() || part.consumable) {
            let message = format!("part {} is a kit, made or a consumable", part.number);
            faults.push(nth("lines", i).then("customer_supplied"), Reason::ValueInvalid, message);
        }
        if let Some(stage) = stage {
            let (part, required) = (part.id, new.quantity);
            rows.push(NewRow { stage, part, required, fitted, customer_supplied });
        }
    }
    rows
}

/// Adds checked lines after those that the build has; returns their ids.
pub(super) fn add(work: &mut Work<'_, '_>, build: BuildId, rows: Vec<NewRow>) -> Vec<LineId> {
    let first = work.book.lines_of(build).last().map_or(1, |line| line.number + 1);
    let mut ids = Vec::new();
    for (row, number) in rows.into_iter().zip(first..) {
        let id = LineId(work.fresh());
        ids.push(id);
        work.change(Change::Line(Line {
            id,
            build,
            stage: row.stage,
            number,
            part: row.part,
            required: row.required,
            issued: row.fitted,
            kit_line: 0,
            exploded: false,
            made_for: 0,
            making: None,
            customer_supplied: row.customer_supplied,
            substituted: None,
        }));
        if row.fitted.is_positive() {
            book_fitted(work, build, id, &row);
        }
    }
    ids
}

/// Books what was in the vehicle before the shop began with Baystart; its lot
/// is not known.
fn book_fitted(work: &mut Work<'_, '_>, build: BuildId, line: LineId, row: &NewRow) {
    let key = StockKey { part: row.part, lot: Lot::default() };
    let booking = Booking {
        kind: MovementKind::Opening,
        day: work.context.today,
        reason: "fitted before the shop began with Baystart",
        line: Some(line),
        order_line: None,
    };
    post(work, &key, Account::Variance, Account::Build(build), row.fitted, &booking);
}

/// Explodes a line's kit, at every depth, into lines of its own; the same part
/// by several ways is one line. The list is taken as it is now: a later change
/// of the kit does not change the build.
pub(super) fn explode(work: &mut Work<'_, '_>, line: LineId) -> Result<(), Refusal> {
    explode_at(work, line, 0)
}

/// The same for a kit so many levels below a line that is made.
pub(super) fn explode_at(
    work: &mut Work<'_, '_>,
    line: LineId,
    depth: usize,
) -> Result<(), Refusal> {
    let Some(row) = work.book.lines.get(&line).cloned() else { return Ok(()) };
    let is_kit = |work: &Work<'_, '_>, id| work.book.parts.get(&id).is_some_and(|p| p.is_kit());
    if row.exploded || !is_kit(work, row.part) {
        return making::plan(work, line, depth);
    }
    let too_deep = |work: &Work<'_, '_>| {
        let number = work.book.part_number(row.part);
        Refusal::new(Reason::KitTooDeep, format!("kit {number} has too many levels or parts"))
    };
    let mut leaves: Vec<(PartId, Quantity)> = Vec::new();
    let mut stack = vec![(row.part, row.required, depth)];
    let mut steps = 0_usize;
    while let Some((part, quantity, depth)) = stack.pop() {
        steps += 1;
        if depth > DEPTH_MAX || steps > LINES_MAX {
            return Err(too_deep(work));
        }
        let components = work.book.parts.get(&part).map(|p| p.components.clone());
        let components = components.unwrap_or_default();
        if components.is_empty() || !is_kit(work, part) {
            match leaves.iter_mut().find(|(known, _)| *known == part) {
                Some((_, sum)) => *sum += quantity,
                None => leaves.push((part, quantity)),
            }
            continue;
        }
        for (component, each) in components.into_iter().rev() {
            let needed = each.times(quantity).map_err(|error| {
                let message = format!(
                    "{quantity} of kit {}: the quantity of part {} {error}",
                    work.book.part_number(part),
                    work.book.part_number(component)
                );
                Refusal::new(Reason::QuantityInvalid, message)
            })?;
            stack.push((component, needed, depth + 1));
        }
    }
    if work.book.lines_of(row.build).len() + leaves.len() > LINES_MAX {
        return Err(too_deep(work));
    }
    work.change(Change::Line(Line { exploded: true, ..row.clone() }));
    work.on_line(&row, row.required, LineEffect::Exploded { lines: leaves.len() });
    let fitted = Quantity::ZERO;
    let stage = row.stage;
    let rows = leaves
        .into_iter()
        .map(|(part, required)| {
            let customer_supplied = false;
            NewRow { stage, part, required, fitted, customer_supplied }
        })
        .collect();
    let children = add(work, row.build, rows);
    for id in &children {
        if let Some(child) = work.book.lines.get(id).cloned() {
            let (kit_line, made_for) = (row.number, row.made_for);
            work.change(Change::Line(Line { kit_line, made_for, ..child }));
        }
    }
    for id in children {
        making::plan(work, id, depth)?;
    }
    Ok(())
}

/// Adds the components of a made line as lines of their own, in its stage.
pub(super) fn add_components(
    work: &mut Work<'_, '_>,
    made: &Line,
    needs: Vec<(PartId, Quantity)>,
) -> Result<Vec<LineId>, Refusal> {
    if work.book.lines_of(made.build).len() + needs.len() > LINES_MAX {
        let message = format!("a build has at most {LINES_MAX} lines");
        return Err(Refusal::new(Reason::KitTooDeep, message));
    }
    let (stage, fitted, customer_supplied) = (made.stage, Quantity::ZERO, false);
    let rows = needs
        .into_iter()
        .map(|(part, required)| NewRow { stage, part, required, fitted, customer_supplied })
        .collect();
    let ids = add(work, made.build, rows);
    for id in &ids {
        if let Some(line) = work.book.lines.get(id).cloned() {
            work.change(Change::Line(Line { made_for: made.number, ..line }));
        }
    }
    Ok(ids)
}

fn changeable(build: &Build) -> Result<(), Refusal> {
    match build.state {
        BuildState::Quoted | BuildState::Open | BuildState::InBay | BuildState::OnHold => Ok(()),
        state => {
            let message = format!("build {} is {state}: its lines stand", build.number);
            Err(Refusal::new(Reason::BuildState, message))
        }
    }
}

fn not_done(stage: &Stage, build: &Build) -> Result<StageId, (Reason, String)> {
    if stage.done_on.is_some() && build.state != BuildState::Quoted {
        let message = format!("stage {} of build {} is done", stage.name, build.number);
        return Err((Reason::StageState, message));
    }
    Ok(stage.id)
}

pub(super) fn add_lines(
    work: &mut Work<'_, '_>,
    build: &Ref,
    lines: &[NewLine],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::count(&mut faults, "lines", lines.len(), true);
    let build = faults.take("build", work.book.find_build(build).cloned());
    let Some(build) = build else { return faults.whole(None) };
    let rows = checked(work, &mut faults, lines, |name| {
        work.book.find_stage(&build, name).and_then(|stage| not_done(stage, &build))
    });
    faults.check()?;
    changeable(&build)?;
    let first = work.book.lines_of(build.id).last().map_or(0, |line| line.number);
    let ids = add(work, build.id, rows);
    if build.state != BuildState::Quoted {
        for id in ids {
            explode(work, id)?;
        }
    }
    let added: Vec<Line> = work
        .book
        .lines_of(build.id)
        .into_iter()
        .filter(|line| line.number > first)
        .cloned()
        .collect();
    let what = BuildEffect::LinesAdded(added.len());
    work.effect(Effect::Build { build: build.id, what });
    bind_parts(work, added.iter().map(|line| line.part));
    say_short(work, added.iter().map(|line| line.id));
    warnings::say(work, &build, Some(first));
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

pub(super) fn change_line(
    work: &mut Work<'_, '_>,
    build: &Ref,
    number: i32,
    quantity: Option<Quantity>,
    stage: Option<&str>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let (build, line) = check::build_line(work.book, &mut faults, (build, number));
    let stage = build.as_ref().zip(stage).and_then(|(build, name)| {
        let found = work.book.find_stage(build, name).and_then(|stage| not_done(stage, build));
        faults.take("stage_name", found)
    });
    if let Some(quantity) = quantity.filter(|quantity| quantity.is_negative()) {
        let message = format!("{quantity} is below 0");
        faults.push("quantity", Reason::QuantityInvalid, message);
    }
    if quantity.is_none() && stage.is_none() && faults.is_empty() {
        faults.push("quantity", Reason::FieldMissing, "give a quantity or a stage");
    }
    let (build, line) = faults.whole((build, line))?;
    changeable(&build)?;
    if (line.exploded || line.making.is_some()) && quantity.is_some() {
        let message = format!("line {number} stands for its components: change their lines");
        return Err(Refusal::new(Reason::KitNotStocked, message));
    }
    let required = quantity.unwrap_or(line.required);
    if required < line.issued {
        let issued = line.issued;
        work.on_line(&line, issued - required, LineEffect::RequiresLess { issued });
    }
    let stage = stage.unwrap_or(line.stage);
    work.change(Change::Line(Line { required, stage, ..line.clone() }));
    making::move_stage(work, &line, stage);
    work.on_line(&line, required, LineEffect::Requires);
    trim(work, line.id);
    bind_part(work, line.part);
    say_short(work, [line.id]);
    touch(work, &build);
    Ok(Subject::Build(build.id))
}
