//! Parts, kits, suppliers, offers and bins.

use super::binding_rule::bind_part;
use super::effect::{Effect, Put, ShopEffect};
use super::work::Work;
use super::{Subject, check};
use crate::book::Change;
use crate::book::model::{Bin, Made, Offer, Part, Supplier};
use crate::command::{NewMade, NewOffer, NewPart};
use crate::ids::{BinId, OfferId, PartId, SupplierId};
use crate::limits::LINES_MAX;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use crate::units::gtin_is_valid;
use std::collections::BTreeMap;

/// Longest chain of parts that replace one another.
const SUPERSESSIONS_MAX: usize = 100;
/// Longest quoted lead time in days.
const QUOTED_DAYS_MAX: u32 = 3650;

/// Most working days that an assembly takes.
const MADE_DAYS_MAX: u32 = 365;

/// What a part's fields name, found.
struct Named {
    components: Vec<(PartId, Quantity)>,
    made: Made,
    superseded_by: Option<PartId>,
    companions: Vec<PartId>,
}

fn made(work: &Work<'_, '_>, faults: &mut Faults, new: &NewPart) -> Option<Made> {
    if new.components.is_empty() && new.made != NewMade::Listed {
        let message = "a part that is made needs components";
        faults.push("part.components", Reason::FieldMissing, message);
    }
    match &new.made {
        NewMade::Listed => Some(Made::Listed),
        NewMade::InShop { working_days } => {
            if *working_days > MADE_DAYS_MAX {
                let message = format!("{working_days} days is beyond {MADE_DAYS_MAX}");
                faults.push("part.made_in_shop.working_days", Reason::ValueInvalid, message);
            }
            Some(Made::InShop { working_days: *working_days })
        }
        NewMade::AtFinisher { supplier, quoted_days } => {
            if let Some(days) = quoted_days.filter(|days| *days > QUOTED_DAYS_MAX) {
                let message = format!("{days} days is beyond {QUOTED_DAYS_MAX}");
                let field = "part.finished_outside.quoted_lead_time_days";
                faults.push(field, Reason::ValueInvalid, message);
            }
            let found = work.book.find_supplier(supplier).map(|supplier| supplier.id);
            let supplier = faults.take("part.finished_outside.supplier", found)?;
            Some(Made::AtFinisher { supplier, quoted_days: *quoted_days })
        }
    }
}

fn part_fields(work: &Work<'_, '_>, new: &NewPart) -> Result<Named, Refusal> {
    // Before the lists are looked through, each entry beside each.
    let mut lengths = Faults::new();
    check::count(&mut lengths, "part.components", new.components.len(), false);
    check::count(&mut lengths, "part.companions", new.companions.len(), false);
    lengths.check()?;
    let mut faults = Faults::new();
    check::text(&mut faults, "part.family", &new.family, false);
    check::text(&mut faults, "part.finish", &new.finish, false);
    let made = made(work, &mut faults, new);
    let find = |wanted: &Ref| work.book.find_part(wanted).map(|part| part.id);
    let superseded_by =
        new.superseded_by.as_ref().and_then(|by| faults.take("part.superseded_by", find(by)));
    let mut companions: Vec<PartId> = Vec::new();
    for (i, wanted) in new.companions.iter().enumerate() {
        let field = nth("part.companions", i);
        let Some(part) = faults.take(field.clone(), find(wanted)) else { continue };
        if companions.contains(&part) {
            let message = format!("part {wanted} stands in the list twice");
            faults.push(field, Reason::DuplicateLine, message);
        }
        companions.push(part);
    }
    check::text(&mut faults, "part.description", &new.description, true);
    check::text(&mut faults, "part.handling_note", &new.handling_note, false);
    stocked(&mut faults, new);
    if !new.gtin.is_empty() && !gtin_is_valid(&new.gtin) {
        let message = format!("\"{}\" is no GTIN with a valid GS1 check digit", new.gtin);
        faults.push("part.gtin", Reason::ValueInvalid, message);
    }
    let mut components: Vec<(PartId, Quantity)> = Vec::new();
    for (i, (wanted, quantity)) in new.components.iter().enumerate() {
        check::positive(&mut faults, nth("part.components", i).then("quantity"), *quantity);
        let field = nth("part.components", i).then("part");
        let found = work.book.find_part(wanted).map(|part| part.id);
        let Some(part) = faults.take(field.clone(), found) else { continue };
        if components.iter().any(|(known, _)| *known == part) {
            let message = format!("part {wanted} stands in the list twice");
            faults.push(field, Reason::DuplicateLine, message);
        }
        components.push((part, *quantity));
    }
    let made = faults.whole(made)?;
    Ok(Named { components, made, superseded_by, companions })
}

