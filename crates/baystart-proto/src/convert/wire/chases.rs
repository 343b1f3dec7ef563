//! Calls to suppliers.

use super::forecast::order_line;
use super::{date, decimal};
use crate::v1;
use baystart_core::plan::{Chase, ChasedBuild, Words};
use baystart_core::quantity::Quantity;

/// An order line that is worth a call.
#[must_use]
pub fn chase(words: &Words<'_>, row: &Chase) -> v1::Chase {
    let book = words.book();
    let build = |chased: &ChasedBuild| v1::ChasedBuild {
        build_number: book.build_number(chased.build).to_owned(),
        gating_probability: chased.gating,
        days_gained: chased.days_gained,
        endangered: chased.endangered,
        undated: chased.undated,
    };
    let (order_number, order_line_number) = order_line(book, Some(row.order_line));
    let line = book.order_lines.get(&row.order_line);
    let order = line.and_then(|line| book.orders.get(&line.order));
    let part = line.and_then(|line| book.parts.get(&line.part));
    v1::Chase {
        order_number,
        order_line_number,
        supplier_code: book.supplier_code(row.supplier).to_owned(),
        supplier_reference: order.map_or(String::new(), |order| order.supplier_reference.clone()),
        part_number: part.map_or(String::new(), |part| part.number.written().to_owned()),
        part_description: part.map_or(String::new(), |part| part.description.clone()),
        quantity: Some(decimal(line.map_or(Quantity::ZERO, |line| line.on_order()))),
        promised_on: row.promised_on.map(date),
        last_contact_on: row.last_contact_on.map(date),
        builds: row.builds.iter().map(build).collect(),
        worth: row.worth,
        reason: words.chase_reason(row),
    }
}
