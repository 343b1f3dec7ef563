//! The shop, its catalogue, its bins and its tokens.

use super::{date, decimal, etag, money, role, timestamp};
use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::{
    Bin, Closure, DayAxis, LearningSettings, Made, Offer, Part, Settings, StartWay, StockPolicy,
    Supplier, Token, Ways,
};

fn part_ref(number: &str) -> v1::PartRef {
    v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) }
}

fn supplier_ref(book: &Book, id: baystart_core::ids::SupplierId) -> v1::SupplierRef {
    let code = book.suppliers.get(&id).map_or("?", |supplier| supplier.code.written());
    v1::SupplierRef { r#ref: Some(v1::supplier_ref::Ref::Code(code.to_owned())) }
}

/// A part; the book names its components.
#[must_use]
pub fn part(book: &Book, part: &Part) -> v1::Part {
    let component = |(id, quantity): &(_, _)| v1::KitComponent {
        part: Some(part_ref(book.part_number(*id))),
        quantity: Some(decimal(*quantity)),
    };
    let made = match part.made {
        Made::Listed => None,
        Made::InShop { working_days } => Some(v1::part::Made::MadeInShop(v1::MadeInShop {
            working_days: i32::try_from(working_days).unwrap_or(i32::MAX),
        })),
        Made::AtFinisher { supplier, quoted_days } => {
            Some(v1::part::Made::FinishedOutside(v1::FinishedOutside {
                supplier: Some(supplier_ref(book, supplier)),
                quoted_lead_time_days: quoted_days.map(|d| i32::try_from(d).unwrap_or(i32::MAX)),
            }))
        }
    };
    let named = |id| part_ref(book.part_number(id));
    v1::Part {
        made,
        stocked: part.stocked.as_ref().map(stocked),
        family: part.family.clone(),
        finish: part.finish.clone(),
        made_to_order: part.made_to_order,
        superseded_by: part.superseded_by.map(named),
        companions: part.companions.iter().map(|id| named(*id)).collect(),
        uid: part.id.to_string(),
        number: part.number.written().to_owned(),
        description: part.description.clone(),
        unit_code: part.unit.code().to_owned(),
        consumable: part.consumable,
        safety_related: part.safety_related,
        lot_tracked: part.lot_tracked,
        components: part.components.iter().map(component).collect(),
        gtin: part.gtin.clone(),
        handling_note: part.handling_note.clone(),
        etag: etag(part.version),
    }
}

fn stocked(policy: &StockPolicy) -> v1::StockPolicy {
    v1::StockPolicy {
        service_level: f64::from(policy.service_permille) / 1000.0,
        cover_days: policy.cover_days.into(),
        least: Some(decimal(policy.least)),
    }
}

/// A supplier.
#[must_use]
pub fn supplier(supplier: &Supplier) -> v1::Supplier {
    v1::Supplier {
        uid: supplier.id.to_string(),
        code: supplier.code.written().to_owned(),
        name: supplier.name.clone(),
        etag: etag(supplier.version),
    }
}

/// An offer; the book names its supplier and part.
#[must_use]
pub fn offer(book: &Book, offer: &Offer) -> v1::Offer {
    v1::Offer {
        uid: offer.id.to_string(),
        supplier: Some(supplier_ref(book, offer.supplier)),
        part: Some(part_ref(book.part_number(offer.part))),
        item_number: offer.item_number.clone(),
        price: offer.price.map(money),
        pack_size: offer.pack_size.map(decimal),
        minimum_quantity: offer.minimum_quantity.map(decimal),
        quoted_lead_time_days: offer
            .quoted_days
            .map(|days| i32::try_from(days).unwrap_or(i32::MAX)),
        preferred: offer.preferred,
        etag: etag(offer.version),
    }
}

/// A bin.
#[must_use]
pub fn bin(bin: &Bin) -> v1::Bin {
    v1::Bin {
        uid: bin.id.to_string(),
        code: bin.code.written().to_owned(),
        description: bin.description.clone(),
    }
}

fn week(days: [bool; 7]) -> v1::WeekPattern {
    let [monday, tuesday, wednesday, thursday, friday, saturday, sunday] = days;
    v1::WeekPattern { monday, tuesday, wednesday, thursday, friday, saturday, sunday }
}

/// The shop's settings at a revision.
#[must_use]
pub fn shop(settings: &Settings, revision: i64) -> v1::Shop {
    v1::Shop {
        name: settings.name.clone(),
        time_zone: settings.time_zone.clone(),
        currency_code: settings.currency.code().to_owned(),
        working_days: Some(week(settings.working_days)),
        ordering_days: Some(week(settings.ordering_days)),
        reserve_window_days: i32::try_from(settings.reserve_window_days).unwrap_or(i32::MAX),
        stall_tolerance: settings.stall_tolerance,
        bays: i32::try_from(settings.bays).unwrap_or(i32::MAX),
        revision,
        etag: etag(settings.version),
        learning: Some(learning(&settings.learning)),
        rules: Some(rules(settings.ways)),
    }
}

/// How a shop decides.
fn rules(ways: Ways) -> v1::DecisionRules {
    let start = match ways.start {
        StartWay::AllHere => v1::StartRule::AllHere,
        StartWay::StallTolerated => v1::StartRule::StallTolerated,
        StartWay::BookedDay => v1::StartRule::BookedDay,
    };
    let ordering = match ways.as_suggested {
        true => v1::OrderingRule::AsSuggested,
        false => v1::OrderingRule::AtOnce,
    };
    let confidence = ways.confidence;
    let day_first_dates = ways.day_first;
    v1::DecisionRules {
        start: start.into(),
        ordering: ordering.into(),
        confidence,
        day_first_dates,
    }
}

/// How a shop learns lead times.
fn learning(settings: &LearningSettings) -> v1::LearningSettings {
    let days = |days: u32| i32::try_from(days).unwrap_or(i32::MAX);
    let [short, medium] = settings.notice_days;
    let axis = match settings.day_axis {
        DayAxis::Calendar => v1::DayAxis::Calendar,
        DayAxis::Receiving => v1::DayAxis::Receiving,
    };
    v1::LearningSettings {
        half_life_days: settings.half_life_days.map_or(0, days),
        drift_half_life_days: days(settings.drift_half_life_days),
        prior_strength: settings.prior_strength,
        tail_exponent: settings.tail_exponent,
        horizon_days: days(settings.horizon_days),
        correlation: settings.correlation,
        short_notice_days: days(short),
        medium_notice_days: days(medium),
        stale_after_days: days(settings.stale_after_days),
        day_axis: axis.into(),
    }
}

/// A closure; the book names its supplier.
#[must_use]
pub fn closure(book: &Book, closure: &Closure) -> v1::Closure {
    v1::Closure {
        first_day: Some(date(closure.first_day)),
        last_day: Some(date(closure.last_day)),
        name: closure.name.clone(),
        supplier: closure.supplier.map(|id| supplier_ref(book, id)),
    }
}

/// What is known of a token, without its hash.
#[must_use]
pub fn token(token: &Token) -> v1::Token {
    v1::Token {
        uid: token.id.to_string(),
        name: token.name.clone(),
        roles: token.roles.iter().map(|r| i32::from(role(*r))).collect(),
        issued_at: Some(timestamp(token.issued_at)),
        revoked_at: token.revoked_at.map(timestamp),
    }
}