fn stocked(faults: &mut Faults, new: &NewPart) {
    let Some(policy) = new.stocked else { return };
    if !new.components.is_empty() {
        let message = "what is made of components is not bought; keep its components in stock";
        faults.push("part.stocked", Reason::ValueInvalid, message);
    }
    if !(500..=999).contains(&policy.service_permille) {
        let message = format!(
            "{} of 1000; a service level lies between 500 and 999 thousandths",
            policy.service_permille
        );
        faults.push("part.stocked.service", Reason::ValueInvalid, message);
    }
    if !(1..=365).contains(&policy.cover_days) {
        let message = format!("{} working days; from 1 to 365", policy.cover_days);
        faults.push("part.stocked.cover_days", Reason::ValueInvalid, message);
    }
    if policy.least.is_negative() {
        let message = format!("{} is below 0", policy.least);
        faults.push("part.stocked.least", Reason::QuantityInvalid, message);
    }
}

/// Refuses a part that replaces or calls for itself, over any number of steps where it is replaced.
fn not_itself(
    work: &Work<'_, '_>,
    id: PartId,
    new: &NewPart,
    named: &Named,
) -> Result<(), Refusal> {
    let mut faults = Faults::new();
    if named.companions.contains(&id) {
        let message = format!("part {} would call for itself", new.number);
        faults.push("part.companions", Reason::ValueInvalid, message);
    }
    let mut next = named.superseded_by;
    let mut steps = 0;
    while let Some(part) = next {
        if part == id || steps > SUPERSESSIONS_MAX {
            let message = format!("part {} would be replaced by itself", new.number);
            faults.push("part.superseded_by", Reason::ValueInvalid, message);
            break;
        }
        steps += 1;
        next = work.book.parts.get(&part).and_then(|part| part.superseded_by);
    }
    faults.check()
}

/// The path of part numbers by which a kit would come to contain itself.
///
/// # Errors
/// So many parts stand below it that no build could take it.
fn cycle(
    work: &Work<'_, '_>,
    kit: PartId,
    components: &[(PartId, Quantity)],
) -> Result<Option<String>, Refusal> {
    let mut stack: Vec<(PartId, PartId)> =
        components.iter().map(|(part, _)| (*part, kit)).collect();
    // By which list each part was come to first.
    let mut above: BTreeMap<PartId, PartId> = BTreeMap::new();
    while let Some((part, list)) = stack.pop() {
        if part == kit {
            let mut path = vec![kit];
            let mut next = list;
            while next != kit {
                path.push(next);
                let Some(list) = above.get(&next) else { break };
                next = *list;
            }
            path.push(kit);
            let names: Vec<_> = path.iter().rev().map(|id| work.book.part_number(*id)).collect();
            return Ok(Some(names.join(" > ")));
        }
        if above.contains_key(&part) {
            continue;
        }
        above.insert(part, list);
        let row = work.book.parts.get(&part);
        let below = row.into_iter().flat_map(|row| &row.components);
        stack.extend(below.map(|(next, _)| (*next, part)));
        if above.len() > LINES_MAX {
            let number = work.book.part_number(kit);
            let message = format!("kit {number} has more than {LINES_MAX} parts below it");
            return Err(Refusal::new(Reason::KitTooDeep, message));
        }
    }
    Ok(None)
}

