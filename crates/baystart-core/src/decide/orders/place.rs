//! Drafts are placed, and pegged to the lines that they are for.

use super::named::found_order;
use super::{on_order, package, touch};
use crate::book::Change;
use crate::book::model::{Order, OrderLine};
use crate::decide::binding_rule::{bind_parts, peg};
use crate::decide::displace::trim;
use crate::decide::effect::OrderEffect;
use crate::decide::words::amount_of;
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::ids::{LineId, OrderLineId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

/// Places the order's drafts and pegs them to the lines that they are for.
pub(super) fn place(work: &mut Work<'_, '_>, order: &Order, day: Date) {
    let drafts: Vec<OrderLine> = work
        .book
        .lines_of_order(order.id)
        .into_iter()
        .filter(|line| line.placed_on.is_none() && line.outstanding().is_positive())
        .cloned()
        .collect();
    for line in &drafts {
        // The quote as it stands when the order is placed.
        let sold_as = package::header_of(work.book, line).map_or(line.part, |header| header.part);
        let quoted = work.book.offer_of(order.supplier, sold_as).and_then(|o| o.quoted_days);
        work.change(Change::OrderLine(OrderLine {
            placed_on: Some(day),
            last_contact_on: Some(day),
            quoted_days: quoted.or(line.quoted_days),
            ..line.clone()
        }));
    }
    on_order(work, order.id, OrderEffect::Placed { on: day });
    for line in &drafts {
        let Some(wanted) = line.for_line else { continue };
        peg_for(work, wanted, line.id);
    }
    bind_parts(work, drafts.iter().map(|line| line.part));
}

/// Pegs an order line to the build line that it was ordered for, in place of
/// pegs that nobody asked to keep.
pub(in crate::decide) fn peg_for(work: &mut Work<'_, '_>, line: LineId, supply: OrderLineId) {
    let Some(line) = work.book.lines.get(&line).cloned() else { return };
    let holds = work.book.builds.get(&line.build).is_some_and(|build| build.state.keeps_bindings());
    let Some(row) = work.book.order_lines.get(&supply) else { return };
    // It was ordered for the line before a substitute took its place.
    if row.part != line.part {
        return;
    }
    let loose: Quantity =
        work.book.pegs_of(line.id).filter(|peg| !peg.kept).map(|peg| peg.quantity).sum();
    let taken = work.book.free_on(row).min(work.book.short_of(&line) + loose);
    if holds && taken.is_positive() {
        peg(work, &line, supply, taken, true);
        trim(work, line.id);
    }
}

pub(super) fn place_drafts(
    work: &mut Work<'_, '_>,
    order: &Ref,
    occurred_on: Option<Date>,
    unneeded_too: bool,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let order = found_order(work, &mut faults, order)?;
    faults.check()?;
    let drafts = |line: &&OrderLine| line.placed_on.is_none() && line.outstanding().is_positive();
    if !work.book.lines_of_order(order.id).into_iter().any(|line| drafts(&line)) {
        let message = format!("order {} has no draft line to place", order.number);
        return Err(Refusal::new(Reason::OrderLineState, message));
    }
    if !unneeded_too {
        needed(work, &order)?;
    }
    place(work, &order, day);
    touch(work, order.id);
    Ok(Subject::Order(order.id))
}

/// Refuses drafts whose build line needs them no more, where no other build lacks the part and it is not
/// kept in stock. A draft that was made for nobody is what somebody wanted; of a package its pieces are
/// looked at.
fn needed(work: &Work<'_, '_>, order: &Order) -> Result<(), Refusal> {
    let mut said = Vec::new();
    for draft in work.book.lines_of_order(order.id) {
        let line = draft.for_line.and_then(|line| work.book.lines.get(&line));
        let is_draft = draft.placed_on.is_none() && draft.outstanding().is_positive();
        let (Some(line), true, false) = (line, is_draft, draft.package) else {
            continue;
        };
        let part = work.book.parts.get(&draft.part);
        if part.is_some_and(|part| part.stocked.is_some()) || is_lacked(work, draft) {
            continue;
        }
        let build = work.book.builds.get(&line.build);
        let (number, over) =
            build.map_or(("", None), |row| (row.number.written(), Some(row.state)));
        let why = match over.filter(|state| state.is_over()) {
            Some(state) => format!("which is {state}"),
            None => "which lacks it no more".to_owned(),
        };
        said.push(format!(
            "line {}, {}, is for build {number}, {why}",
            draft.number,
            amount_of(work.book, draft.part, draft.outstanding())
        ));
    }
    if said.is_empty() {
        return Ok(());
    }
    let message = format!("order {}: {}, and nobody else lacks it", order.number, said.join("; "));
    Err(Refusal::new(Reason::NotNeeded, message))
}

/// Whether any build that is not over still lacks a draft's part.
fn is_lacked(work: &Work<'_, '_>, draft: &OrderLine) -> bool {
    work.book.lines_for_part(draft.part).any(|line| {
        let build = work.book.builds.get(&line.build);
        build.is_some_and(|build| !build.state.is_over()) && work.book.short_of(line).is_positive()
    })
}
