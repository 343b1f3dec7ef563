//! Requests of CatalogueService.

use super::{Reader, Unread, Write, scalar};
use crate::v1;
use baystart_core::book::model::StockPolicy;
use baystart_core::command::{Command, NewMade, NewOffer, NewPart};
use baystart_core::number::Number;
use baystart_core::refs::{Ref, RefKind};
use baystart_core::refusal::{FieldPath, Reason, nth};

/// Reads a new part.
///
/// # Errors
/// Every field that does not read.
pub fn create_part(request: &v1::CreatePartRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let part = part(&mut read, request.part.as_ref());
    read.write(id, || Some(Command::CreatePart { part: part? }))
}

/// Reads a part's new fields; it is found by uid where one is given, else by
/// number.
///
/// # Errors
/// Every field that does not read.
pub fn update_part(request: &v1::UpdatePartRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let part = part(&mut read, request.part.as_ref());
    let (uid, etag) =
        request.part.as_ref().map_or(("", ""), |part| (part.uid.as_str(), part.etag.as_str()));
    let number = part.as_ref().map(|part| &part.number);
    let target = target(&mut read, "part", RefKind::Part, uid, number);
    read.write(id, || {
        Some(Command::UpdatePart { target: target?, part: part?, etag: etag.to_owned() })
    })
}

fn target(
    read: &mut Reader,
    what: &'static str,
    kind: RefKind,
    uid: &str,
    number: Option<&Number>,
) -> Option<Ref> {
    if uid.is_empty() {
        return Some(read.name(what, kind, Ref::Number(number?.clone())));
    }
    let field = FieldPath::from(what).then("uid");
    match scalar::uuid(uid) {
        Some(uuid) => Some(read.name(field, kind, Ref::Uid(uuid))),
        None => {
            let message = format!("\"{}\" is no uid", scalar::shown(uid));
            read.fault(field, Reason::ValueInvalid, message);
            None
        }
    }
}

#[allow(clippy::option_option)]
fn stocked(read: &mut Reader, policy: Option<&v1::StockPolicy>) -> Option<Option<StockPolicy>> {
    let Some(policy) = policy else { return Some(None) };
    let usual = StockPolicy::default();
    let level = policy.service_level;
    let service_permille = match level {
        0.0 => Some(usual.service_permille),
        level => scalar::permille(level).or_else(|| {
            let message = format!("{level} is not between 0.5 and 0.999, in whole thousandths");
            read.fault("part.stocked.service_level", Reason::ValueInvalid, message);
            None
        }),
    };
    let cover_days = match policy.cover_days {
        0 => Some(usual.cover_days),
        days => u16::try_from(days).ok().or_else(|| {
            let message = format!("{days} working days; from 1 to 365");
            read.fault("part.stocked.cover_days", Reason::ValueInvalid, message);
            None
        }),
    };
    let least = match &policy.least {
        None => Some(usual.least),
        Some(least) => read.signed("part.stocked.least", Some(least)),
    };
    Some(Some(StockPolicy {
        service_permille: service_permille?,
        cover_days: cover_days?,
        least: least?,
    }))
}

fn part(read: &mut Reader, part: Option<&v1::Part>) -> Option<NewPart> {
    let Some(part) = part else {
        read.fault("part", Reason::FieldMissing, "is needed");
        return None;
    };
    let number = read.number("part.number", &part.number);
    let description = read.need_text("part.description", &part.description);
    let unit = read.unit("part.unit_code", &part.unit_code);
    let gtin = read.text("part.gtin", &part.gtin);
    let handling_note = read.text("part.handling_note", &part.handling_note);
    let mut components = Vec::new();
    if read.list("part.components", &part.components, false) {
        for (i, component) in part.components.iter().enumerate() {
            let at = |field: &'static str| nth("part.components", i).then(field);
            let part = read.part(at("part"), component.part.as_ref());
            let quantity = read.quantity(at("quantity"), component.quantity.as_ref());
            components.extend(part.zip(quantity));
        }
    }
    let made = made(read, part.made.as_ref());
    let stocked = stocked(read, part.stocked.as_ref());
    let family = read.text("part.family", &part.family);
    let finish = read.text("part.finish", &part.finish);
    let superseded_by = match &part.superseded_by {
        None => Some(None),
        Some(by) => read.part("part.superseded_by", Some(by)).map(Some),
    };
    let mut companions = Vec::new();
    if read.list("part.companions", &part.companions, false) {
        for (i, companion) in part.companions.iter().enumerate() {
            companions.extend(read.part(nth("part.companions", i), Some(companion)));
        }
    }
    Some(NewPart {
        number: number?,
        description: description?,
        unit: unit?,
        consumable: part.consumable,
        safety_related: part.safety_related,
        lot_tracked: part.lot_tracked,
        components,
        made: made?,
        stocked: stocked?,
        family: family?,
        finish: finish?,
        made_to_order: part.made_to_order,
        superseded_by: superseded_by?,
        companions,
        gtin: gtin?,
        handling_note: handling_note?,
    })
}