fn new_row(id: PartId, new: &NewPart, named: Named, version: i64) -> Part {
    Part {
        id,
        number: new.number.clone(),
        description: new.description.trim().to_owned(),
        unit: new.unit,
        consumable: new.consumable,
        safety_related: new.safety_related,
        lot_tracked: new.lot_tracked,
        components: named.components,
        made: named.made,
        family: new.family.trim().to_owned(),
        finish: new.finish.trim().to_owned(),
        made_to_order: new.made_to_order,
        superseded_by: named.superseded_by,
        companions: named.companions,
        stocked: new.stocked,
        gtin: new.gtin.clone(),
        handling_note: new.handling_note.trim().to_owned(),
        version,
    }
}

pub(super) fn create_part(work: &mut Work<'_, '_>, new: &NewPart) -> Result<Subject, Refusal> {
    let own = Ref::Number(new.number.clone());
    if let Ok(old) = work.book.find_part(&own) {
        let message = format!("part {} exists already", old.number);
        return Err(Refusal::new(Reason::PartExists, message));
    }
    if new.components.iter().any(|(component, _)| *component == own) {
        let message = format!("kit {0} would contain itself: {0} > {0}", new.number);
        return Err(Refusal::new(Reason::KitCycle, message));
    }
    let named = part_fields(work, new)?;
    let id = PartId(work.fresh());
    work.change(Change::Part(new_row(id, new, named, 1)));
    work.effect(Effect::Shop(ShopEffect::Part(id, Put::Added)));
    Ok(Subject::Part(id))
}

pub(super) fn update_part(
    work: &mut Work<'_, '_>,
    target: &Ref,
    new: &NewPart,
    etag: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let found = faults.take("part", work.book.find_part(target).cloned());
    let old = faults.whole(found)?;
    check::same_etag(old.version, etag, &format!("part {}", old.number))?;
    if let Ok(other) = work.book.find_part(&Ref::Number(new.number.clone()))
        && other.id != old.id
    {
        let message = format!("part {} exists already", other.number);
        return Err(Refusal::new(Reason::PartExists, message));
    }
    let named = part_fields(work, new)?;
    not_itself(work, old.id, new, &named)?;
    if let Some(path) = cycle(work, old.id, &named.components)? {
        let message = format!("kit {} would contain itself: {path}", old.number);
        return Err(Refusal::new(Reason::KitCycle, message));
    }
    let has_stock = work.book.stock_of(old.id).next().is_some();
    let has_lines = work.book.lines_for_part(old.id).next().is_some()
        || work.book.order_lines_for_part(old.id).next().is_some();
    let fixed = has_stock || has_lines;
    let becomes_kit = !old.is_kit() && !new.components.is_empty() && named.made == Made::Listed;
    if fixed && (old.unit != new.unit || old.lot_tracked != new.lot_tracked || becomes_kit) {
        let message = format!(
            "part {} has stock or lines: its unit, lot tracking and kind cannot change",
            old.number
        );
        return Err(Refusal::new(Reason::UnitFixed, message));
    }
    work.change(Change::Part(new_row(old.id, new, named, old.version + 1)));
    work.effect(Effect::Shop(ShopEffect::Part(old.id, Put::Changed)));
    if old.consumable && !new.consumable {
        bind_part(work, old.id);
    }
    Ok(Subject::Part(old.id))
}

pub(super) fn create_supplier(
    work: &mut Work<'_, '_>,
    code: &Number,
    name: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::text(&mut faults, "supplier.name", name, true);
    faults.check()?;
    if let Ok(old) = work.book.find_supplier(&Ref::Number(code.clone())) {
        let message = format!("supplier {} exists already", old.code);
        return Err(Refusal::new(Reason::SupplierExists, message));
    }
    let id = SupplierId(work.fresh());
    let name = name.trim().to_owned();
    work.change(Change::Supplier(Supplier { id, code: code.clone(), name, version: 1 }));
    work.effect(Effect::Shop(ShopEffect::Supplier(id, Put::Added)));
    Ok(Subject::Supplier(id))
}

