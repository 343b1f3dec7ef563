//! Binding by hand: reserve, release, peg and unpeg.

use super::binding_rule::{bind_part_except, free_stock, peg, reserve as set_aside};
use super::displace::{release as release_row, trim, unpeg as unpeg_row};
use super::effect::Why;
use super::issue;
use super::work::Work;
use super::{Subject, check, lend, picking};
use crate::book::model::{Build, Line, Lot};
use crate::command::{BindCommand, LineQuantity};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use std::collections::BTreeSet;

pub(super) fn run(work: &mut Work<'_, '_>, command: &BindCommand) -> Result<Subject, Refusal> {
    match command {
        BindCommand::Reserve { build, lines } => reserve(work, build, lines),
        BindCommand::Release { build, lines } => release(work, build, lines),
        BindCommand::Peg { build, line, order, order_line, quantity } => {
            peg_line(work, (build, *line), (order, *order_line), *quantity)
        }
        BindCommand::Unpeg { build, line, order, order_line } => {
            unpeg_line(work, (build, *line), (order, *order_line))
        }
        BindCommand::Lend { build, line, to_build, to_line, quantity, reason, shown } => {
            let ends = ((build, *line), (to_build, *to_line));
            lend::lend(work, ends, *quantity, reason, *shown)
        }
        BindCommand::Issue { build, lines, stage, occurred_on } => {
            issue::issue(work, build, lines, stage.as_deref(), *occurred_on)
        }
        BindCommand::Return { build, lines, occurred_on } => {
            issue::give_back(work, build, lines, *occurred_on)
        }
        BindCommand::Pick { build, lines, occurred_on } => {
            picking::pick(work, build, lines, *occurred_on)
        }
    }
}

/// The lines that are named, each once, with every fault noted.
fn named<'a>(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    build: &Build,
    lines: &'a [LineQuantity],
) -> Vec<(usize, &'a LineQuantity, Line)> {
    let mut rows: Vec<(usize, &LineQuantity, Line)> = Vec::new();
    check::count(faults, "lines", lines.len(), false);
    for (i, wanted) in lines.iter().enumerate() {
        let field = nth("lines", i).then("line_number");
        let found = work.book.find_line(build, wanted.line).cloned();
        let Some(line) = faults.take(field.clone(), found) else { continue };
        if let Some(quantity) = wanted.quantity {
            check::positive(faults, nth("lines", i).then("quantity"), quantity);
        }
        if line.exploded {
            let message = format!("line {} is a kit: name its components' lines", line.number);
            faults.push(field.clone(), Reason::KitNotStocked, message);
        }
        if rows.iter().any(|(_, other, row)| row.id == line.id && other.lot == wanted.lot) {
            let message = format!("line {} is named twice", line.number);
            faults.push(field, Reason::DuplicateLine, message);
        }
        rows.push((i, wanted, line));
    }
    rows
}

fn found_build(work: &Work<'_, '_>, build: &Ref, field: &'static str) -> Result<Build, Refusal> {
    let mut faults = Faults::new();
    let found = faults.take(field, work.book.find_build(build).cloned());
    faults.whole(found)
}

fn reserve(
    work: &mut Work<'_, '_>,
    build: &Ref,
    lines: &[LineQuantity],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let build = found_build(work, build, "build")?;
    if lines.is_empty() {
        check::binding(&build)?;
        return reserve_all(work, &build);
    }
    let rows = named(work, &mut faults, &build, lines);
    faults.check()?;
    check::binding(&build)?;
    let mut short = Faults::new();
    for (i, wanted, line) in &rows {
        reserve_line(work, *i, wanted, line, &mut short);
    }
    short.check()?;
    // Pegs that gave way to stock are free for others; the named lines keep
    // exactly what was asked for.
    offer_to_others(work, rows.iter().map(|(_, _, line)| line));
    Ok(Subject::None)
}

fn reserve_all(work: &mut Work<'_, '_>, build: &Build) -> Result<Subject, Refusal> {
    let lines = work.book.lines_of(build.id).into_iter();
    let lines = lines.filter(|line| work.book.gates(line) && !line.customer_supplied);
    let lines: Vec<Line> = lines.cloned().collect();
    for line in lines {
        let mut left = work.book.short_of(&line);
        for (key, available) in free_stock(work.book, line.part, work.context.today) {
            let taken = available.min(left);
            if taken.is_positive() {
                set_aside(work, &line, key, taken);
                left -= taken;
            }
        }
    }
    if work.changes_made() == 0 {
        let message = format!("no line of build {} lacks anything that is available", build.number);
        return Err(Refusal::new(Reason::NothingToDo, message));
    }
    Ok(Subject::None)
}

/// Whether a lot is the one that is wanted; any is where none is named.
fn fits_lot(wanted: &LineQuantity, lot: &Lot) -> bool {
    let Some(text) = &wanted.lot else { return true };
    crate::text::normal(text) == lot.0
}

