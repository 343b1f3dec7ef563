//! Parts, suppliers and offers.

use super::table::Rows;
use super::text::{counted, money, number, some_number, unit};
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The number in a part reference; nothing for one by uid.
#[must_use]
pub fn part_number(part: Option<&v1::PartRef>) -> String {
    match part.and_then(|part| part.r#ref.as_ref()) {
        Some(v1::part_ref::Ref::Number(number)) => number.clone(),
        _ => String::new(),
    }
}

fn supplier_code(supplier: Option<&v1::SupplierRef>) -> String {
    match supplier.and_then(|supplier| supplier.r#ref.as_ref()) {
        Some(v1::supplier_ref::Ref::Code(code)) => code.clone(),
        _ => String::new(),
    }
}

/// What is special about a part, in words.
fn marks(part: &v1::Part) -> String {
    let mut marks = Vec::new();
    for (holds, mark) in [
        (!part.components.is_empty(), "kit"),
        (part.consumable, "consumable"),
        (part.safety_related, "safety related"),
        (part.lot_tracked, "lot tracked"),
    ] {
        if holds {
            marks.push(mark);
        }
    }
    marks.join(", ")
}

/// Parts as a table.
#[must_use]
pub fn parts(console: Console, parts: &[v1::Part]) -> String {
    let mut rows = Rows::new(console, &["part", "description", "unit", "marks"]);
    for part in parts {
        rows.row([
            part.number.clone(),
            part.description.clone(),
            unit(&part.unit_code).to_owned(),
            marks(part),
        ]);
    }
    rows.text_or("No such parts.")
}

/// One part in full.
#[must_use]
pub fn part(console: Console, part: Option<&v1::Part>) -> String {
    let Some(part) = part else {
        return "The server told nothing of the part.".to_owned();
    };
    let mut text = format!("{}  {}\n", part.number, part.description);
    let unit = format!("{} ({})", unit(&part.unit_code), part.unit_code);
    for (name, value) in [
        ("unit", unit),
        ("marks", marks(part)),
        ("GTIN", part.gtin.clone()),
        ("handling", part.handling_note.clone()),
    ] {
        if !value.is_empty() {
            let _ = writeln!(text, "{name:<9} {value}");
        }
    }
    if !part.components.is_empty() {
        let mut rows = Rows::new(console, &["component", "#quantity"]);
        for component in &part.components {
            rows.row([part_number(component.part.as_ref()), number(component.quantity.as_ref())]);
        }
        text.push('\n');
        text.push_str(&rows.text_or(""));
    }
    text
}

/// Suppliers as a table.
#[must_use]
pub fn suppliers(console: Console, suppliers: &[v1::Supplier]) -> String {
    let mut rows = Rows::new(console, &["supplier", "name"]);
    for supplier in suppliers {
        rows.row([supplier.code.clone(), supplier.name.clone()]);
    }
    rows.text_or("No suppliers.")
}

/// Offers as a table.
#[must_use]
pub fn offers(console: Console, offers: &[v1::Offer]) -> String {
    let columns = [
        "part",
        "supplier",
        "item",
        "#price",
        "#pack",
        "#minimum",
        "#quoted lead time",
        "preferred",
    ];
    let mut rows = Rows::new(console, &columns);
    for offer in offers {
        let lead = offer.quoted_lead_time_days.map(|days| counted(days.into(), "day", "days"));
        rows.row([
            part_number(offer.part.as_ref()),
            supplier_code(offer.supplier.as_ref()),
            offer.item_number.clone(),
            money(offer.price.as_ref()),
            some_number(offer.pack_size.as_ref()),
            some_number(offer.minimum_quantity.as_ref()),
            lead.unwrap_or_else(|| "none quoted".to_owned()),
            if offer.preferred { "yes".to_owned() } else { String::new() },
        ]);
    }
    rows.text_or("No offers.")
}
