//! Suppliers, parts, kits, offers, bins and closed days.

use super::sheet::{Cell, Sheet, Unwritable, flag, maybe};
use crate::import::Kind;
use baystart_core::book::Book;
use baystart_core::book::model::{Made, Part, StockPolicy};
use baystart_core::ids::{PartId, SupplierId};

/// A part's number as it is written.
pub(super) fn part(book: &Book, id: PartId) -> String {
    book.part_number(id).to_owned()
}

/// A supplier's code as it is written.
pub(super) fn supplier(book: &Book, id: SupplierId) -> String {
    book.suppliers.get(&id).map_or_else(String::new, |row| row.code.written().to_owned())
}

/// How something is made: the three columns that say it.
pub(super) fn made(book: &Book, made: Made) -> [Cell; 3] {
    let (days, firm, quoted) = match made {
        Made::Listed => (None, None, None),
        Made::InShop { working_days } => (Some(working_days), None, None),
        Made::AtFinisher { supplier, quoted_days } => (None, Some(supplier), quoted_days),
    };
    [
        ("made_in_shop_days", maybe(days)),
        ("finished_by", firm.map_or_else(String::new, |firm| supplier(book, firm))),
        ("finisher_days", maybe(quoted)),
    ]
}

fn stocked(policy: &StockPolicy) -> [Cell; 3] {
    let service = f64::from(policy.service_permille) / 1000.0;
    [
        ("stocked_service", service.to_string()),
        ("stocked_cover_days", policy.cover_days.to_string()),
        ("stocked_least", policy.least.to_string()),
    ]
}

pub(super) fn suppliers(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::Suppliers)?;
    let mut rows: Vec<_> = book.suppliers.values().collect();
    rows.sort_by_key(|row| row.code.normal());
    for row in rows {
        sheet.row(&[("code", row.code.written().to_owned()), ("name", row.name.clone())])?;
    }
    Ok(sheet)
}

fn sorted_parts(book: &Book) -> Vec<&Part> {
    let mut rows: Vec<_> = book.parts.values().collect();
    rows.sort_by_key(|row| row.number.normal());
    rows
}

pub(super) fn parts(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::Parts)?;
    for row in sorted_parts(book) {
        let companions: Vec<String> = row.companions.iter().map(|id| part(book, *id)).collect();
        let mut cells = vec![
            ("part", row.number.written().to_owned()),
            ("description", row.description.clone()),
            ("unit", row.unit.code().to_owned()),
            ("consumable", flag(row.consumable)),
            ("safety_related", flag(row.safety_related)),
            ("lot_tracked", flag(row.lot_tracked)),
            ("gtin", row.gtin.clone()),
            ("handling_note", row.handling_note.clone()),
            ("family", row.family.clone()),
            ("finish", row.finish.clone()),
            ("made_to_order", flag(row.made_to_order)),
            ("superseded_by", row.superseded_by.map_or_else(String::new, |id| part(book, id))),
            ("companions", companions.join("|")),
        ];
        cells.extend(made(book, row.made));
        cells.extend(row.stocked.as_ref().map(stocked).into_iter().flatten());
        sheet.row(&cells)?;
    }
    Ok(sheet)
}

pub(super) fn kits(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::Kits)?;
    for row in sorted_parts(book) {
        for (component, quantity) in &row.components {
            sheet.row(&[
                ("kit", row.number.written().to_owned()),
                ("component", part(book, *component)),
                ("quantity", quantity.to_string()),
            ])?;
        }
    }
    Ok(sheet)
}

pub(super) fn offers(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::Offers)?;
    let mut rows: Vec<_> = book
        .offers
        .values()
        .map(|row| ((supplier(book, row.supplier), part(book, row.part)), row))
        .collect();
    rows.sort_by(|(a, _), (b, _)| a.cmp(b));
    for ((supplier, part), row) in rows {
        sheet.row(&[
            ("supplier", supplier),
            ("part", part),
            ("item_number", row.item_number.clone()),
            ("price", maybe(row.price.map(|price| price.to_decimal()))),
            ("currency", maybe(row.price.map(|price| price.currency.code()))),
            ("pack_size", maybe(row.pack_size)),
            ("minimum_quantity", maybe(row.minimum_quantity)),
            ("quoted_lead_time_days", maybe(row.quoted_days)),
            ("preferred", flag(row.preferred)),
        ])?;
    }
    Ok(sheet)
}

pub(super) fn bins(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::Bins)?;
    let mut rows: Vec<_> = book.bins.values().collect();
    rows.sort_by_key(|row| row.code.normal());
    for row in rows {
        let code = row.code.written().to_owned();
        sheet.row(&[("bin", code), ("description", row.description.clone())])?;
    }
    Ok(sheet)
}

pub(super) fn closed_days(book: &Book) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::ClosedDays)?;
    let mut rows: Vec<_> = book
        .closures
        .iter()
        .map(|row| (row.supplier.map_or_else(String::new, |id| supplier(book, id)), row))
        .collect();
    rows.sort_by_key(|(supplier, row)| (supplier.clone(), row.first_day, row.last_day));
    for (supplier, row) in rows {
        sheet.row(&[
            ("first_day", row.first_day.to_string()),
            ("last_day", row.last_day.to_string()),
            ("name", row.name.clone()),
            ("supplier", supplier),
        ])?;
    }
    Ok(sheet)
}