fn reserve_line(
    work: &mut Work<'_, '_>,
    index: usize,
    wanted: &LineQuantity,
    line: &Line,
    faults: &mut Faults,
) {
    let need = (work.book.open_need(line) - work.book.held_for(line.id)).or_zero();
    let asked = wanted.quantity.unwrap_or(need);
    let number = work.book.part_number(line.part).to_owned();
    if need.is_zero() {
        let message = format!("line {} lacks nothing of part {number}", line.number);
        faults.push(nth("lines", index).then("line_number"), Reason::NothingToDo, message);
        return;
    }
    if asked > need {
        let message = format!("line {} lacks {need} of part {number}, not {asked}", line.number);
        faults.push(nth("lines", index).then("quantity"), Reason::OverReserve, message);
        return;
    }
    let mut left = asked;
    for (key, available) in free_stock(work.book, line.part, work.context.today) {
        let taken = available.min(left);
        if taken.is_positive() && fits_lot(wanted, &key.lot) {
            set_aside(work, line, key, taken);
            left -= taken;
        }
    }
    if left.is_positive() {
        let message = match left == asked {
            true => format!("nothing of part {number} is available"),
            false => format!(
                "only {} of part {number} can be had, not {asked}",
                work.amount(line.part, asked - left)
            ),
        };
        faults.push(nth("lines", index).then("quantity"), Reason::StockShort, message);
        return;
    }
    // Stock in hand takes the place of a supply that has not arrived.
    trim(work, line.id);
}

fn release(
    work: &mut Work<'_, '_>,
    build: &Ref,
    lines: &[LineQuantity],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let build = found_build(work, build, "build")?;
    check::count(&mut faults, "lines", lines.len(), true);
    let rows = named(work, &mut faults, &build, lines);
    faults.check()?;
    let mut over = Faults::new();
    let mut released = Vec::new();
    for (i, wanted, line) in rows {
        let rows = work.book.reservations_of(line.id).filter(|r| fits_lot(wanted, &r.key.lot));
        let rows: Vec<_> = rows.map(|r| (r.id, r.held)).collect();
        let held = rows.iter().map(|(_, held)| *held).sum();
        let asked = wanted.quantity.unwrap_or(held);
        let field = nth("lines", i).then("quantity");
        if held < asked || held.is_zero() {
            let message = format!(
                "line {} has {} of part {} reserved, not {asked}",
                line.number,
                work.amount(line.part, held),
                work.book.part_number(line.part)
            );
            over.push(field, Reason::StockShort, message);
            continue;
        }
        let mut left = asked;
        for (id, held) in rows.into_iter().rev() {
            let taken = held.min(left);
            if taken.is_positive() {
                release_row(work, id, taken, Why::GivenBack);
                left -= taken;
            }
        }
        released.push(line);
    }
    over.check()?;
    // The lines themselves stay short until somebody reserves or supply comes:
    // otherwise the same stock would be bound to them again at once.
    offer_to_others(work, &released);
    Ok(Subject::None)
}

/// Binds what has come free to other lines than those that a person named.
fn offer_to_others<'a>(work: &mut Work<'_, '_>, named: impl IntoIterator<Item = &'a Line>) {
    let named: Vec<&Line> = named.into_iter().collect();
    let parts: BTreeSet<_> = named.iter().map(|line| line.part).collect();
    let except: Vec<_> = named.iter().map(|line| line.id).collect();
    for part in parts {
        bind_part_except(work, part, &except);
    }
}

fn peg_line(
    work: &mut Work<'_, '_>,
    (build, number): (&Ref, i32),
    (order, order_line): (&Ref, i32),
    quantity: Option<Quantity>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let (build, line) = check::build_line(work.book, &mut faults, (build, number));
    let (order, supply) = check::order_line(work.book, &mut faults, (order, order_line));
    if let Some(quantity) = quantity {
        check::positive(&mut faults, "quantity", quantity);
    }
    if let (Some(line), Some(supply)) = (&line, &supply)
        && line.part != supply.part
    {
        let message = format!(
            "the order line is of part {}, the build line of part {}",
            work.book.part_number(supply.part),
            work.book.part_number(line.part)
        );
        faults.push("order_line.line_number", Reason::ValueInvalid, message);
    }
    let (build, line, supply) = faults.whole((build, line, supply))?;
    check::binding(&build)?;
    if line.customer_supplied {
        let message = format!("line {} is brought by the customer, not ordered", line.number);
        return Err(Refusal::new(Reason::OverPeg, message));
    }
    let free = work.book.free_on(&supply);
    let loose: Quantity = work
        .book
        .pegs_of(line.id)
        .filter(|peg| !peg.kept && peg.order_line != supply.id)
        .map(|peg| peg.quantity)
        .sum();
    let lacks = work.book.short_of(&line) + loose;
    let asked = quantity.unwrap_or_else(|| free.min(lacks));
    if asked.is_zero() || asked > free || asked > lacks {
        let message = format!(
            "order {} line {} has {free} free, and line {} of build {} lacks {lacks}",
            order.map_or(String::new(), |order| order.number.to_string()),
            supply.number,
            line.number,
            build.number
        );
        return Err(Refusal::new(Reason::OverPeg, message).with("free", free).with("lacks", lacks));
    }
    peg(work, &line, supply.id, asked, true);
    trim(work, line.id);
    offer_to_others(work, [&line]);
    Ok(Subject::None)
}

fn unpeg_line(
    work: &mut Work<'_, '_>,
    (build, number): (&Ref, i32),
    (order, order_line): (&Ref, i32),
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let (_, line) = check::build_line(work.book, &mut faults, (build, number));
    let (order, supply) = check::order_line(work.book, &mut faults, (order, order_line));
    let (line, supply) = faults.whole((line, supply))?;
    let key = (line.id, supply.id);
    let Some(peg) = work.book.pegs.get(&key).copied() else {
        let order = order.map_or(String::new(), |order| order.number.to_string());
        let message = format!("line {number} is not pegged to order {order} line {order_line}");
        return Err(Refusal::new(Reason::PegUnknown, message));
    };
    unpeg_row(work, key, peg.quantity, Why::GivenBack);
    offer_to_others(work, [&line]);
    Ok(Subject::None)
}
