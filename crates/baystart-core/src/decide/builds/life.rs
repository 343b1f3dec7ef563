//! From quoted to open, on hold and off it, and the end.

use super::{checked, on_build, rebind, step};
use crate::book::Change;
use crate::book::model::{Build, BuildState};
use crate::decide::Subject;
use crate::decide::check;
use crate::decide::displace::{release, unpeg};
use crate::decide::effect::{BuildEffect, Caution, Why};
use crate::decide::lines;
use crate::decide::orders::peg_for;
use crate::decide::warnings;
use crate::decide::work::{Work, say_short};
use crate::ids::BuildId;
use crate::refs::Ref;
use crate::refusal::{Faults, Refusal};
use jiff::civil::Date;
use std::collections::BTreeMap;

pub(super) fn open(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let (build, _) = checked(work, build, occurred_on, &[BuildState::Quoted], "opened")?;
    let id = build.id;
    let version = build.version + 1;
    let opened_at = Some(work.context.recorded_at);
    work.change(Change::Build(Build { state: BuildState::Open, opened_at, version, ..build }));
    on_build(work, id, BuildEffect::Stands(BuildState::Open));
    let ids: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    for line in ids {
        lines::explode(work, line)?;
    }
    peg_ordered_for(work, id);
    rebind(work, id);
    let ids: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    say_short(work, ids);
    if let Some(build) = work.book.builds.get(&id).cloned() {
        warnings::say(work, &build, None);
    }
    Ok(Subject::Build(id))
}

/// Pegs what was ordered for the build while it was a quote.
pub(in crate::decide) fn peg_ordered_for(work: &mut Work<'_, '_>, build: BuildId) {
    let lines: Vec<_> = work.book.lines_of(build).into_iter().map(|line| line.id).collect();
    let rows =
        lines.iter().flat_map(|line| work.book.ordered_for(*line).map(|row| (row.id, *line)));
    // By order line, whichever line it is for.
    let ordered: BTreeMap<_, _> = rows.collect();
    for (supply, line) in ordered {
        peg_for(work, line, supply);
    }
}

pub(super) fn hold(
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
    let held_from = Some(build.state);
    let version = build.version + 1;
    let note = reason.trim().to_owned();
    work.change(Change::Build(Build {
        state: BuildState::OnHold,
        held_from,
        note: note.clone(),
        version,
        ..build
    }));
    on_build(work, id, BuildEffect::OnHold { reason: note });
    Ok(Subject::Build(id))
}

pub(super) fn resume(
    work: &mut Work<'_, '_>,
    build: &Ref,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let from = &[BuildState::OnHold];
    let (build, _) = checked(work, build, occurred_on, from, "taken off hold")?;
    let id = build.id;
    let state = build.held_from.unwrap_or(BuildState::Open);
    let version = build.version + 1;
    let note = String::new();
    work.change(Change::Build(Build { state, held_from: None, note, version, ..build }));
    on_build(work, id, BuildEffect::OffHold { state });
    rebind(work, id);
    let ids: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    say_short(work, ids);
    Ok(Subject::Build(id))
}

/// Ends a build: what it still holds is given back and bound to others.
pub(super) fn end(
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
    let id = step(work, build, occurred_on, from, to, reason)?;
    let lines: Vec<_> = work.book.lines_of(id).into_iter().map(|line| line.id).collect();
    for line in &lines {
        let pegs: Vec<_> = work.book.pegs_of(*line).copied().collect();
        for peg in pegs {
            let key = (peg.line, peg.order_line);
            unpeg(work, key, peg.quantity, Why::GivenBack);
        }
        let held: Vec<_> = work.book.reservations_of(*line).map(|r| (r.id, r.held)).collect();
        for (reservation, held) in held {
            if held.is_positive() {
                release(work, reservation, held, Why::GivenBack);
            }
        }
    }
    if to == BuildState::Cancelled {
        say_issued(work, id);
    }
    say_outside(work, id);
    rebind(work, id);
    Ok(Subject::Build(id))
}

/// Reminds of what is still with a finisher: it comes back into free stock.
fn say_outside(work: &mut Work<'_, '_>, build: BuildId) {
    let lines = work.book.lines_of(build).into_iter();
    let outside = lines.filter_map(|line| {
        let out = line.making.as_ref()?.out;
        out.is_positive().then_some((line.part, out))
    });
    let outside: Vec<_> = outside.collect();
    for (part, quantity) in outside {
        work.caution(Caution::StillOutside { part, quantity });
    }
}

/// Reminds of what is in the vehicle of a cancelled build.
fn say_issued(work: &mut Work<'_, '_>, build: BuildId) {
    let in_vehicle = |line: &&crate::book::model::Line| line.issued.is_positive();
    let lines = work.book.lines_of(build).into_iter().filter(in_vehicle).count();
    if lines > 0 {
        work.caution(Caution::InVehicle { lines });
    }
}
