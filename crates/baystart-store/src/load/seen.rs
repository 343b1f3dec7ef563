//! Rows on their way into a book: what was loaded, by id, so that nothing is
//! loaded twice.

use crate::entity::{
    awaited, bin_balance, build, build_line, kit_component, offer, order_line, part, peg, promise,
    purchase_order, reservation, stage, stock,
};
use crate::error::StoreError;
use baystart_core::book::Book;
use baystart_core::ids::PartId;
use baystart_core::quantity::Quantity;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

#[derive(Default)]
pub struct Seen {
    /// Parts whose every binding belongs to the slice.
    pub parts: BTreeSet<Uuid>,
    /// Builds that were named: with all their lines and reservations.
    pub named_builds: BTreeSet<Uuid>,
    /// Kits whose lists were read.
    pub kits: BTreeSet<Uuid>,
    pub part_rows: Vec<part::Model>,
    pub components: Vec<kit_component::Model>,
    pub offers: Vec<offer::Model>,
    pub stock: Vec<stock::Model>,
    pub balances: Vec<bin_balance::Model>,
    pub builds: BTreeMap<Uuid, build::Model>,
    pub stages: Vec<stage::Model>,
    pub lines: BTreeMap<Uuid, build_line::Model>,
    pub awaited: Vec<awaited::Model>,
    pub reservations: Vec<reservation::Model>,
    pub orders: BTreeMap<Uuid, purchase_order::Model>,
    pub order_lines: BTreeMap<Uuid, order_line::Model>,
    pub promises: Vec<promise::Model>,
    pub pegs: Vec<peg::Model>,
}

impl Seen {
    /// Moves every row into the book.
    pub fn into_book(mut self, book: &mut Book) -> Result<(), StoreError> {
        self.components.sort_by_key(|row| (row.kit, row.ordinal));
        let mut lists: BTreeMap<Uuid, Vec<_>> = BTreeMap::new();
        for row in &self.components {
            let component = (PartId(row.component), Quantity::from_milli(row.quantity));
            lists.entry(row.kit).or_default().push(component);
        }
        for row in &self.part_rows {
            let row = row.own(lists.remove(&row.id).unwrap_or_default())?;
            book.parts.insert(row.id, row);
        }
        for row in &self.offers {
            let row = row.own()?;
            book.offers.insert(row.id, row);
        }
        for row in &self.stock {
            book.stock.insert(row.key(), row.own()?);
        }
        for row in &self.balances {
            book.balances.insert(row.key(), row.own());
        }
        for row in self.builds.values() {
            let row = row.own()?;
            book.builds.insert(row.id, row);
        }
        for row in &self.stages {
            let row = row.own()?;
            book.stages.insert(row.id, row);
        }
        for row in self.lines.values() {
            let row = row.own()?;
            book.lines.insert(row.id, row);
        }
        for row in &self.awaited {
            let row = row.own()?;
            book.awaited.insert(row.id, row);
        }
        for row in &self.reservations {
            let row = row.own();
            book.reservations.insert(row.id, row);
        }
        for row in self.orders.values() {
            let row = row.own()?;
            book.orders.insert(row.id, row);
        }
        self.promises.sort_by_key(|row| (row.order_line, row.ordinal));
        let mut promises: BTreeMap<Uuid, Vec<promise::Model>> = BTreeMap::new();
        for row in self.promises.drain(..) {
            promises.entry(row.order_line).or_default().push(row);
        }
        for row in self.order_lines.values() {
            let row = row.own(&promises.remove(&row.id).unwrap_or_default())?;
            book.order_lines.insert(row.id, row);
        }
        for row in &self.pegs {
            let row = row.own();
            book.pegs.insert((row.line, row.order_line), row);
        }
        Ok(())
    }
}
