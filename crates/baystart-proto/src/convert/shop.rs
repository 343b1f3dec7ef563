//! Requests of ShopService.

use super::{Reader, Unread, Write, scalar};
use crate::v1;
use baystart_core::book::model::{DayAxis, LearningSettings, Settings, StartWay, Ways};
use baystart_core::command::{Command, KeptSettings, NewClosure};
use baystart_core::refusal::{FieldPath, Reason, nth};

/// Reads new settings.
///
/// # Errors
/// Every field that does not read.
pub fn update_shop(request: &v1::UpdateShopRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let Some(shop) = &request.shop else {
        read.fault("shop", Reason::FieldMissing, "is needed");
        return read.write(id, || None);
    };
    let name = read.need_text("shop.name", &shop.name);
    let time_zone = read.take("shop.time_zone", scalar::time_zone(&shop.time_zone));
    let currency = read.take("shop.currency_code", scalar::currency(&shop.currency_code));
    let window = read.whole("shop.reserve_window_days", shop.reserve_window_days);
    let bays = read.whole("shop.bays", shop.bays);
    if !(0.0..1.0).contains(&shop.stall_tolerance) {
        let message = format!("{} is no chance from 0 to below 1", shop.stall_tolerance);
        read.fault("shop.stall_tolerance", Reason::ValueInvalid, message);
    }
    let learning = match &shop.learning {
        None => Some(None),
        Some(wire) => learning(&mut read, wire).map(Some),
    };
    let ways = match &shop.rules {
        None => Some(None),
        Some(wire) => ways(&mut read, wire).map(Some),
    };
    read.write(id, || {
        let (learning, ways) = (learning?, ways?);
        let settings = Settings {
            name: name?,
            time_zone: time_zone?,
            currency: currency?,
            working_days: week(shop.working_days.as_ref()),
            ordering_days: week(shop.ordering_days.as_ref()),
            reserve_window_days: window?,
            stall_tolerance: shop.stall_tolerance,
            bays: bays?,
            learning: learning.unwrap_or_default(),
            ways: ways.unwrap_or_default(),
            version: 0,
        };
        let keep = KeptSettings { learning: learning.is_none(), ways: ways.is_none() };
        Some(Command::UpdateSettings { settings, keep, etag: shop.etag.clone() })
    })
}

/// Notes an enum's value that was left out, or that this server does not know.
fn not_known(read: &mut Reader, field: &'static str, value: i32) {
    match value {
        0 => read.fault(field, Reason::FieldMissing, "is needed"),
        _ => read.fault(field, Reason::ValueInvalid, format!("{value} is none of its values")),
    }
}

/// Reads how the shop decides; the range of the confidence is the core's to judge.
fn ways(read: &mut Reader, wire: &v1::DecisionRules) -> Option<Ways> {
    let start = match wire.start() {
        v1::StartRule::AllHere => Some(StartWay::AllHere),
        v1::StartRule::StallTolerated => Some(StartWay::StallTolerated),
        v1::StartRule::BookedDay => Some(StartWay::BookedDay),
        v1::StartRule::Unspecified => {
            not_known(read, "shop.rules.start", wire.start);
            None
        }
    };
    let as_suggested = match wire.ordering() {
        v1::OrderingRule::AtOnce => Some(false),
        v1::OrderingRule::AsSuggested => Some(true),
        v1::OrderingRule::Unspecified => {
            not_known(read, "shop.rules.ordering", wire.ordering);
            None
        }
    };
    let (confidence, day_first) = (wire.confidence, wire.day_first_dates);
    let (start, as_suggested) = (start?, as_suggested?);
    Some(Ways { start, as_suggested, confidence, day_first, ..Ways::default() })
}

/// Reads the settings of learning; their ranges are the core's to judge.
fn learning(read: &mut Reader, wire: &v1::LearningSettings) -> Option<LearningSettings> {
    let mut whole = |field: &'static str, value| {
        read.whole(FieldPath::from("shop.learning").then(field), value)
    };
    let half_life = whole("half_life_days", wire.half_life_days);
    let drift_half_life = whole("drift_half_life_days", wire.drift_half_life_days);
    let horizon = whole("horizon_days", wire.horizon_days);
    let short = whole("short_notice_days", wire.short_notice_days);
    let medium = whole("medium_notice_days", wire.medium_notice_days);
    let stale_after = whole("stale_after_days", wire.stale_after_days);
    let day_axis = match wire.day_axis() {
        v1::DayAxis::Calendar => Some(DayAxis::Calendar),
        v1::DayAxis::Receiving => Some(DayAxis::Receiving),
        v1::DayAxis::Unspecified => {
            not_known(read, "shop.learning.day_axis", wire.day_axis);
            None
        }
    };
    Some(LearningSettings {
        half_life_days: Some(half_life?).filter(|days| *days != 0),
        drift_half_life_days: drift_half_life?,
        prior_strength: wire.prior_strength,
        tail_exponent: wire.tail_exponent,
        horizon_days: horizon?,
        correlation: wire.correlation,
        notice_days: [short?, medium?],
        stale_after_days: stale_after?,
        day_axis: day_axis?,
    })
}

fn week(pattern: Option<&v1::WeekPattern>) -> [bool; 7] {
    let Some(p) = pattern else { return [false; 7] };
    [p.monday, p.tuesday, p.wednesday, p.thursday, p.friday, p.saturday, p.sunday]
}

/// Reads closures to add.
///
/// # Errors
/// Every field that does not read.
pub fn add_closures(request: &v1::AddClosuresRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let closures = closures(&mut read, &request.closures);
    read.write(id, || Some(Command::AddClosures { closures: closures? }))
}

/// Reads closures to take away.
///
/// # Errors
/// Every field that does not read.
pub fn remove_closures(request: &v1::RemoveClosuresRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let closures = closures(&mut read, &request.closures);
    read.write(id, || Some(Command::RemoveClosures { closures: closures? }))
}

fn closures(read: &mut Reader, wire: &[v1::Closure]) -> Option<Vec<NewClosure>> {
    if !read.list("closures", wire, true) {
        return None;
    }
    let mut out = Vec::new();
    for (i, closure) in wire.iter().enumerate() {
        let at = |field: &'static str| nth("closures", i).then(field);
        let first_day = read.need_date(at("first_day"), closure.first_day.as_ref());
        let last_day = read.date(at("last_day"), closure.last_day.as_ref());
        let name = read.text(at("name"), &closure.name);
        let supplier = match &closure.supplier {
            None => Some(None),
            Some(supplier) => read.supplier(at("supplier"), Some(supplier)).map(Some),
        };
        let (Some(first_day), Some(last_day)) = (first_day, last_day) else { continue };
        let (Some(name), Some(supplier)) = (name, supplier) else { continue };
        out.push(NewClosure { supplier, first_day, last_day: last_day.unwrap_or(first_day), name });
    }
    Some(out)
}
