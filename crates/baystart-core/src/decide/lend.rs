//! Lending: what is bound to one build's line goes to another build's line of the same part.

use super::binding_rule::{bind_part_except, expected_on, peg};
use super::effect::{Caution, LineEffect, Why};
use super::work::Work;
use super::{Subject, check, displace};
use crate::book::model::{Build, Line, Reservation};
use crate::book::{Book, Change};
use crate::ids::{OrderLineId, ReservationId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, FieldPath, Reason, Refusal};
use jiff::civil::Date;

/// A build and one of its lines.
type End<'a> = (&'a Ref, i32);

/// What is bound to a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bound {
    Stock(ReservationId),
    Supply(OrderLineId),
}

/// One quantity that changes hands, and what comes back for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Pass {
    gives: Bound,
    quantity: Quantity,
    /// The later supply that the other line leaves to the lender.
    takes: Option<OrderLineId>,
}

/// Gives what `from` holds to `to`: stock first, then supplies by median arrival. It fills what
/// `to` lacks, then takes the place of its later supplies, the latest first, which `from` gets
/// for them. What `from` then lacks is bound to it by the ordinary rule.
pub(super) fn lend(
    work: &mut Work<'_, '_>,
    (from, to): (End<'_>, End<'_>),
    quantity: Option<Quantity>,
    reason: &str,
    shown: Option<i64>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let lender = end(work.book, &mut faults, "from", from);
    let taker = end(work.book, &mut faults, "to", to);
    if let Some(quantity) = quantity {
        check::positive(&mut faults, "quantity", quantity);
    }
    // A look changes nothing, and needs no reason.
    check::text(&mut faults, "reason", reason, shown.is_some());
    if let (Some((build, line)), Some((other, wanted))) = (&lender, &taker) {
        fits(work.book, &mut faults, (build, line), (other, wanted));
    }
    let ((build, line), (other, wanted)) = faults.whole((lender, taker))?;
    check::binding(&build)?;
    check::binding(&other)?;
    stays(work.book, &line)?;
    stays(work.book, &wanted)?;
    if let Some(shown) = shown.filter(|shown| *shown != work.context.revision) {
        let now = work.context.revision;
        let message =
            format!("the dates were shown at revision {shown}; the shop stands at {now} now");
        let refusal = Refusal::new(Reason::ShownChanged, message);
        return Err(refusal.with("shown", shown).with("revision", now));
    }
    let passes = passes(work.book, &line, &wanted, work.context.today);
    let most: Quantity = passes.iter().map(|pass| pass.quantity).sum();
    let asked = quantity.unwrap_or(most);
    if asked.is_zero() || asked > most {
        let message = format!(
            "line {} of build {} holds {} of part {} that line {} of build {} would get sooner by it",
            line.number,
            build.number,
            if most.is_zero() { "nothing".to_owned() } else { work.amount(line.part, most) },
            work.book.part_number(line.part),
            wanted.number,
            other.number
        );
        return Err(Refusal::new(Reason::OverLend, message).with("most", most));
    }
    let mut left = asked;
    for pass in passes {
        let quantity = pass.quantity.min(left);
        if quantity.is_positive() {
            hand_over(work, &line, &wanted, Pass { quantity, ..pass }, reason);
            left -= quantity;
        }
    }
    // The lender may take what is free; the line that was helped keeps exactly what was asked.
    bind_part_except(work, line.part, &[wanted.id]);
    Ok(Subject::None)
}

fn end(
    book: &Book,
    faults: &mut Faults,
    what: &'static str,
    wanted: End<'_>,
) -> Option<(Build, Line)> {
    let (build, number) = wanted;
    let build =
        faults.take(FieldPath::from(what).then("build"), book.find_build(build).cloned())?;
    let line = book.find_line(&build, number).cloned();
    let line = faults.take(FieldPath::from(what).then("line_number"), line)?;
    Some((build, line))
}

fn fits(
    book: &Book,
    faults: &mut Faults,
    (build, line): (&Build, &Line),
    (other, wanted): (&Build, &Line),
) {
    if build.id == other.id {
        let message = format!("both lines are of build {}", build.number);
        faults.push("to.build", Reason::ValueInvalid, message);
    }
    if line.part != wanted.part {
        let message = format!(
            "line {} of build {} is of part {}, line {} of build {} of part {}",
            line.number,
            build.number,
            book.part_number(line.part),
            wanted.number,
            other.number,
            book.part_number(wanted.part)
        );
        faults.push("to.line_number", Reason::ValueInvalid, message);
    }
}

