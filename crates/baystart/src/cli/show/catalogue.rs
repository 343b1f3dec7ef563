//! Parts, suppliers and offers.

use super::table::Rows;
use super::text::{counted, money, some_number};
use crate::cli::console::Console;
use baystart_proto::v1;

/// The number in a part reference; nothing for one by uid.
#[must_use]
pub fn part_number(part: Option<&v1::PartRef>) -> String {
    match part.and_then(|part| part.r#ref.as_ref()) {
        Some(v1::part_ref::Ref::Number(number)) => number.clone(),
        _ => String::new(),
    }
}

pub(super) fn supplier_code(supplier: Option<&v1::SupplierRef>) -> String {
    match supplier.and_then(|supplier| supplier.r#ref.as_ref()) {
        Some(v1::supplier_ref::Ref::Code(code)) => code.clone(),
        _ => String::new(),
    }
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
    let mut rows = Rows::new(console, &columns).sparing(&["minimum", "pack", "item"]);
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
