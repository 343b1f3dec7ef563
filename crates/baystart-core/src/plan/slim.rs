//! A book cut down to what one build's dates hang on, bays aside.

use crate::book::Book;
use crate::ids::{BuildId, OrderLineId, PartId};
use std::collections::BTreeSet;

/// The build with its lines, what is bound to them, and the drafts of their parts; settings, closures,
/// suppliers and bins whole. A plan of the build says the same on it, which a test holds; who holds
/// a bay is not in it.
pub(super) fn slim(book: &Book, build: BuildId) -> Book {
    let mut small = Book {
        settings: book.settings.clone(),
        closures: book.closures.clone(),
        suppliers: book.suppliers.clone(),
        bins: book.bins.clone(),
        supposed_days: book.supposed_days.clone(),
        ..Book::default()
    };
    small.builds.extend(book.builds.get(&build).map(|row| (build, row.clone())));
    let of_build = |id: &BuildId| *id == build;
    let lines = book.lines.iter().filter(|(_, line)| of_build(&line.build));
    small.lines.extend(lines.map(|(id, line)| (*id, line.clone())));
    let stages = book.stages.iter().filter(|(_, stage)| of_build(&stage.build));
    small.stages.extend(stages.map(|(id, stage)| (*id, stage.clone())));
    let awaited = book.awaited.iter().filter(|(_, row)| of_build(&row.build));
    small.awaited.extend(awaited.map(|(id, row)| (*id, row.clone())));
    let held = book.reservations.iter().filter(|(_, row)| small.lines.contains_key(&row.line));
    small.reservations.extend(held.map(|(id, row)| (*id, row.clone())));
    let pegs = book.pegs.iter().filter(|(_, peg)| small.lines.contains_key(&peg.line));
    small.pegs.extend(pegs.map(|(key, peg)| (*key, *peg)));

    let parts: BTreeSet<PartId> = small.lines.values().map(|line| line.part).collect();
    let pegged: BTreeSet<OrderLineId> = small.pegs.values().map(|peg| peg.order_line).collect();
    let order_lines = book.order_lines.iter().filter(|(id, line)| {
        pegged.contains(id) || (line.placed_on.is_none() && parts.contains(&line.part))
    });
    small.order_lines.extend(order_lines.map(|(id, line)| (*id, line.clone())));
    let orders: BTreeSet<_> = small.order_lines.values().map(|line| line.order).collect();
    let orders = book.orders.iter().filter(|(id, _)| orders.contains(id));
    small.orders.extend(orders.map(|(id, order)| (*id, order.clone())));
    let rows = book.parts.iter().filter(|(id, _)| parts.contains(id));
    small.parts.extend(rows.map(|(id, part)| (*id, part.clone())));
    let offers = book.offers.iter().filter(|(_, offer)| parts.contains(&offer.part));
    small.offers.extend(offers.map(|(id, offer)| (*id, offer.clone())));
    small
}
