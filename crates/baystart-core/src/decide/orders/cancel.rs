//! A cancellation, by us or by the supplier.

use super::named::{found_order, named, not_before_placing};
use super::{on_line, package, touch};
use crate::book::Change;
use crate::book::model::OrderLine;
use crate::command::CancelledBy;
use crate::decide::binding_rule::bind_part;
use crate::decide::displace::shrink_pegs;
use crate::decide::effect::{OrderLineEffect, Why};
use crate::decide::work::{Work, say_short};
use crate::decide::{Subject, check};
use crate::ids::{LineId, PartId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;
use std::collections::BTreeSet;

pub(super) struct Cancelling<'a> {
    pub(super) quantity: Option<Quantity>,
    pub(super) by: CancelledBy,
    pub(super) reason: &'a str,
}

pub(super) fn cancel(
    work: &mut Work<'_, '_>,
    order: &Ref,
    lines: &[i32],
    how: &Cancelling<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::text(&mut faults, "reason", how.reason, true);
    let order = found_order(work, &mut faults, order)?;
    let fits = |line: &OrderLine| line.outstanding().is_positive();
    let wanted = package::with_pieces(work, &order, lines, |n, piece| piece.unwrap_or(*n));
    let mut rows = named(work, &mut faults, &order, &wanted, "cancelled", fits);
    // A package follows its pieces.
    rows.retain(|row| !row.package);
    not_before_placing(&mut faults, &rows, day);
    if let Some(quantity) = how.quantity {
        check::positive(&mut faults, "quantity", quantity);
        if wanted.len() != 1 {
            let message = "a quantity goes with exactly one line";
            faults.push("quantity", Reason::ValueInvalid, message);
        } else if let Some(row) = rows.first().filter(|row| quantity > row.outstanding()) {
            let left = work.amount(row.part, row.outstanding());
            let message = format!("only {left} still on order, not {quantity}");
            faults.push("quantity", Reason::OverCancel, message);
        }
    }
    faults.check()?;
    let mut parts = BTreeSet::new();
    for mut row in rows {
        let gone = how.quantity.unwrap_or_else(|| row.outstanding());
        let (id, part) = (row.id, row.part);
        parts.insert(part);
        let left = row.on_order() - gone;
        match how.by {
            CancelledBy::Us => row.cancelled_by_us += gone,
            CancelledBy::Supplier => row.cancelled_by_supplier += gone,
        }
        let reason = how.reason.trim().to_owned();
        on_line(work, id, OrderLineEffect::Cancelled { quantity: gone, by: how.by, reason });
        shrink_pegs(work, id, left.or_zero(), &Why::Cancelled);
        if row.outstanding().is_zero() {
            row.closed_on = Some(day);
        }
        work.change(Change::OrderLine(row));
    }
    package::settle(work, order.id, day);
    touch(work, order.id);
    for part in parts {
        bind_part(work, part);
        say_short(work, short_lines(work, part));
    }
    Ok(Subject::Order(order.id))
}

fn short_lines(work: &Work<'_, '_>, part: PartId) -> Vec<LineId> {
    work.book.lines_for_part(part).map(|line| line.id).collect()
}
