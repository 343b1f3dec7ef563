//! Available to promise: what nobody holds of a part, on the shelf and on order, by date.

use crate::book::Book;
use crate::ids::{OrderLineId, PartId};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::View;
use crate::plan::reckon::arrivals;
use crate::quantity::Quantity;
use jiff::civil::Date;

/// A quantity that nobody holds, and from when.
#[derive(Clone, Debug, PartialEq)]
pub struct Available {
    /// The order line that brings it; None: it is on the shelf.
    pub order_line: Option<OrderLineId>,
    /// In the part's unit; more than nothing.
    pub quantity: Quantity,
    /// First working day by which it is here with 50 %; None: no date.
    pub by_50: Option<Date>,
    /// With 80 %.
    pub by_80: Option<Date>,
    /// All that is free by the 80 % date of this row.
    pub in_all: Quantity,
}

/// What is free of a part at the start of `as_of`: usable stock less what is reserved, then scheduled
/// receipts less what is pegged, by their 80 % dates; what nobody dates comes last. What open builds
/// are short of has no claim on it: it is bound as soon as it can be.
#[must_use]
pub fn available_to_promise(
    book: &Book,
    learned: Option<&Learned>,
    part: PartId,
    as_of: Date,
) -> Vec<Available> {
    let view = View::new(book, learned, as_of);
    let rolled = |day: Option<Date>| {
        let index = view.axis.index_of(day?)?;
        view.axis.date(index)
    };
    let mut rows = Vec::new();
    let here = book.available_of(part);
    if here.is_positive() {
        rows.push(Available {
            order_line: None,
            quantity: here,
            by_50: Some(as_of),
            by_80: Some(as_of),
            in_all: Quantity::ZERO,
        });
    }
    for line in book.order_lines_for_part(part).filter(|line| !line.package) {
        let free = book.free_on(line);
        if !free.is_positive() {
            continue;
        }
        let law = arrivals::of_order_line(&view, line).map(|arrival| arrival.law);
        let by = |p: f64| rolled(law.as_ref().and_then(|law| law.quantile(p)));
        rows.push(Available {
            order_line: Some(line.id),
            quantity: free,
            by_50: by(0.5),
            by_80: by(0.8),
            in_all: Quantity::ZERO,
        });
    }
    let called = |row: &Available| {
        let line = book.order_lines.get(&row.order_line?)?;
        Some((book.order_number(line.order), line.number))
    };
    rows.sort_by(|a, b| {
        let late = |row: &Available| row.by_80.unwrap_or(Date::MAX);
        late(a).cmp(&late(b)).then_with(|| called(a).cmp(&called(b)))
    });
    let mut sum = Quantity::ZERO;
    for row in &mut rows {
        sum += row.quantity;
        row.in_all = sum;
    }
    rows
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::testing::{Shop, TODAY, by};
    use jiff::civil::date;

    /// 5 on the shelf, 3 of them reserved; 4 on order, none of them pegged any more; 6 on an order
    /// without a date: 2, 4 and 6 are free.
    #[test]
    fn what_nobody_holds_by_date() {
        let mut shop = Shop::new();
        shop.part("HD-1");
        shop.stock("HD-1", 2);
        shop.open("B-1", &[("HD-1", "Body", 2)]);
        shop.order("P-1", "CORRIE", &[("HD-1", 4, Some(date(2026, 9, 28)))]);
        shop.open("B-2", &[("HD-1", "Body", 1)]);
        shop.order("P-2", "STRATH", &[("HD-1", 6, None)]);
        shop.stock("HD-1", 3);
        // The shelf's three serve B-2's peg first: two stay, and the order is free again.
        let part = shop.book.find_part(&by("HD-1")).unwrap().id;
        let rows = available_to_promise(&shop.book, None, part, TODAY);
        let line = |row: &Available| row.order_line.and_then(|id| shop.book.order_lines.get(&id));
        let order =
            |row: &Available| line(row).map_or("", |line| shop.book.order_number(line.order));
        let told: Vec<_> = rows.iter().map(|row| (order(row), row.quantity, row.in_all)).collect();
        let whole = Quantity::whole;
        assert_eq!(
            told,
            [("", whole(2), whole(2)), ("P-1", whole(4), whole(6)), ("P-2", whole(6), whole(12))]
        );
        assert_eq!(rows[0].by_80, Some(TODAY));
        assert_eq!(rows[1].by_50, Some(date(2026, 9, 28)), "the promise is the median");
        assert!(rows[1].by_80 > rows[1].by_50);
        assert_eq!(rows[2].by_80, None, "nobody dates it");
    }
}
