//! Open orders with what the supplier has said; each is booked once.

use super::super::columns::Kind;
use super::super::{Cells, FileLine, Row, rows};
use super::{Earlier, Outcome, Run, Told, differs, digest, stood};
use baystart_core::book::model::Line;
use baystart_core::command::{Command, NewOrderLine, OrderCommand};
use baystart_core::refs::{Ref, RefKind};
use baystart_core::refusal::FieldPath;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Under which kind orders from a sheet of open orders are remembered; their
/// waiting until then is no evidence.
const KEPT_AS: &str = "order";
/// Under which kind orders are remembered that were on record from the first.
const KEPT_AS_OWN: &str = "own_order";

type OrderRow = Row<rows::OrderLine>;

pub(super) fn orders(run: &mut Run<'_, '_, '_>) {
    // In the order in which they first stand in the file.
    let mut orders: Vec<Vec<&OrderRow>> = Vec::new();
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    for row in &run.sheets.orders {
        let place = *places.entry(row.value.order.normal()).or_insert(orders.len());
        match orders.get_mut(place) {
            Some(rows) => rows.push(row),
            None => orders.push(vec![row]),
        }
    }
    for mut rows in orders {
        rows.sort_by_key(|row| row.value.line);
        order(run, &rows);
    }
}

fn order(run: &mut Run<'_, '_, '_>, rows: &[&OrderRow]) {
    let Some(first) = rows.first() else { return };
    let number = &first.value.order;
    if run.doubtful.has(RefKind::Order, number.normal()) {
        return;
    }
    let digest = digest(rows.iter().map(|row| &row.cells));
    let taken_over = first.value.taken_over.unwrap_or(true);
    let kept_as = if taken_over { KEPT_AS } else { KEPT_AS_OWN };
    match run.earlier(kept_as, number.normal(), &digest) {
        Earlier::Never => {}
        Earlier::Same => {
            for row in rows {
                run.done(&row.cells, Outcome::Unchanged);
            }
            return;
        }
        Earlier::Other => {
            let reason = format!("{} (one of its lines differs)", differs());
            run.bad(first.cells.bad("order", reason));
            return;
        }
    }
    if rows.iter().any(|row| row.value.stood() || is_kit(run, &row.value.part)) {
        if as_it_stood(run, rows) {
            settle(run, rows, kept_as, digest);
        }
        return;
    }
    let whose = |field: &FieldPath| {
        let row = field.row_of("lines").or_else(|| field.row_of("promises"));
        let row = row.and_then(|i| rows.get(i)).unwrap_or(first);
        (Kind::OpenOrders, row.cells.clone(), "order")
    };
    let Some(lines) = new_lines(run, rows) else { return };
    let order = Ref::Number(number.clone());
    let create = OrderCommand::Create {
        number: number.clone(),
        supplier: Ref::Number(first.value.supplier.clone()),
        lines,
        placed_on: first.value.placed_on,
    };
    if let Err(refusal) = run.decide(&Command::Order(create)) {
        run.refused(Kind::OpenOrders, &refusal, whose);
        return;
    }
    for (step, numbers, column) in news(&order, rows) {
        if let Err(refusal) = run.decide(&Command::Order(step)) {
            let whose = |field: &FieldPath| {
                let listed = field.row_of("promises").or_else(|| field.row_of("line_numbers"));
                let number = listed.and_then(|i| numbers.get(i)).or(numbers.first());
                let row = number.and_then(|n| rows.get(n - 1)).unwrap_or(first);
                (Kind::OpenOrders, row.cells.clone(), column)
            };
            run.refused(Kind::OpenOrders, &refusal, whose);
            return;
        }
    }
    let renumbered = rows.iter().zip(1..).any(|(row, here)| row.value.line != here);
    if renumbered {
        let lines = rows.iter().map(|row| row.value.line).collect();
        run.tell(Told::Renumbered { order: number.clone(), lines });
    }
    settle(run, rows, kept_as, digest);
}

/// Remembers the order and counts its rows.
fn settle(run: &mut Run<'_, '_, '_>, rows: &[&OrderRow], kept_as: &str, digest: [u8; 32]) {
    for row in rows {
        run.done(&row.cells, Outcome::Created);
    }
    if let Some(first) = rows.first() {
        run.imported(kept_as, first.value.order.normal(), digest);
    }
}

fn is_kit(run: &Run<'_, '_, '_>, part: &baystart_core::number::Number) -> bool {
    run.book.find_part(&Ref::Number(part.clone())).is_ok_and(|part| part.is_kit())
}

