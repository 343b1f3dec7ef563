//! Another part for one line, accepted by name.

use super::on_build;
use crate::book::Change;
use crate::book::model::{Build, BuildState, Line, Part, Substitution};
use crate::decide::binding_rule::bind_parts;
use crate::decide::displace::{release, unpeg};
use crate::decide::effect::{BuildEffect, Caution, Why};
use crate::decide::lines::explode;
use crate::decide::work::{Work, say_short, touch};
use crate::decide::{Subject, check};
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// What is accepted, by whom and why.
pub(super) struct Accepting<'a> {
    pub(super) part: &'a Ref,
    pub(super) approved_by: &'a str,
    pub(super) reason: &'a str,
}

pub(super) fn substitute(
    work: &mut Work<'_, '_>,
    build: &Ref,
    number: i32,
    how: &Accepting<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::text(&mut faults, "approved_by", how.approved_by, true);
    check::text(&mut faults, "reason", how.reason, true);
    let (build, line) = check::build_line(work.book, &mut faults, (build, number));
    let part = faults.take("part", work.book.find_part(how.part).cloned());
    let old = line.as_ref().and_then(|line| work.book.parts.get(&line.part).cloned());
    if let (Some(line), Some(old), Some(part)) = (&line, &old, &part) {
        fits(&mut faults, line, old, part);
    }
    let (build, line, old, part) = faults.whole((build, line, old, part))?;
    changeable(&build, &line, &old)?;
    give_back(work, &line);
    let instead_of = line.substituted.as_ref().map_or(old.id, |earlier| earlier.instead_of);
    let (approved_by, reason) = (how.approved_by.trim().to_owned(), how.reason.trim().to_owned());
    let substituted = Substitution {
        instead_of,
        approved_by: approved_by.clone(),
        reason: reason.clone(),
        on: day,
    };
    work.change(Change::Line(Line {
        part: part.id,
        substituted: Some(substituted).filter(|_| instead_of != part.id),
        ..line.clone()
    }));
    let (old_id, new_id) = (old.id, part.id);
    let what =
        BuildEffect::Substituted { line: number, old: old_id, new: new_id, approved_by, reason };
    on_build(work, build.id, what);
    if old.safety_related || part.safety_related {
        work.caution(Caution::SafetyRelated { old: old_id, new: new_id });
    }
    let last = work.book.lines_of(build.id).last().map_or(0, |line| line.number);
    if build.state != BuildState::Quoted {
        explode(work, line.id)?;
    }
    // What the other part stands for, or is made of, is needed too.
    let lines = work.book.lines_of(build.id).into_iter();
    let added: Vec<_> = lines.filter(|line| line.number > last).map(|l| (l.id, l.part)).collect();
    let parts = added.iter().map(|(_, part)| *part);
    bind_parts(work, parts.chain([old.id, part.id]));
    let changed = added.iter().map(|(id, _)| *id);
    say_short(work, changed.chain([line.id]));
    touch(work, &build);
    Ok(Subject::Build(build.id))
}

/// Notes what cannot stand for what.
fn fits(faults: &mut Faults, line: &Line, old: &Part, part: &Part) {
    if part.id == old.id {
        let message = format!("line {} is of part {} already", line.number, part.number);
        faults.push("part", Reason::NothingToDo, message);
    }
    if part.unit != old.unit {
        let message = format!(
            "part {} is counted in {}, part {} in {}",
            part.number,
            part.unit.code(),
            old.number,
            old.unit.code()
        );
        faults.push("part", Reason::UnitMismatch, message);
    }
    if line.customer_supplied && (part.is_kit() || part.is_made() || part.consumable) {
        let message = format!(
            "line {} is brought by the customer: part {} is a kit, made or a consumable",
            line.number, part.number
        );
        faults.push("part", Reason::ValueInvalid, message);
    }
    let same_family = !old.family.is_empty() && old.family == part.family;
    if same_family && old.finish != part.finish && (old.made_to_order || part.made_to_order) {
        let message = format!(
            "part {} is finished \"{}\", part {} \"{}\": a finish made to order stands for no other",
            part.number, part.finish, old.number, old.finish
        );
        faults.push("part", Reason::FinishDiffers, message);
    }
}

fn changeable(build: &Build, line: &Line, old: &Part) -> Result<(), Refusal> {
    if build.state.is_over() {
        let message = format!("build {} is {}: its lines stand", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message));
    }
    if line.issued.is_positive() {
        let message = format!(
            "{} of {} were issued to line {} already: return them first",
            line.issued, old.number, line.number
        );
        return Err(Refusal::new(Reason::LineIssued, message));
    }
    if line.exploded || line.making.is_some() {
        let message = format!("line {} stands for its components: change their lines", line.number);
        return Err(Refusal::new(Reason::KitNotStocked, message));
    }
    Ok(())
}

/// Gives back what the line holds of the old part.
fn give_back(work: &mut Work<'_, '_>, line: &Line) {
    let pegs: Vec<_> = work.book.pegs_of(line.id).copied().collect();
    for peg in pegs {
        let key = (peg.line, peg.order_line);
        unpeg(work, key, peg.quantity, Why::Substituted);
    }
    let held: Vec<_> = work.book.reservations_of(line.id).map(|r| (r.id, r.held)).collect();
    for (id, held) in held {
        if held.is_positive() {
            release(work, id, held, Why::Substituted);
        }
    }
}
