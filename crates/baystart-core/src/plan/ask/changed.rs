//! Which builds' dates can differ between two books.

use crate::book::Book;
use crate::book::model::BuildState;
use crate::ids::{BuildId, LineId, OrderLineId, PartId};
use std::collections::{BTreeMap, BTreeSet};

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
    let mut found = Found::default();
    for id in different(&old.builds, &new.builds) {
        found.builds.insert(*id);
        found.in_line.insert(*id);
    }
    let lines = different(&old.lines, &new.lines);
    let stages = different(&old.stages, &new.stages);
    let awaited = different(&old.awaited, &new.awaited);
    let reservations = different(&old.reservations, &new.reservations);
    let pegs = different(&old.pegs, &new.pegs);
    // A row may have gone from one build to another.
    for book in [old, new] {
        for id in &lines {
            found.line(book, **id);
        }
        for id in &stages {
            found.builds.extend(book.stages.get(id).map(|row| row.build));
        }
        for id in &awaited {
            found.builds.extend(book.awaited.get(id).map(|row| row.build));
        }
        for id in &reservations {
            if let Some(row) = book.reservations.get(id) {
                found.line(book, row.line);
            }
        }
        for (line, _) in &pegs {
            found.line(book, *line);
        }
    }
    found.parts.extend(different(&old.stock, &new.stock).iter().map(|key| key.part));
    found.supplies(old, new);
    for id in &found.in_line {
        found.parts.extend(new.lines_of(*id).into_iter().map(|row| row.part));
    }
    let on_hold =
        |id: BuildId| new.builds.get(&id).is_some_and(|row| row.state == BuildState::OnHold);
    for line in found.parts.iter().flat_map(|part| new.lines_for_part(*part)) {
        if on_hold(line.build) {
            found.builds.insert(line.build);
        }
    }
    Some(found.builds)
}

#[derive(Default)]
struct Found {
    builds: BTreeSet<BuildId>,
    /// Builds whose place in the order of service may differ.
    in_line: BTreeSet<BuildId>,
    /// Parts of which stock, supply or need differ.
    parts: BTreeSet<PartId>,
}

impl Found {
    fn line(&mut self, book: &Book, id: LineId) {
        let Some(line) = book.lines.get(&id) else { return };
        self.builds.insert(line.build);
        self.parts.insert(line.part);
    }

    /// Order lines and their orders: the builds that are pegged to them, and for drafts all with a line
    /// of the part.
    fn supplies(&mut self, old: &Book, new: &Book) {
        let mut lines: BTreeSet<OrderLineId> =
            different(&old.order_lines, &new.order_lines).into_iter().copied().collect();
        let orders = different(&old.orders, &new.orders);
        for order in orders {
            lines.extend(new.lines_of_order(*order).into_iter().map(|line| line.id));
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

/// Keys of rows that only one of two maps has, or that differ.
fn different<'a, K: Ord, V: PartialEq>(
    old: &'a BTreeMap<K, V>,
    new: &'a BTreeMap<K, V>,
) -> Vec<&'a K> {
    let mut keys = Vec::new();
    let (mut left, mut right) = (old.iter().peekable(), new.iter().peekable());
    loop {
        match (left.peek(), right.peek()) {
            (None, None) => return keys,
            (Some((a, x)), Some((b, y))) if a == b => {
                if x != y {
                    keys.push(*a);
                }
                left.next();
                right.next();
            }
            (Some((a, _)), other) if other.is_none_or(|(b, _)| *a < *b) => {
                keys.push(*a);
                left.next();
            }
            (_, Some((b, _))) => {
                keys.push(*b);
                right.next();
            }
            (Some(_), None) => {
                left.next();
            }
        }
    }
}
