//! Builds and orders whose rows say how they stood, taken over with nothing
//! following from them anew; and what their lines hold.

use super::super::columns::Kind;
use super::super::{Cells, Row, rows};
use super::builds::Sheet;
use super::{Run, Told};
use baystart_core::book::model::Promise;
use baystart_core::refs::Ref;
use baystart_core::restore::{
    Restored, RestoredAwaited, RestoredBuild, RestoredLine, RestoredOrder, RestoredOrderLine,
    RestoredStage,
};
use std::collections::BTreeSet;

/// Takes the build over as it stood; whether that went well.
pub(super) fn build(run: &mut Run<'_, '_, '_>, sheet: &Sheet<'_>) -> bool {
    let row = &sheet.build.value;
    let mut lines: Vec<(&Row<rows::Line>, RestoredLine)> = Vec::new();
    for line in &sheet.lines {
        let Some(stood) = &line.value.stood else {
            let reason = "is needed: other lines of the build have numbers";
            run.bad(line.cells.bad("line", reason));
            return false;
        };
        lines.push((line, (**stood).clone()));
    }
    lines.sort_by_key(|(_, line)| line.number);
    let stage = |row: &&Row<rows::Stage>| RestoredStage {
        name: row.value.name.clone(),
        planned_days: row.value.planned_days,
        off_site: row.value.off_site.clone().map(Ref::Number),
        begun_on: row.value.begun_on,
        done_on: row.value.done_on,
    };
    let restored = Restored::Build(Box::new(RestoredBuild {
        number: row.number.clone(),
        fields: row.fields.clone(),
        for_stock: row.for_stock,
        state: row.state,
        held_from: row.held_from,
        note: row.note.clone(),
        opened_at: row.opened_at,
        customer_promises: row.customer_promises.clone(),
        delivered_on: row.delivered_on,
        stages: sheet.stages.iter().map(stage).collect(),
        lines: lines.iter().map(|(_, line)| line.clone()).collect(),
    }));
    if let Err(refusal) = run.restore(&restored) {
        run.refused(Kind::Builds, &refusal, |field| {
            let line = field.row_of("lines").and_then(|i| lines.get(i));
            match line {
                Some((line, _)) => (Kind::BuildLines, line.cells.clone(), "part"),
                None => sheet.whose(field),
            }
        });
        return false;
    }
    run.stood_builds.push(Ref::Number(row.number.clone()));
    true
}

/// Adds what the build waits for; whether that went well.
pub(super) fn awaited(run: &mut Run<'_, '_, '_>, sheet: &Sheet<'_>) -> bool {
    let Some(first) = sheet.awaited.first() else { return true };
    let build = Ref::Number(first.value.build.clone());
    let items: Vec<RestoredAwaited> =
        sheet.awaited.iter().map(|row| row.value.item.clone()).collect();
    match run.restore(&Restored::Awaited { build, items }) {
        Ok(()) => true,
        Err(refusal) => {
            run.refused(Kind::Builds, &refusal, |field| {
                let row = field.row_of("items").and_then(|i| sheet.awaited.get(i));
                (Kind::Awaited, row.unwrap_or(first).cells.clone(), "build")
            });
            false
        }
    }
}

/// The order as its rows say that it stood.
pub(super) fn order(
    run: &Run<'_, '_, '_>,
    rows: &[&Row<rows::OrderLine>],
    for_lines: Vec<Option<(Ref, i32)>>,
) -> Option<Restored> {
    let first = &rows.first()?.value;
    let promise = |(promised_on, known_on): &(_, _)| Promise {
        promised_on: *promised_on,
        known_on: *known_on,
    };
    let line = |(row, for_line): (&&Row<rows::OrderLine>, Option<(Ref, i32)>)| {
        let row = &row.value;
        RestoredOrderLine {
            number: row.line,
            part: Ref::Number(row.part.clone()),
            quantity: row.quantity,
            price: row.price.map(|price| price.money(run.currency)),
            quoted_days: row.quoted_days,
            placed_on: row.placed_on,
            acknowledged_on: row
                .acknowledged_on
                .or(row.promises.first().map(|(_, known_on)| *known_on)),
            promises: row.promises.iter().map(promise).collect(),
            taken_back: row.taken_back.clone(),
            despatched_on: row.despatched_on,
            last_contact_on: row.last_contact_on,
            for_line,
            package_line: row.package_line,
            rejected: row.rejected,
        }
    };
    Some(Restored::Order(RestoredOrder {
        number: first.order.clone(),
        supplier: Ref::Number(first.supplier.clone()),
        supplier_reference: first.supplier_reference.clone(),
        lines: rows.iter().zip(for_lines).map(line).collect(),
    }))
}

/// What the lines of builds that were taken over hold: what the rows say, or,
/// where no file says it, what is free.
pub(super) fn bindings(run: &mut Run<'_, '_, '_>) {
    if !run.sheets.says_bindings {
        let (builds, orders) =
            (std::mem::take(&mut run.stood_builds), std::mem::take(&mut run.stood_orders));
        if builds.is_empty() && orders.is_empty() {
            return;
        }
        // Both were taken over just now: there is no row to blame.
        if let Err(refusal) = run.restore(&Restored::Bind { builds, orders }) {
            run.tell(Told::NotBound(refusal));
        }
        return;
    }
    let stood: BTreeSet<&Ref> = run.stood_builds.iter().collect();
    let new: BTreeSet<&Ref> = run.new_builds.iter().collect();
    let mut bad = Vec::new();
    let mut taken: Vec<&Cells> = Vec::new();
    let mut rows = Vec::new();
    for row in &run.sheets.bindings {
        let build = Ref::Number(row.value.build.clone());
        if stood.contains(&build) {
            rows.push(row.value.binding.clone());
            taken.push(&row.cells);
        } else if new.contains(&build) {
            let reason = "the build's lines have no numbers in this import: it binds what is free";
            bad.push(row.cells.bad("build", reason));
        }
    }
    run.out.bad.extend(bad);
    if let Err(refusal) = run.restore(&Restored::Bindings(rows)) {
        run.refused(Kind::Bindings, &refusal, |field| {
            let cells = field.row_of("lines").and_then(|i| taken.get(i)).or(taken.first());
            let cells = cells.map_or_else(|| Cells::new(no_place()), |cells| (*cells).clone());
            (Kind::Bindings, cells, "build")
        });
    }
}

const fn no_place() -> super::super::FileLine {
    super::super::FileLine { file: 0, line: 0 }
}
