//! What lines hold, as it stood.

use crate::book::Change;
use crate::book::model::{Line, Peg, Reservation, StockKey};
use crate::decide::work::Work;
use crate::decide::{Subject, check};
use crate::ids::ReservationId;
use crate::quantity::Quantity;
use crate::refusal::{Faults, Reason, Refusal, nth};
use crate::restore::{RestoredBinding, RestoredSource};

pub(super) fn restore(
    work: &mut Work<'_, '_>,
    rows: &[RestoredBinding],
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    for (i, row) in rows.iter().enumerate() {
        one(work, &mut faults, i, row);
    }
    faults.check()?;
    Ok(Subject::None)
}

/// Binds one row, or notes why it cannot be.
fn one(work: &mut Work<'_, '_>, faults: &mut Faults, i: usize, row: &RestoredBinding) {
    let at = |field: &'static str| nth("lines", i).then(field);
    check::positive(faults, at("quantity"), row.quantity);
    let build = faults.take(at("build"), work.book.find_build(&row.build).cloned());
    let Some(build) = build else { return };
    let found = work.book.find_line(&build, row.line).cloned();
    let Some(line) = faults.take(at("line"), found) else { return };
    if !build.state.keeps_bindings() {
        let message = format!("build {} is {}: it holds nothing", build.number, build.state);
        faults.push(at("build"), Reason::BuildState, message);
        return;
    }
    let bound = work.book.held_for(line.id) + work.book.pegged_for(line.id) + row.quantity;
    if bound > work.book.open_need(&line) {
        let need = work.book.open_need(&line);
        let message = format!("line {} would hold {bound} and needs {need}", line.number);
        faults.push(at("quantity"), Reason::QuantityInvalid, message);
        return;
    }
    match &row.what {
        RestoredSource::Stock { lot } => stock(work, faults, i, &line, row.quantity, lot),
        RestoredSource::OrderLine { order, line: number, kept } => {
            let order = faults.take(at("order"), work.book.find_order(order).cloned());
            let Some(order) = order else { return };
            let found = work.book.find_order_line(&order, *number).cloned();
            let Some(supply) = faults.take(at("order_line"), found) else { return };
            let free = work.book.free_on(&supply);
            if supply.part != line.part || free < row.quantity {
                let message = format!(
                    "{free} of part {} are free on the order line",
                    work.book.part_number(supply.part)
                );
                faults.push(at("order_line"), Reason::QuantityInvalid, message);
                return;
            }
            let old = work.book.pegs.get(&(line.id, supply.id)).map(|peg| peg.quantity);
            let quantity = row.quantity + old.unwrap_or_default();
            let (line, order_line, kept) = (line.id, supply.id, *kept);
            work.change(Change::Peg(Peg { line, order_line, quantity, kept }));
        }
    }
}

fn stock(
    work: &mut Work<'_, '_>,
    faults: &mut Faults,
    i: usize,
    line: &Line,
    quantity: Quantity,
    lot: &str,
) {
    let Some(part) = work.book.parts.get(&line.part).cloned() else { return };
    let lot = check::lot(faults, nth("lines", i).then("lot"), &part, lot);
    let key = StockKey { part: part.id, lot };
    let available = work.book.stock.get(&key).map(|stock| stock.available()).unwrap_or_default();
    if available < quantity {
        let message = format!("{available} of part {} are available", part.number);
        faults.push(nth("lines", i).then("quantity"), Reason::StockShort, message);
        return;
    }
    let id = ReservationId(work.fresh());
    work.change(Change::Reservation(Reservation {
        id,
        line: line.id,
        key,
        made: quantity,
        held: quantity,
        issued: Quantity::ZERO,
        released: Quantity::ZERO,
        moved: Quantity::ZERO,
    }));
}