pub(super) fn update_supplier(
    work: &mut Work<'_, '_>,
    target: &Ref,
    code: &Number,
    name: &str,
    etag: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::text(&mut faults, "supplier.name", name, true);
    let found = faults.take("supplier", work.book.find_supplier(target).cloned());
    let old = faults.whole(found)?;
    check::same_etag(old.version, etag, &format!("supplier {}", old.code))?;
    if let Ok(other) = work.book.find_supplier(&Ref::Number(code.clone()))
        && other.id != old.id
    {
        let message = format!("supplier {} exists already", other.code);
        return Err(Refusal::new(Reason::SupplierExists, message));
    }
    let name = name.trim().to_owned();
    let version = old.version + 1;
    work.change(Change::Supplier(Supplier { id: old.id, code: code.clone(), name, version }));
    work.effect(Effect::Shop(ShopEffect::Supplier(old.id, Put::Changed)));
    Ok(Subject::Supplier(old.id))
}

pub(super) fn put_offer(
    work: &mut Work<'_, '_>,
    new: &NewOffer,
    etag: Option<&str>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let supplier = work.book.find_supplier(&new.supplier).map(|s| (s.id, s.code.clone()));
    let supplier = faults.take("offer.supplier", supplier);
    let part = work.book.find_part(&new.part).map(|p| (p.id, p.number.clone()));
    let part = faults.take("offer.part", part);
    check::text(&mut faults, "offer.item_number", &new.item_number, false);
    for (field, quantity) in
        [("offer.pack_size", new.pack_size), ("offer.minimum_quantity", new.minimum_quantity)]
    {
        if let Some(quantity) = quantity {
            check::positive(&mut faults, field, quantity);
        }
    }
    if let Some(price) = new.price.filter(|price| price.ten_thousandths < 0) {
        faults.push("offer.price", Reason::MoneyInvalid, format!("{price} is below 0"));
    }
    if let Some(days) = new.quoted_days.filter(|days| *days > QUOTED_DAYS_MAX) {
        let message = format!("{days} days is beyond {QUOTED_DAYS_MAX}");
        faults.push("offer.quoted_lead_time_days", Reason::ValueInvalid, message);
    }
    let ((supplier, code), (part, number)) = faults.whole((supplier, part))?;
    let old = work.book.offer_of(supplier, part).cloned();
    let what = format!("the offer of {code} for part {number}");
    match (&old, etag) {
        (Some(_), None) => {
            return Err(Refusal::new(Reason::OfferExists, format!("{what} exists already")));
        }
        (Some(old), Some(etag)) => check::same_etag(old.version, etag, &what)?,
        (None, Some(etag)) => check::same_etag(0, etag, &what)?,
        (None, None) => {}
    }
    let id = old.as_ref().map_or_else(|| OfferId(work.fresh()), |old| old.id);
    work.change(Change::Offer(Offer {
        id,
        supplier,
        part,
        item_number: new.item_number.trim().to_owned(),
        price: new.price,
        pack_size: new.pack_size,
        minimum_quantity: new.minimum_quantity,
        quoted_days: new.quoted_days,
        preferred: new.preferred,
        version: old.as_ref().map_or(0, |old| old.version) + 1,
    }));
    let put = if old.is_some() { Put::Changed } else { Put::Added };
    work.effect(Effect::Shop(ShopEffect::Offer(id, put)));
    Ok(Subject::Offer(id))
}

pub(super) fn create_bin(
    work: &mut Work<'_, '_>,
    code: &Number,
    description: &str,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::text(&mut faults, "bin.description", description, false);
    faults.check()?;
    if let Ok(old) = work.book.find_bin(&Ref::Number(code.clone())) {
        return Err(Refusal::new(Reason::BinExists, format!("bin {} exists already", old.code)));
    }
    let id = BinId(work.fresh());
    let description = description.trim().to_owned();
    work.change(Change::Bin(Bin { id, code: code.clone(), description }));
    work.effect(Effect::Shop(ShopEffect::BinAdded(id)));
    Ok(Subject::Bin(id))
}