/// Takes the order over as its rows say that it stood; whether that went well.
fn as_it_stood(run: &mut Run<'_, '_, '_>, rows: &[&OrderRow]) -> bool {
    let Some(lines) = new_lines(run, rows) else { return false };
    let for_lines = lines.into_iter().map(|line| line.for_line).collect();
    let Some(restored) = stood::order(run, rows, for_lines) else { return false };
    if let Err(refusal) = run.restore(&restored) {
        run.refused(Kind::OpenOrders, &refusal, |field| {
            let row = field.row_of("lines").and_then(|i| rows.get(i)).or(rows.first());
            let cells = row.map(|row| row.cells.clone());
            let cells = cells.unwrap_or_else(|| Cells::new(FileLine { file: 0, line: 0 }));
            (Kind::OpenOrders, cells, "order")
        });
        return false;
    }
    run.stood_orders.extend(rows.first().map(|row| Ref::Number(row.value.order.clone())));
    true
}

/// The lines to order; None where a build line that one is for is not there.
fn new_lines(run: &mut Run<'_, '_, '_>, rows: &[&OrderRow]) -> Option<Vec<NewOrderLine>> {
    let mut lines = Vec::new();
    let mut fine = true;
    for row in rows {
        let value = &row.value;
        let for_line = match &value.for_build {
            None => None,
            Some(build) if run.doubtful.has(RefKind::Build, build.normal()) => {
                fine = false;
                continue;
            }
            Some(build) => match value.for_line.map_or_else(|| line_for(run, value, build), Ok) {
                Ok(line) => Some((Ref::Number(build.clone()), line)),
                Err((column, reason)) => {
                    fine = false;
                    run.bad(row.cells.bad(column, reason));
                    continue;
                }
            },
        };
        lines.push(NewOrderLine {
            part: Ref::Number(value.part.clone()),
            quantity: value.quantity,
            unit: None,
            price: value.price.map(|price| price.money(run.currency)),
            for_line,
        });
    }
    fine.then_some(lines)
}

/// The build's line of the part and stage; the first that still lacks some of
/// it, where there are several.
fn line_for(
    run: &Run<'_, '_, '_>,
    row: &rows::OrderLine,
    build: &baystart_core::number::Number,
) -> Result<i32, (&'static str, String)> {
    let build = run
        .book
        .find_build(&Ref::Number(build.clone()))
        .map_err(|(_, message)| ("for_build", message))?;
    let stage = run
        .book
        .find_stage(build, &row.for_stage)
        .map_err(|(_, message)| ("for_stage", message))?;
    let part = run.book.find_part(&Ref::Number(row.part.clone())).map(|part| part.id);
    let whole_kit = is_kit(run, &row.part);
    let lines: Vec<&Line> = run
        .book
        .lines_of(build.id)
        .into_iter()
        .filter(|line| {
            line.stage == stage.id && Ok(line.part) == part && (whole_kit || !line.exploded)
        })
        .collect();
    let lacking = lines.iter().find(|line| run.book.short_of(line).is_positive());
    match lacking.or(lines.first()) {
        Some(line) => Ok(line.number),
        None => {
            let (part, stage) = (&row.part, &stage.name);
            let text = format!("build {} needs no {part} in stage {stage}", build.number);
            Err(("for_build", text))
        }
    }
}

/// What the supplier said, by the day on which it became known: the command,
/// the lines (from 1) that it names and the column that it comes from.
fn news(order: &Ref, rows: &[&OrderRow]) -> Vec<(OrderCommand, Vec<usize>, &'static str)> {
    let mut answers: BTreeMap<Date, BTreeMap<usize, Option<Date>>> = BTreeMap::new();
    let mut despatches: BTreeMap<Date, Vec<usize>> = BTreeMap::new();
    for (row, number) in rows.iter().zip(1_usize..) {
        if let Some(day) = row.value.acknowledged_on {
            answers.entry(day).or_default().insert(number, None);
        }
        for (promised, known) in &row.value.promises {
            answers.entry(*known).or_default().insert(number, Some(*promised));
        }
        if let Some(day) = row.value.despatched_on {
            despatches.entry(day).or_default().push(number);
        }
    }
    let wire = |number: usize| i32::try_from(number).unwrap_or(i32::MAX);
    let reference = rows.first().map(|row| row.value.supplier_reference.clone());
    let mut reference = reference.unwrap_or_default();
    let mut steps = Vec::new();
    for (day, lines) in answers {
        let numbers: Vec<usize> = lines.keys().copied().collect();
        let step = OrderCommand::Acknowledge {
            order: order.clone(),
            supplier_reference: std::mem::take(&mut reference),
            promises: lines
                .into_iter()
                .map(|(number, promised)| (wire(number), promised))
                .collect(),
            occurred_on: Some(day),
        };
        steps.push((step, numbers, "promise_known_on"));
    }
    for (day, numbers) in despatches {
        let step = OrderCommand::Despatch {
            order: order.clone(),
            lines: numbers.iter().map(|number| wire(*number)).collect(),
            occurred_on: Some(day),
        };
        steps.push((step, numbers, "despatched_on"));
    }
    steps
}
