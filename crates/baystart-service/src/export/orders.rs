//! Orders of which something is still to come.

use super::Source;
use super::catalogue::{part, supplier};
use super::sheet::{Cell, Sheet, Unwritable, earlier_and_last, from_one, maybe, some};
use crate::import::Kind;
use baystart_core::book::Book;
use baystart_core::book::model::{Order, OrderLine, TakenBack};

pub(super) fn open(source: &Source<'_>) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::OpenOrders)?;
    let mut orders: Vec<_> = source.book.orders.values().collect();
    orders.sort_by_key(|order| order.number.normal());
    for order in orders {
        for row in source.order_lines.get(&order.id).into_iter().flatten() {
            if row.outstanding().is_positive() {
                sheet.row(&line(source, order, row))?;
            }
        }
    }
    Ok(sheet)
}

fn line(source: &Source<'_>, order: &Order, row: &OrderLine) -> Vec<Cell> {
    let book = source.book;
    let (earlier, last) = earlier_and_last(&row.promises);
    let taken_over = source.taken_over.contains(order.number.normal());
    let quoted = row.quoted_days.map_or_else(|| "none".to_owned(), |days| days.to_string());
    let mut cells = vec![
        ("order", order.number.written().to_owned()),
        ("line", row.number.to_string()),
        ("supplier", supplier(book, order.supplier)),
        ("part", part(book, row.part)),
        ("quantity", row.outstanding().to_string()),
        ("supplier_reference", order.supplier_reference.clone()),
        ("price", maybe(row.price.map(|price| price.to_decimal()))),
        ("currency", maybe(row.price.map(|price| price.currency.code()))),
        ("placed_on", maybe(row.placed_on)),
        ("acknowledged_on", maybe(row.acknowledged_on)),
        ("promised_on", maybe(last.map(|promise| promise.promised_on))),
        ("promise_known_on", maybe(last.map(|promise| promise.known_on))),
        ("earlier_promises", earlier),
        ("despatched_on", maybe(row.despatched_on)),
        ("package_line", from_one(row.package_line)),
        ("rejected", some(row.rejected)),
        ("quoted_lead_time_days", quoted),
        ("last_contact_on", maybe(row.last_contact_on)),
        ("taken_back", taken_back(row)),
        ("taken_over", if taken_over { "yes" } else { "no" }.to_owned()),
    ];
    cells.extend(wanted_for(source, book, row).unwrap_or_default());
    cells
}

/// `2026-10-11@2026-09-14@2026-09-16 ...`: the promised day, when it became known, when it was taken back.
fn taken_back(row: &OrderLine) -> String {
    let word = |row: &TakenBack| {
        format!("{}@{}@{}", row.promise.promised_on, row.promise.known_on, row.on)
    };
    row.taken_back.iter().map(word).collect::<Vec<_>>().join(" ")
}

/// The build line that it was ordered for.
fn wanted_for(source: &Source<'_>, book: &Book, row: &OrderLine) -> Option<Vec<Cell>> {
    let line = book.lines.get(&row.for_line?)?;
    let build = book.builds.get(&line.build).filter(|build| source.has(build.id))?;
    let stage = book.stages.get(&line.stage)?;
    Some(vec![
        ("for_build", build.number.written().to_owned()),
        ("for_stage", stage.name.written().to_owned()),
        ("for_line", line.number.to_string()),
    ])
}
