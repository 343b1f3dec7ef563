//! A book cut down to what some builds' dates hang on, bays aside.

use crate::book::Book;
use crate::ids::{BuildId, PartId};
use std::collections::BTreeSet;

/// The builds with their lines, what is bound to them, and the drafts of their parts; settings,
/// closures and suppliers whole; beside them the lines for which those orders were placed. A plan of a build that binds says the same on it, which tests hold;
/// who holds a bay, and what a build on hold or a quote could take, is not in it.
pub(in crate::plan) fn slim(book: &Book, builds: &BTreeSet<BuildId>) -> Book {
    let mut small = Book {
        settings: book.settings.clone(),
        closures: book.closures.clone(),
        suppliers: book.suppliers.clone(),
        supposed_days: book.supposed_days.clone(),
        ..Book::default()
    };
    let rows = builds.iter().filter_map(|id| book.builds.get(id));
    small.builds.extend(rows.map(|row| (row.id, row.clone())));
    for build in builds {
        small.lines.extend(book.lines_of(*build).into_iter().map(|row| (row.id, row.clone())));
        small.stages.extend(book.stages_of(*build).into_iter().map(|row| (row.id, row.clone())));
        small.awaited.extend(book.awaited_of(*build).into_iter().map(|row| (row.id, row.clone())));
    }
    for line in small.lines.keys() {
        small.reservations.extend(book.reservations_of(*line).map(|row| (row.id, row.clone())));
        small.pegs.extend(book.pegs_of(*line).map(|peg| ((peg.line, peg.order_line), *peg)));
    }

    let parts: BTreeSet<PartId> = small.lines.values().map(|line| line.part).collect();
    let drafts = parts.iter().flat_map(|part| book.order_lines_for_part(*part));
    let drafts = drafts.filter(|line| line.placed_on.is_none());
    let pegged = small.pegs.keys().filter_map(|(_, supply)| book.order_lines.get(supply));
    small.order_lines.extend(drafts.chain(pegged).map(|line| (line.id, line.clone())));
    // An order's draws go by the line for which it was placed, whoever is pegged to it now.
    let placed_for: BTreeSet<_> = small.order_lines.values().filter_map(|l| l.for_line).collect();
    for line in placed_for.iter().filter_map(|id| book.lines.get(id)) {
        let build = book.builds.get(&line.build);
        small.builds.extend(build.map(|row| (row.id, row.clone())));
        small.lines.insert(line.id, line.clone());
    }
    let orders: BTreeSet<_> = small.order_lines.values().map(|line| line.order).collect();
    let orders = orders.iter().filter_map(|id| book.orders.get(id));
    small.orders.extend(orders.map(|order| (order.id, order.clone())));
    let offers = parts.iter().flat_map(|part| book.offers_for_part(*part));
    small.offers.extend(offers.map(|offer| (offer.id, offer.clone())));
    add_parts(book, &mut small, parts);
    small
}

/// The parts, and those that they name: components, successors, companions.
fn add_parts(book: &Book, small: &mut Book, parts: BTreeSet<PartId>) {
    let mut waiting: Vec<PartId> = parts.into_iter().collect();
    while let Some(id) = waiting.pop() {
        let Some(part) = book.parts.get(&id).filter(|_| !small.parts.contains_key(&id)) else {
            continue;
        };
        waiting.extend(part.components.iter().map(|(component, _)| *component));
        waiting.extend(part.superseded_by);
        waiting.extend(&part.companions);
        small.parts.insert(id, part.clone());
    }
}
