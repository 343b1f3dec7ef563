//! The facts of an order as its supplier gets them.

use crate::book::Book;
use crate::book::model::{Order, OrderLine};
use crate::ids::OrderLineId;
use crate::money::Money;
use crate::plan::sums;
use crate::quantity::Quantity;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// One line of the document.
#[derive(Clone, Debug, PartialEq)]
pub struct DocumentLine {
    /// Line number of the order.
    pub number: i32,
    /// The supplier's own item number, or empty.
    pub item_number: String,
    /// The shop's part number.
    pub part: String,
    /// For people.
    pub description: String,
    /// Ordered and not cancelled.
    pub quantity: Quantity,
    /// Base unit, in words for people.
    pub unit: &'static str,
    /// Per base quantity.
    pub price: Option<Money>,
    /// Price times quantity.
    pub amount: Option<Money>,
    /// The day on which it is wished for.
    pub wished_on: Option<Date>,
    /// Shelf-life or dangerous-goods note, or empty.
    pub handling_note: String,
    /// Recovery points, brakes, seats and the like.
    pub safety_related: bool,
    /// The package line whose piece this is, or 0; a piece has no price of its own.
    pub package_line: i32,
}

/// An order as its supplier gets it.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderDocument {
    /// Name of the shop.
    pub shop: String,
    /// The shop's order number.
    pub number: String,
    /// Short code of the supplier.
    pub supplier_code: String,
    /// Its name.
    pub supplier_name: String,
    /// Its own reference, or empty.
    pub supplier_reference: String,
    /// The first day on which a line was placed; None: a draft.
    pub placed_on: Option<Date>,
    /// Lines that were not cancelled, a package's pieces after it.
    pub lines: Vec<DocumentLine>,
    /// Sum of the lines that have a price, by currency.
    pub sums: Vec<Money>,
    /// Lines without a price, pieces of packages not counted.
    pub unpriced: u32,
}

/// The day on which each line is wished for, see [`crate::plan::wished`].
pub type OrderWish = BTreeMap<OrderLineId, Date>;

/// The document of an order.
#[must_use]
pub fn order_document(book: &Book, order: &Order, wishes: &OrderWish) -> OrderDocument {
    let supplier = book.suppliers.get(&order.supplier);
    let mut rows = book.lines_of_order(order.id);
    rows.sort_by_key(|line| match line.package_line {
        0 => (line.number, 0),
        package => (package, line.number),
    });
    let mut lines = Vec::new();
    for row in &rows {
        let quantity = row.ordered - row.cancelled_by_us - row.cancelled_by_supplier;
        if quantity.is_positive() {
            lines.push(line(book, order, row, quantity, wishes.get(&row.id).copied()));
        }
    }
    OrderDocument {
        shop: book.settings.as_ref().map_or(String::new(), |settings| settings.name.clone()),
        number: order.number.written().to_owned(),
        supplier_code: supplier.map_or(String::new(), |row| row.code.written().to_owned()),
        supplier_name: supplier.map_or(String::new(), |row| row.name.clone()),
        supplier_reference: order.supplier_reference.clone(),
        placed_on: rows.iter().filter_map(|row| row.placed_on).min(),
        sums: sums(lines.iter().filter_map(|line| line.amount)),
        unpriced: lines
            .iter()
            .filter(|line| line.amount.is_none() && line.package_line == 0)
            .fold(0, |n, _| n + 1),
        lines,
    }
}

fn line(
    book: &Book,
    order: &Order,
    row: &OrderLine,
    quantity: Quantity,
    wished_on: Option<Date>,
) -> DocumentLine {
    let part = book.parts.get(&row.part);
    let offer = book.offer_of(order.supplier, row.part);
    DocumentLine {
        number: row.number,
        item_number: offer.map(|offer| offer.item_number.clone()).unwrap_or_default(),
        part: book.part_number(row.part).to_owned(),
        description: part.map(|part| part.description.clone()).unwrap_or_default(),
        quantity,
        unit: part.map_or("", |part| part.unit.short_name()),
        price: row.price,
        amount: row.price.and_then(|price| price.times(quantity).ok()),
        wished_on,
        handling_note: part.map(|part| part.handling_note.clone()).unwrap_or_default(),
        safety_related: part.is_some_and(|part| part.safety_related),
        package_line: row.package_line,
    }
}
