//! The day on which an order's lines are wished for.

use crate::book::Book;
use crate::ids::{LineId, OrderId, OrderLineId};
use crate::ordering::part_needs;
use crate::plan::frame::view::View;
use crate::plan::reckon::timing::Clock;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// For each line of an order, the earliest day on which a build that it is for needs it; lines
/// for no build, and builds without a date, have none.
#[must_use]
pub fn wished(book: &Book, order: OrderId, as_of: Date) -> BTreeMap<OrderLineId, Date> {
    let view = View::new(book, None, as_of);
    let mut clock = Clock::new(&view, book.ways().confidence);
    let mut uses: BTreeMap<OrderLineId, BTreeSet<LineId>> = BTreeMap::new();
    let own: BTreeSet<OrderLineId> =
        book.lines_of_order(order).into_iter().map(|line| line.id).collect();
    for peg in own.iter().flat_map(|line| book.pegs_on(*line)) {
        uses.entry(peg.order_line).or_default().insert(peg.line);
    }
    for piece in part_needs(book).iter().flat_map(|need| &need.pieces) {
        if let Some(draft) = piece.draft.filter(|draft| own.contains(draft)) {
            uses.entry(draft).or_default().insert(piece.line);
        }
    }
    let mut wishes = BTreeMap::new();
    for (order_line, lines) in uses {
        let mut days = Vec::new();
        for line in lines.iter().filter_map(|line| book.lines.get(line)) {
            let asked = clock.asked(line).0;
            // What goes on to a finisher is needed earlier, by how much is not known.
            days.extend(asked.filter(|(_, need, _)| need.is_direct()).and_then(|asked| asked.2));
        }
        if let Some(day) = days.into_iter().min() {
            wishes.insert(order_line, day);
        }
    }
    wishes
}