/// Refuses what belongs to one build alone: made or finished to order, or the customer's own.
fn stays(book: &Book, line: &Line) -> Result<(), Refusal> {
    let to_order = book.parts.get(&line.part).is_some_and(|part| part.made_to_order);
    let why = match line {
        line if line.customer_supplied => "is brought by the customer",
        line if line.making.is_some() => "is made or finished for its build",
        _ if to_order => "is made to order for its build",
        _ => return Ok(()),
    };
    let part = book.part_number(line.part);
    let message = format!("part {part} of line {} {why}: it is never lent", line.number);
    Err(Refusal::new(Reason::NeverLent, message))
}

/// All that would help, what helps most first: no pass makes the taker wait longer.
fn passes(book: &Book, line: &Line, wanted: &Line, today: Date) -> Vec<Pass> {
    let mut gives: Vec<(Date, Bound, Quantity)> = Vec::new();
    for row in book.reservations_of(line.id).filter(|row| row.held.is_positive()) {
        gives.push((Date::MIN, Bound::Stock(row.id), row.held));
    }
    for (expected, id, quantity) in supplies(book, line, today) {
        gives.push((expected, Bound::Supply(id), quantity));
    }
    // What nothing is bound to waits longest, then what comes last.
    let mut lacks: Vec<(Option<Date>, Option<OrderLineId>, Quantity)> =
        vec![(None, None, book.short_of(wanted))];
    for (expected, id, quantity) in supplies(book, wanted, today).into_iter().rev() {
        lacks.push((Some(expected), Some(id), quantity));
    }
    let mut passes = Vec::new();
    let mut lacking = lacks.into_iter().filter(|(_, _, quantity)| quantity.is_positive());
    let mut lack = lacking.next();
    for (expected, gives, mut left) in gives {
        while left.is_positive() {
            let Some((until, takes, missing)) = lack else { return passes };
            if until.is_some_and(|until| expected >= until) {
                return passes;
            }
            let quantity = left.min(missing);
            passes.push(Pass { gives, quantity, takes });
            left -= quantity;
            let rest = missing - quantity;
            lack = match rest.is_positive() {
                true => Some((until, takes, rest)),
                false => lacking.next(),
            };
        }
    }
    passes
}

/// The order lines that a line is pegged to, soonest median arrival first; undated last.
fn supplies(book: &Book, line: &Line, today: Date) -> Vec<(Date, OrderLineId, Quantity)> {
    let mut rows: Vec<_> = book
        .pegs_of(line.id)
        .filter_map(|peg| {
            let supply = book.order_lines.get(&peg.order_line)?;
            let order = book.orders.get(&supply.order)?.number.normal().to_owned();
            let expected = expected_on(book, supply, today).unwrap_or(Date::MAX);
            Some((expected, order, supply.number, peg.order_line, peg.quantity))
        })
        .collect();
    rows.sort();
    rows.into_iter().map(|(expected, _, _, id, quantity)| (expected, id, quantity)).collect()
}

fn hand_over(work: &mut Work<'_, '_>, line: &Line, wanted: &Line, pass: Pass, reason: &str) {
    let reason = reason.trim().to_owned();
    let why = Why::Lent { build: wanted.build, line: wanted.number, reason };
    if let Some(later) = pass.takes {
        displace::unpeg(work, (wanted.id, later), pass.quantity, Why::TakenOver);
    }
    match pass.gives {
        Bound::Stock(id) => lend_stock(work, line, wanted, id, pass.quantity, why),
        Bound::Supply(id) => {
            displace::unpeg(work, (line.id, id), pass.quantity, why);
            peg(work, wanted, id, pass.quantity, true);
        }
    }
    if let Some(later) = pass.takes {
        peg(work, line, later, pass.quantity, false);
    }
}

fn lend_stock(
    work: &mut Work<'_, '_>,
    line: &Line,
    wanted: &Line,
    id: ReservationId,
    quantity: Quantity,
    why: Why,
) {
    let Some(row) = work.book.reservations.get(&id).cloned() else { return };
    let key = row.key.clone();
    let (held, moved) = (row.held - quantity, row.moved + quantity);
    work.change(Change::Reservation(Reservation { held, moved, ..row }));
    work.on_line(line, quantity, LineEffect::Released { lot: key.lot.clone(), why });
    say_picked(work, line, &key);
    super::binding_rule::reserve(work, wanted, key, quantity);
}

/// What was picked lies on the lender's shelf: somebody must carry it over.
fn say_picked(work: &mut Work<'_, '_>, line: &Line, key: &crate::book::model::StockKey) {
    let Some(build) = work.book.builds.get(&line.build) else { return };
    let Some(bin) = build.staging_bin else { return };
    let balance = work.book.balances.get(&(key.clone(), bin));
    if !balance.is_some_and(|balance| balance.usable.is_positive()) {
        return;
    }
    let (part, build) = (key.part, build.id);
    work.caution(Caution::PickedElsewhere { part, bin, build });
}
