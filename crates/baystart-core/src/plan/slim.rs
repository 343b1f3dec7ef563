//! A book cut down to what some builds' dates hang on, bays aside.

use crate::book::Book;
use crate::ids::{BuildId, OrderLineId, PartId};
use std::collections::BTreeSet;

/// The builds with their lines, what is bound to them, and the drafts of their parts; settings,
/// closures and suppliers whole. A plan of a build that binds says the same on it, which tests hold;
/// who holds a bay, and what a build on hold or a quote could take, is not in it.
pub(super) fn slim(book: &Book, builds: &BTreeSet<BuildId>) -> Book {
    let mut small = Book {
        settings: book.settings.clone(),
        closures: book.closures.clone(),
        suppliers: book.suppliers.clone(),
        supposed_days: book.supposed_days.clone(),
        ..Book::default()
    };
    let rows = builds.iter().filter_map(|id| book.builds.get(id));
    small.builds.extend(rows.map(|row| (row.id, row.clone())));
    let lines = book.lines.iter().filter(|(_, line)| builds.contains(&line.build));
    small.lines.extend(lines.map(|(id, line)| (*id, line.clone())));
    let stages = book.stages.iter().filter(|(_, stage)| builds.contains(&stage.build));
    small.stages.extend(stages.map(|(id, stage)| (*id, stage.clone())));
    let awaited = book.awaited.iter().filter(|(_, row)| builds.contains(&row.build));
    small.awaited.extend(awaited.map(|(id, row)| (*id, row.clone())));
    let held = book.reservations.iter().filter(|(_, row)| small.lines.contains_key(&row.line));
    small.reservations.extend(held.map(|(id, row)| (*id, row.clone())));
    for line in small.lines.keys() {
        let first = (*line, OrderLineId(uuid::Uuid::nil()));
        let pegs = book.pegs.range(first..).take_while(|((of, _), _)| of == line);
        small.pegs.extend(pegs.map(|(key, peg)| (*key, *peg)));
    }

    let parts: BTreeSet<PartId> = small.lines.values().map(|line| line.part).collect();
    let pegged: BTreeSet<OrderLineId> = small.pegs.values().map(|peg| peg.order_line).collect();
    let order_lines = book.order_lines.iter().filter(|(id, line)| {
        (line.placed_on.is_none() && parts.contains(&line.part)) || pegged.contains(id)
    });
    small.order_lines.extend(order_lines.map(|(id, line)| (*id, line.clone())));
    let orders: BTreeSet<_> = small.order_lines.values().map(|line| line.order).collect();
    let orders = orders.iter().filter_map(|id| book.orders.get(id));
    small.orders.extend(orders.map(|order| (order.id, order.clone())));
    let offers = book.offers.iter().filter(|(_, offer)| parts.contains(&offer.part));
    small.offers.extend(offers.map(|(id, offer)| (*id, offer.clone())));
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
