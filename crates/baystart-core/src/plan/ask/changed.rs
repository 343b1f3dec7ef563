//! Which builds' dates can differ between two books.

use crate::book::model::BuildState;
use crate::book::{Book, differing};
use crate::ids::{BuildId, LineId, OrderLineId, PartId};
use std::collections::BTreeSet;

/// The builds whose own rows, or what is bound to them, differ; None: something differs that may touch
/// every build (settings, closures, the catalogue).
///
/// A build on hold is dated as if it went on, with what others leave: it counts as changed as soon as
/// anything of a part of its lines differs. Bays are not looked at.
pub(in crate::plan) fn changed(old: &Book, new: &Book) -> Option<BTreeSet<BuildId>> {
    let everybodys = old.settings != new.settings
        || old.closures != new.closures
        || old.supposed_days != new.supposed_days
        || old.suppliers != new.suppliers
        || old.parts != new.parts
        || old.offers != new.offers;
    if everybodys {
        return None;
    }
    let mut touched = Touched::default();
    for id in old.builds.differing(&new.builds) {
        touched.builds.insert(id);
        touched.in_line.insert(id);
    }
    let lines = old.lines.differing(&new.lines);
    let stages = old.stages.differing(&new.stages);
    let awaited = old.awaited.differing(&new.awaited);
    let reservations = old.reservations.differing(&new.reservations);
    let pegs = old.pegs.differing(&new.pegs);
    // A row may have gone from one build to another.
    for book in [old, new] {
        for id in &lines {
            touched.line(book, *id);
        }
        for id in &stages {
            touched.builds.extend(book.stages.get(id).map(|row| row.build));
        }
        for id in &awaited {
            touched.builds.extend(book.awaited.get(id).map(|row| row.build));
        }
        for id in &reservations {
            if let Some(row) = book.reservations.get(id) {
                touched.line(book, row.line);
            }
        }
        for (line, _) in &pegs {
            touched.line(book, *line);
        }
    }
    touched.parts.extend(differing(&old.stock, &new.stock).iter().map(|key| key.part));
    touched.supplies(old, new);
    for id in &touched.in_line {
        touched.parts.extend(new.lines_of(*id).into_iter().map(|row| row.part));
    }
    let on_hold =
        |id: BuildId| new.builds.get(&id).is_some_and(|row| row.state == BuildState::OnHold);
    for line in touched.parts.iter().flat_map(|part| new.lines_for_part(*part)) {
        if on_hold(line.build) {
            touched.builds.insert(line.build);
        }
    }
    Some(touched.builds)
}

#[derive(Default)]
struct Touched {
    builds: BTreeSet<BuildId>,
    /// Builds whose place in the order of service may differ.
    in_line: BTreeSet<BuildId>,
    /// Parts of which stock, supply or need differ.
    parts: BTreeSet<PartId>,
}

impl Touched {
    fn line(&mut self, book: &Book, id: LineId) {
        let Some(line) = book.lines.get(&id) else { return };
        self.builds.insert(line.build);
        self.parts.insert(line.part);
    }

    /// Order lines and their orders: the builds that are pegged to them, and for drafts all with a line
    /// of the part.
    fn supplies(&mut self, old: &Book, new: &Book) {
        let mut lines: BTreeSet<OrderLineId> =
            old.order_lines.differing(&new.order_lines).into_iter().collect();
        for order in old.orders.differing(&new.orders) {
            lines.extend(new.lines_of_order(order).into_iter().map(|line| line.id));
        }
        if lines.is_empty() {
            return;
        }
        let mut drafted: BTreeSet<PartId> = BTreeSet::new();
        for line in lines.iter().flat_map(|id| [old.order_lines.get(id), new.order_lines.get(id)]) {
            let Some(line) = line else { continue };
            self.parts.insert(line.part);
            if line.placed_on.is_none() {
                drafted.insert(line.part);
            }
        }
        for peg in lines.iter().flat_map(|supply| new.pegs_on(*supply)) {
            self.line(new, peg.line);
        }
        let rows = drafted.iter().flat_map(|part| new.lines_for_part(*part));
        self.builds.extend(rows.map(|line| line.build));
    }
}
