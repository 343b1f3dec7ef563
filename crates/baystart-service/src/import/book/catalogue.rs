//! Suppliers, parts, kits, offers, bins and closed days: new ones are added,
//! known ones changed where they differ.

use super::super::columns::Kind;
use super::super::{Cells, Row, rows};
use super::{Outcome, Run, parts};
use baystart_core::book::model::{Made, Offer, Part};
use baystart_core::command::{Command, NewMade, NewOffer, NewPart};
use baystart_core::number::Number;
use baystart_core::refs::Ref;
use baystart_core::refusal::Refusal;
use std::collections::BTreeMap;

pub(super) fn number(number: &Number) -> Ref {
    Ref::Number(number.clone())
}

/// Counts the row, or reports why it was refused.
pub(super) fn settle(
    run: &mut Run<'_, '_, '_>,
    (kind, cells, key): (Kind, &Cells, &'static str),
    result: Result<Outcome, Refusal>,
) {
    match result {
        Ok(outcome) => run.done(cells, outcome),
        Err(refusal) => run.refused(kind, &refusal, |_| (kind, cells.clone(), key)),
    }
}

pub(super) fn suppliers(run: &mut Run<'_, '_, '_>) {
    for Row { cells, value } in &run.sheets.suppliers {
        let (code, name) = (value.code.clone(), value.name.clone());
        let old = run.book.find_supplier(&number(&code)).ok().cloned();
        let result = match old {
            None => run.decide(&Command::CreateSupplier { code, name }).map(|()| Outcome::Created),
            Some(old) if old.name == name && old.code.written() == code.written() => {
                Ok(Outcome::Unchanged)
            }
            Some(old) => {
                let etag = format!("v{}", old.version);
                let target = Ref::Uid(old.id.0);
                run.decide(&Command::UpdateSupplier { target, code, name, etag })
                    .map(|()| Outcome::Changed)
            }
        };
        settle(run, (Kind::Suppliers, cells, "code"), result);
    }
}

/// The part as it is, to be sent back with a change.
pub(super) fn as_new(part: &Part) -> NewPart {
    let made = match part.made {
        Made::Listed => NewMade::Listed,
        Made::InShop { working_days } => NewMade::InShop { working_days },
        Made::AtFinisher { supplier, quoted_days } => {
            NewMade::AtFinisher { supplier: Ref::Uid(supplier.0), quoted_days }
        }
    };
    NewPart {
        number: part.number.clone(),
        description: part.description.clone(),
        unit: part.unit,
        consumable: part.consumable,
        safety_related: part.safety_related,
        lot_tracked: part.lot_tracked,
        components: part.components.iter().map(|(id, q)| (Ref::Uid(id.0), *q)).collect(),
        made,
        family: part.family.clone(),
        finish: part.finish.clone(),
        made_to_order: part.made_to_order,
        superseded_by: part.superseded_by.map(|part| Ref::Uid(part.0)),
        companions: part.companions.iter().map(|part| Ref::Uid(part.0)).collect(),
        stocked: part.stocked,
        gtin: part.gtin.clone(),
        handling_note: part.handling_note.clone(),
    }
}

pub(super) fn update_part(
    run: &mut Run<'_, '_, '_>,
    old: &Part,
    part: NewPart,
) -> Result<Outcome, Refusal> {
    let etag = format!("v{}", old.version);
    let target = Ref::Uid(old.id.0);
    run.decide(&Command::UpdatePart { target, part, etag }).map(|()| Outcome::Changed)
}

pub(super) fn kits(run: &mut Run<'_, '_, '_>) {
    let mut kits: BTreeMap<String, Vec<&Row<rows::Kit>>> = BTreeMap::new();
    for row in &run.sheets.kits {
        kits.entry(row.value.kit.normal().to_owned()).or_default().push(row);
    }
    let sheet = run.sheets.parts.iter();
    let wanted: BTreeMap<_, _> = sheet.map(|row| (row.value.number.normal(), row)).collect();
    for rows in kits.into_values() {
        let Some(first) = rows.first() else { continue };
        let result = match run.book.find_part(&number(&first.value.kit)).cloned() {
            Err((reason, message)) => {
                let mut faults = baystart_core::refusal::Faults::new();
                faults.push("kit", reason, message);
                faults.check().map(|()| Outcome::Unchanged)
            }
            Ok(old) => {
                let mut part = as_new(&old);
                let mut components = Vec::new();
                for row in &rows {
                    let wanted = number(&row.value.component);
                    let known = run.book.find_part(&wanted).map(|part| Ref::Uid(part.id.0));
                    components.push((known.unwrap_or(wanted), row.value.quantity));
                }
                let was_kit = !old.components.is_empty();
                if components == part.components {
                    Ok(Outcome::Unchanged)
                } else {
                    part.components = components;
                    // With its list, so that a part which has stock becomes no kit between.
                    if let Some(row) = wanted.get(first.value.kit.normal()) {
                        part.made = parts::made(run, &row.value.made);
                    }
                    update_part(run, &old, part).map(|_| match was_kit {
                        true => Outcome::Changed,
                        false => Outcome::Created,
                    })
                }
            }
        };
        match result {
            Ok(outcome) => {
                for row in rows {
                    run.done(&row.cells, outcome);
                }
            }
            Err(refusal) => run.refused(Kind::Kits, &refusal, |field| {
                let row = field.row_of("components").and_then(|i| rows.get(i)).unwrap_or(first);
                (Kind::Kits, row.cells.clone(), "kit")
            }),
        }
    }
}

pub(super) fn offers(run: &mut Run<'_, '_, '_>) {
    for Row { cells, value } in &run.sheets.offers {
        let new = NewOffer {
            supplier: number(&value.supplier),
            part: number(&value.part),
            item_number: value.item_number.clone(),
            price: value.price.map(|price| price.money(run.currency)),
            pack_size: value.pack_size,
            minimum_quantity: value.minimum_quantity,
            quoted_days: value.quoted_days,
            preferred: value.preferred,
        };
        let supplier = run.book.find_supplier(&new.supplier).map(|row| row.id).ok();
        let part = run.book.find_part(&new.part).map(|row| row.id).ok();
        let old = supplier
            .zip(part)
            .and_then(|(supplier, part)| run.book.offer_of(supplier, part).cloned());
        let result = match old {
            None => {
                run.decide(&Command::PutOffer { offer: new, etag: None }).map(|()| Outcome::Created)
            }
            Some(old) if same_offer(&old, &new) => Ok(Outcome::Unchanged),
            Some(old) => {
                let etag = Some(format!("v{}", old.version));
                run.decide(&Command::PutOffer { offer: new, etag }).map(|()| Outcome::Changed)
            }
        };
        settle(run, (Kind::Offers, cells, "part"), result);
    }
}

fn same_offer(old: &Offer, new: &NewOffer) -> bool {
    old.item_number == new.item_number
        && old.price == new.price
        && old.pack_size == new.pack_size
        && old.minimum_quantity == new.minimum_quantity
        && old.quoted_days == new.quoted_days
        && old.preferred == new.preferred
}

pub(super) fn bins(run: &mut Run<'_, '_, '_>) {
    for Row { cells, value } in &run.sheets.bins {
        let (code, description) = (value.code.clone(), value.description.clone());
        match run.book.find_bin(&number(&code)).ok() {
            None => {
                let result = run.decide(&Command::CreateBin { code, description });
                settle(run, (Kind::Bins, cells, "bin"), result.map(|()| Outcome::Created));
            }
            Some(old) if description.is_empty() || old.description == description => {
                run.done(cells, Outcome::Unchanged);
            }
            Some(old) => {
                let reason = format!(
                    "bin {code} is there with another description: \"{}\"",
                    old.description
                );
                run.bad(cells.bad("description", reason));
            }
        }
    }
}

pub(super) fn closed_days(run: &mut Run<'_, '_, '_>) {
    for Row { cells, value } in &run.sheets.closed_days {
        let supplier = match &value.supplier {
            None => Some(None),
            Some(wanted) => run.book.find_supplier(wanted).ok().map(|row| Some(row.id)),
        };
        let old = supplier
            .and_then(|supplier| run.book.closure_on(supplier, value.first_day, value.last_day));
        let outcome = match old {
            Some(old) if old.name == value.name => {
                run.done(cells, Outcome::Unchanged);
                continue;
            }
            Some(_) => Outcome::Changed,
            None => Outcome::Created,
        };
        let result = run.decide(&Command::AddClosures { closures: vec![value.clone()] });
        settle(run, (Kind::ClosedDays, cells, "first_day"), result.map(|()| outcome));
    }
}
