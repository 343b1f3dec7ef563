//! What of a build is another than it was.

use crate::book::Book;
use crate::book::model::{Line, Peg};
use crate::ids::{BuildId, LineId, PartId};
use std::collections::BTreeSet;

/// What of a build is another than it was.
pub(super) struct Changes {
    /// Parts of which it holds another quantity, or that it has on other orders.
    pub(super) held: Vec<PartId>,
    /// Parts of lines that it did not have, or of which it needs more.
    pub(super) added: Vec<PartId>,
    /// Parts of lines that it has no more, or of which it needs less.
    pub(super) removed: Vec<PartId>,
}

impl Changes {
    pub(super) fn of(now: &Book, then: &Book, build: BuildId) -> Self {
        let (mut held, mut added) = (BTreeSet::new(), BTreeSet::new());
        let mut removed = BTreeSet::new();
        for line in now.lines_of(build) {
            let Some(was) = then.lines.get(&line.id) else {
                added.insert(line.part);
                continue;
            };
            let here = |book: &Book, line: &Line| line.issued + book.held_for(line.id);
            let pegged = |book: &Book| book.pegs_of(line.id).copied().collect::<Vec<Peg>>();
            let held_as = (here(now, line), pegged(now), &line.making);
            if held_as != (here(then, was), pegged(then), &was.making) {
                held.insert(line.part);
            }
            if line.required > was.required || line.part != was.part {
                added.insert(line.part);
            }
            if line.required < was.required || line.part != was.part {
                removed.insert(was.part);
            }
        }
        let gone = then.lines_of(build).into_iter().filter(|was| now.lines.get(&was.id).is_none());
        removed.extend(gone.map(|was| was.part));
        let listed = |parts: BTreeSet<PartId>| parts.into_iter().collect();
        Self { held: listed(held), added: listed(added), removed: listed(removed) }
    }
}

/// Gives the build's lines that are the same what they held then, and the orders on which they waited as
/// they stood.
pub(super) fn held_as(book: &mut Book, then: &Book, build: BuildId) {
    let same = |line: &&Line| {
        let was = then.lines.get(&line.id);
        was.is_some_and(|was| (was.part, was.required) == (line.part, line.required))
    };
    let lines = book.lines_of(build).into_iter().filter(same);
    let lines: BTreeSet<LineId> = lines.map(|line| line.id).collect();
    book.reservations.retain(|_, row| !lines.contains(&row.line));
    book.pegs.retain(|(line, _), _| !lines.contains(line));
    for id in &lines {
        let Some(was) = then.lines.get(id) else { continue };
        for row in then.reservations_of(*id) {
            book.reservations.insert(row.id, row.clone());
        }
        for peg in then.pegs_of(*id) {
            book.pegs.insert((peg.line, peg.order_line), *peg);
            let Some(supply) = then.order_lines.get(&peg.order_line) else { continue };
            book.order_lines.insert(supply.id, supply.clone());
            if let Some(order) = then.orders.get(&supply.order) {
                book.orders.insert(order.id, order.clone());
            }
        }
        if let Some(mut line) = book.lines.get_mut(id) {
            line.issued = was.issued;
            line.making.clone_from(&was.making);
        }
    }
}