fn made(read: &mut Reader, made: Option<&v1::part::Made>) -> Option<NewMade> {
    match made {
        None => Some(NewMade::Listed),
        Some(v1::part::Made::MadeInShop(shop)) => {
            let days = read.whole("part.made_in_shop.working_days", shop.working_days);
            Some(NewMade::InShop { working_days: days? })
        }
        Some(v1::part::Made::FinishedOutside(outside)) => {
            let supplier =
                read.supplier("part.finished_outside.supplier", outside.supplier.as_ref());
            let quoted_days = match outside.quoted_lead_time_days {
                None => Some(None),
                Some(days) => {
                    read.whole("part.finished_outside.quoted_lead_time_days", days).map(Some)
                }
            };
            Some(NewMade::AtFinisher { supplier: supplier?, quoted_days: quoted_days? })
        }
    }
}

/// Reads a new supplier.
///
/// # Errors
/// Every field that does not read.
pub fn create_supplier(request: &v1::CreateSupplierRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let supplier = supplier(&mut read, request.supplier.as_ref());
    read.write(id, || {
        let (code, name) = supplier?;
        Some(Command::CreateSupplier { code, name })
    })
}

/// Reads a supplier's new fields; it is found by uid where one is given, else
/// by code.
///
/// # Errors
/// Every field that does not read.
pub fn update_supplier(request: &v1::UpdateSupplierRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let supplier = supplier(&mut read, request.supplier.as_ref());
    let (uid, etag) = request
        .supplier
        .as_ref()
        .map_or(("", ""), |supplier| (supplier.uid.as_str(), supplier.etag.as_str()));
    let code = supplier.as_ref().map(|(code, _)| code);
    let target = target(&mut read, "supplier", RefKind::Supplier, uid, code);
    read.write(id, || {
        let (code, name) = supplier?;
        Some(Command::UpdateSupplier { target: target?, code, name, etag: etag.to_owned() })
    })
}

fn supplier(read: &mut Reader, supplier: Option<&v1::Supplier>) -> Option<(Number, String)> {
    let Some(supplier) = supplier else {
        read.fault("supplier", Reason::FieldMissing, "is needed");
        return None;
    };
    let code = read.number("supplier.code", &supplier.code);
    let name = read.need_text("supplier.name", &supplier.name);
    code.zip(name)
}

/// Reads an offer; without an etag it is a new one.
///
/// # Errors
/// Every field that does not read.
pub fn put_offer(request: &v1::PutOfferRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let Some(offer) = &request.offer else {
        read.fault("offer", Reason::FieldMissing, "is needed");
        return read.write(id, || None);
    };
    let supplier = read.supplier("offer.supplier", offer.supplier.as_ref());
    let part = read.part("offer.part", offer.part.as_ref());
    let item_number = read.text("offer.item_number", &offer.item_number);
    let price = read.money("offer.price", offer.price.as_ref());
    let pack_size = read.maybe_quantity("offer.pack_size", offer.pack_size.as_ref());
    let minimum = read.maybe_quantity("offer.minimum_quantity", offer.minimum_quantity.as_ref());
    let quoted_days = match offer.quoted_lead_time_days {
        None => Some(None),
        Some(days) => read.whole("offer.quoted_lead_time_days", days).map(Some),
    };
    read.write(id, || {
        let new = NewOffer {
            supplier: supplier?,
            part: part?,
            item_number: item_number?,
            price: price?,
            pack_size: pack_size?,
            minimum_quantity: minimum?,
            quoted_days: quoted_days?,
            preferred: offer.preferred,
        };
        let etag = Some(offer.etag.clone()).filter(|etag| !etag.is_empty());
        Some(Command::PutOffer { offer: new, etag })
    })
}
