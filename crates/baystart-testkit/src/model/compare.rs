//! The book's numbers against the model's.

use super::binding::{line_key, supply_key};
use super::rows::{Cell, LineRow, StageRow};
use super::{Model, Spot};
use baystart_core::book::Book;
use std::collections::BTreeMap;
use std::fmt::Debug;

/// On hand and quarantined by part, lot and bin.
pub(crate) fn cells(book: &Book) -> BTreeMap<Spot, Cell> {
    let mut cells = BTreeMap::new();
    for ((key, bin), balance) in &book.balances {
        let part = book.parts.get(&key.part).map_or("", |part| part.number.normal());
        let bin = book.bins.get(bin).map_or("", |bin| bin.code.normal());
        let cell =
            Cell { usable: balance.usable.milli(), quarantined: balance.quarantined.milli() };
        cells.insert((part.to_owned(), key.lot.0.clone(), bin.to_owned()), cell);
    }
    cells
}

fn same<T: PartialEq + Debug>(what: &str, book: T, model: T) -> Result<(), String> {
    match book == model {
        true => Ok(()),
        false => Err(format!("{what}: the book has {book:?}, the model {model:?}")),
    }
}

impl Model {
    pub(super) fn compare(&self, book: &Book) -> Result<(), String> {
        let nothing = Cell::default();
        let filled = |cells: &BTreeMap<Spot, Cell>| {
            let filled = cells.iter().filter(|(_, cell)| **cell != nothing);
            filled.map(|(spot, cell)| (spot.clone(), *cell)).collect::<Vec<_>>()
        };
        same("stock", filled(&cells(book)), filled(&self.stock))?;
        self.compare_builds(book)?;
        self.compare_orders(book)?;
        let parts = book.parts.values().map(|part| (part.number.normal(), part.version));
        let parts: BTreeMap<_, _> = parts.collect();
        let own = self.parts.iter().map(|(number, row)| (number.as_str(), row.version)).collect();
        same("parts", parts, own)?;
        let version = book.settings.as_ref().map_or(0, |settings| settings.version);
        same("settings", version, self.settings_version)?;
        same("closures", book.closures.len(), self.closures.len())
    }

    fn compare_builds(&self, book: &Book) -> Result<(), String> {
        same("builds", book.builds.len(), self.builds.len())?;
        let count = self.builds.values().map(|row| row.lines.len()).sum();
        same("build lines", book.lines.len(), count)?;
        for build in book.builds.values() {
            let number = build.number.normal();
            let row = self.builds.get(number).ok_or_else(|| format!("build {number} is new"))?;
            same(number, (build.state, build.version), (row.state, row.version))?;
            let stages = book.stages_of(build.id).into_iter().map(|stage| StageRow {
                name: stage.name.normal().to_owned(),
                begun: stage.begun_on,
                done: stage.done_on,
            });
            same(number, stages.collect(), row.stages.clone())?;
        }
        for line in book.lines.values() {
            let key = line_key(book, line);
            let stage = book.stages.get(&line.stage).map_or("", |stage| stage.name.normal());
            let part = book.parts.get(&line.part).map_or("", |part| part.number.normal());
            let there = LineRow {
                number: line.number,
                stage: stage.to_owned(),
                part: part.to_owned(),
                required: line.required.milli(),
                issued: line.issued.milli(),
                kit_line: line.kit_line,
                exploded: line.exploded,
            };
            let row = self.builds.get(&key.0).and_then(|build| build.line(key.1));
            same(&key.0, Some(&there), row)?;
        }
        Ok(())
    }

    fn compare_orders(&self, book: &Book) -> Result<(), String> {
        same("orders", book.orders.len(), self.orders.len())?;
        let count = self.orders.values().map(|row| row.lines.len()).sum();
        same("order lines", book.order_lines.len(), count)?;
        for line in book.order_lines.values() {
            let (order, number) = supply_key(book, line);
            let row = self.orders.get(&order).and_then(|row| row.line(number));
            let row = row.ok_or_else(|| format!("order {order} line {number} is new"))?;
            let promises: Vec<_> = line
                .promises
                .iter()
                .map(|promise| (promise.promised_on, promise.known_on))
                .collect();
            let label = format!("order {order} line {number}");
            same(
                &label,
                [
                    line.ordered,
                    line.received,
                    line.over_accepted,
                    line.cancelled_by_us,
                    line.cancelled_by_supplier,
                    line.rejected,
                ]
                .map(|quantity| quantity.milli()),
                [
                    row.ordered,
                    row.received,
                    row.over,
                    row.cancelled_by_us,
                    row.cancelled_by_supplier,
                    row.rejected,
                ],
            )?;
            same(
                &label,
                (line.placed_on, line.acknowledged_on, line.despatched_on, line.last_contact_on),
                (row.placed_on, row.acknowledged_on, row.despatched_on, row.contact_on),
            )?;
            same(&label, (line.closed_on, promises), (row.closed_on, row.promises.clone()))?;
        }
        Ok(())
    }
}
