//! What is bound, read from the book, and the numbers that follow from it.

use super::{LineKey, Model};
use baystart_core::book::Book;
use baystart_core::book::model::{Line, OrderLine};
use std::collections::BTreeMap;

/// An order's number and a line's.
pub(crate) type SupplyKey = (String, i32);

/// Held stock and pegs of one line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Bound {
    /// By lot.
    pub(crate) held: BTreeMap<String, i64>,
    /// Quantity, and whether it is kept.
    pub(crate) pegs: BTreeMap<SupplyKey, (i64, bool)>,
}

impl Bound {
    pub(crate) fn held(&self) -> i64 {
        self.held.values().sum()
    }

    pub(crate) fn pegged(&self) -> i64 {
        self.pegs.values().map(|(milli, _)| milli).sum()
    }

    pub(crate) fn total(&self) -> i64 {
        self.held() + self.pegged()
    }

    pub(crate) fn kept(&self, supply: &SupplyKey) -> i64 {
        self.pegs.get(supply).filter(|(_, kept)| *kept).map_or(0, |(milli, _)| *milli)
    }
}

/// What is bound to every line that has something.
#[derive(Clone, Debug, Default)]
pub(crate) struct Bindings(pub(crate) BTreeMap<LineKey, Bound>);

impl Bindings {
    pub(crate) fn of(&self, line: &LineKey) -> Bound {
        self.0.get(line).cloned().unwrap_or_default()
    }

    pub(crate) fn read(book: &Book) -> Self {
        let mut all: BTreeMap<LineKey, Bound> = BTreeMap::new();
        for row in book.reservations.values().filter(|row| !row.held.is_zero()) {
            let Some(key) = book.lines.get(&row.line).map(|line| line_key(book, line)) else {
                continue;
            };
            let held = all.entry(key).or_default().held.entry(row.key.lot.0.clone());
            *held.or_default() += row.held.milli();
        }
        for peg in book.pegs.values() {
            let line = book.lines.get(&peg.line).map(|line| line_key(book, line));
            let supply = book.order_lines.get(&peg.order_line).map(|row| supply_key(book, row));
            let (Some(line), Some(supply)) = (line, supply) else { continue };
            all.entry(line).or_default().pegs.insert(supply, (peg.quantity.milli(), peg.kept));
        }
        Self(all)
    }
}

pub(crate) fn line_key(book: &Book, line: &Line) -> LineKey {
    let build = book.builds.get(&line.build).map_or("", |build| build.number.normal());
    (build.to_owned(), line.number)
}

pub(crate) fn supply_key(book: &Book, row: &OrderLine) -> SupplyKey {
    let order = book.orders.get(&row.order).map_or("", |order| order.number.normal());
    (order.to_owned(), row.number)
}

impl Model {
    /// Usable stock by lot, over all bins.
    pub(crate) fn usable(&self, part: &str) -> BTreeMap<String, i64> {
        let mut lots = BTreeMap::new();
        for ((_, lot, _), cell) in self.stock.iter().filter(|((known, _, _), _)| known == part) {
            *lots.entry(lot.clone()).or_default() += cell.usable;
        }
        lots
    }

    /// Stock by lot that is not held for a line.
    pub(crate) fn available(&self, part: &str, bound: &Bindings) -> BTreeMap<String, i64> {
        let mut lots = self.usable(part);
        for (key, row) in &bound.0 {
            if self.part_of(key) != Some(part) {
                continue;
            }
            for (lot, milli) in &row.held {
                *lots.entry(lot.clone()).or_default() -= milli;
            }
        }
        lots
    }

    pub(crate) fn part_of(&self, (build, number): &LineKey) -> Option<&str> {
        let row = self.builds.get(build)?.line(*number)?;
        Some(&row.part)
    }

    /// What is on order on each order line of a part and not pegged.
    pub(crate) fn free(&self, part: &str, bound: &Bindings) -> BTreeMap<SupplyKey, i64> {
        let mut free = BTreeMap::new();
        for (number, order) in &self.orders {
            for line in order.lines.iter().filter(|line| line.part == part) {
                free.insert((number.clone(), line.number), line.on_order());
            }
        }
        for row in bound.0.values() {
            for (supply, (milli, _)) in &row.pegs {
                if let Some(left) = free.get_mut(supply) {
                    *left -= milli;
                }
            }
        }
        free
    }

    /// Required less issued, held and pegged.
    pub(crate) fn short(&self, key: &LineKey, bound: &Bindings) -> i64 {
        let line = self.builds.get(&key.0).and_then(|build| build.line(key.1));
        line.map_or(0, |line| (line.need() - bound.of(key).total()).max(0))
    }
}
