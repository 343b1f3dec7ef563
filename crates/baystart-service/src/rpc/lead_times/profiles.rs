//! Profiles of suppliers and their offers, with what an order placed on the
//! as-of date would be forecast to take.

use crate::learned::Planned;
use baystart_core::book::Book;
use baystart_core::book::model::Offer;
use baystart_core::ids::{PartId, SupplierId};
use baystart_core::leadtime::history::{PastLine, median};
use baystart_core::leadtime::learn::{LearnSettings, LearnedLaws, Profile, profiles};
use baystart_core::leadtime::{OpenSupply, SupplyKeys};
use baystart_proto::convert::wire::{self, ProfileOf};
use baystart_proto::v1;
use baystart_store::Listed;
use jiff::ToSpan as _;
use std::borrow::Cow;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// Offers of one supplier that are answered at most, those with most orders.
const OFFERS_MAX: usize = 500;

/// Whose profile.
pub(super) struct Asked {
    pub planned: Planned,
    pub offers: Listed<Offer>,
    pub supplier: SupplierId,
    /// None: the whole supplier.
    pub part: Option<PartId>,
}

/// A supplier's or an offer's place in the history, and its quote.
struct KeyedQuote {
    keys: SupplyKeys,
    quoted_days: Option<u32>,
}

/// A profile of one supplier or offer; of a supplier, with those of its offers.
pub(super) fn one(asked: &Asked) -> v1::GetLeadTimeProfileResponse {
    let Asked { planned, offers, supplier, part } = asked;
    let (history, book) = (&planned.history, &planned.snapshot.book);
    let laws = laws(planned);
    let key = history.suppliers.get(supplier).copied();
    let quote_of = |part: PartId| {
        offers.rows.iter().find(|offer| offer.part == part).and_then(|offer| offer.quoted_days)
    };
    let mut response = v1::GetLeadTimeProfileResponse {
        revision: planned.snapshot.revision,
        ..v1::GetLeadTimeProfileResponse::default()
    };
    let found = match (part, key) {
        (Some(part), _) => {
            let offer = history.offers.get(&(*supplier, *part)).copied();
            let found = profiles_of(planned, |line| (Some(line.offer) == offer).then_some(()));
            let keys = SupplyKeys { supplier: key, offer, order: None };
            let last = || history.history.last_quotes().get(&offer?).copied();
            let quoted_days = quote_of(*part).or_else(last);
            let of = of_part(of_supplier(book, *supplier), &offers.labels, *part);
            (found.into_values().next(), KeyedQuote { keys, quoted_days }, of)
        }
        (None, None) => (None, unknown(offers), of_supplier(book, *supplier)),
        (None, Some(key)) => {
            let found = profiles_of(planned, |line| (line.supplier == key).then_some(()));
            let keys = SupplyKeys { supplier: Some(key), offer: None, order: None };
            let own = |line: &PastLine| (line.supplier == key).then_some(());
            let quoted_days = history.history.median_quotes(own).remove(&());
            let quoted_days = quoted_days.or(unknown(offers).quoted_days);
            response.offers = offers_of(asked, &laws, key);
            let quote = KeyedQuote { keys, quoted_days };
            (found.into_values().next(), quote, of_supplier(book, *supplier))
        }
    };
    let (profile, quote, of) = found;
    let profile = profile.unwrap_or_default();
    response.profile = Some(message(planned, &laws, &quote, of, &profile, true));
    response
}

/// One profile for each supplier that was ever ordered from, by code.
pub(super) fn all(planned: &Planned) -> v1::ListLeadTimeProfilesResponse {
    let (history, book) = (&planned.history, &planned.snapshot.book);
    let laws = laws(planned);
    let found = profiles_of(planned, |line| Some(line.supplier));
    let quotes = history.history.median_quotes(|line| Some(line.supplier));
    let mut rows = Vec::new();
    for (id, key) in &history.suppliers {
        let Some(profile) = found.get(key) else { continue };
        let keys = SupplyKeys { supplier: Some(*key), offer: None, order: None };
        let quote = KeyedQuote { keys, quoted_days: quotes.get(key).copied() };
        rows.push(message(planned, &laws, &quote, of_supplier(book, *id), profile, false));
    }
    rows.sort_by(|a, b| a.supplier_code.cmp(&b.supplier_code));
    v1::ListLeadTimeProfilesResponse { profiles: rows, revision: planned.snapshot.revision }
}

/// The offers with most orders, without their distributions.
fn offers_of(asked: &Asked, laws: &LearnedLaws, key: u32) -> Vec<v1::LeadTimeProfile> {
    let Asked { planned, offers, supplier, .. } = asked;
    let mut orders: BTreeMap<u32, usize> = BTreeMap::new();
    for line in planned.history.history.lines.iter().filter(|line| line.supplier == key) {
        *orders.entry(line.offer).or_default() += 1;
    }
    let mut most: Vec<(u32, usize)> = orders.into_iter().collect();
    most.sort_by_key(|(key, orders)| (Reverse(*orders), *key));
    most.truncate(OFFERS_MAX);
    let wanted: BTreeSet<u32> = most.into_iter().map(|(offer, _)| offer).collect();
    let found = profiles_of(planned, |line| wanted.contains(&line.offer).then_some(line.offer));
    let last_quotes = planned.history.history.last_quotes();
    let numbers: BTreeMap<u32, &str> = planned.history.offers_of(key).into_iter().collect();
    let parts: BTreeMap<&str, PartId> =
        offers.labels.parts.values().map(|part| (part.number.normal(), part.id)).collect();
    let mut rows = Vec::new();
    for (offer, profile) in &found {
        let Some(number) = numbers.get(offer) else { continue };
        let of = of_supplier(&planned.snapshot.book, *supplier);
        let part = parts.get(number).copied();
        let of = match part {
            Some(part) => of_part(of, &offers.labels, part),
            None => ProfileOf { part_number: (*number).to_owned(), ..of },
        };
        let catalogue = offers.rows.iter().find(|row| Some(row.part) == part);
        let last = last_quotes.get(offer).copied();
        let quoted_days = catalogue.and_then(|row| row.quoted_days).or(last);
        let keys = SupplyKeys { supplier: Some(key), offer: Some(*offer), order: None };
        rows.push(message(planned, laws, &KeyedQuote { keys, quoted_days }, of, profile, false));
    }
    let orders = |row: &v1::LeadTimeProfile| row.all.as_ref().map_or(0, |all| all.orders);
    rows.sort_by(|a, b| (orders(b), &a.part_number).cmp(&(orders(a), &b.part_number)));
    rows
}

fn message(
    planned: &Planned,
    laws: &LearnedLaws,
    quote: &KeyedQuote,
    of: ProfileOf,
    profile: &Profile,
    with_curve: bool,
) -> v1::LeadTimeProfile {
    let as_of = planned.as_of;
    let supply = OpenSupply {
        placed_on: as_of,
        quoted_days: quote.quoted_days,
        promise: None,
        despatched_on: None,
    };
    let horizon_days = planned.history.settings.learning.horizon_days;
    let law = laws.arrival(quote.keys, &supply, as_of, horizon_days);
    let evidence = laws.evidence(quote.keys, &supply, as_of);
    let drifts = quote.keys.supplier.is_some_and(|key| laws.drifting().contains_key(&key));
    let mut forecast =
        wire::lead_time_forecast(quote.quoted_days, law.as_ref(), &evidence, with_curve);
    if with_curve {
        // Goods come in on working days only.
        let calendar = planned.snapshot.book.calendar();
        let here_by = |days: Option<i32>| {
            let day = as_of.checked_add(i64::from(days?).days()).ok()?;
            calendar.roll_forward(day).map(wire::date)
        };
        forecast.here_by_50 = here_by(forecast.days_50);
        forecast.here_by_80 = here_by(forecast.days_80);
        forecast.here_by_95 = here_by(forecast.days_95);
    }
    v1::LeadTimeProfile {
        forecast: Some(forecast),
        drifting: drifts,
        ..wire::lead_time_profile(of, as_of, profile, with_curve)
    }
}

fn settings(planned: &Planned) -> LearnSettings {
    let settings = &planned.history.settings;
    LearnSettings::of(&settings.learning, settings.working_days)
}

/// The kept laws; of a shop without orders, those that a first order would meet.
fn laws(planned: &Planned) -> Cow<'_, LearnedLaws> {
    match &planned.learned {
        Some(learned) => Cow::Borrowed(&learned.laws),
        None => {
            let history = &planned.history.history;
            Cow::Owned(LearnedLaws::learn(history, planned.as_of, &settings(planned)))
        }
    }
}

fn profiles_of<K: Ord>(
    planned: &Planned,
    group: impl Fn(&PastLine) -> Option<K>,
) -> BTreeMap<K, Profile> {
    profiles(&planned.history.history, planned.as_of, &settings(planned), group)
}

/// A supplier that was never ordered from: the median quote of its offers.
fn unknown(offers: &Listed<Offer>) -> KeyedQuote {
    let quotes = offers.rows.iter().filter_map(|offer| offer.quoted_days).collect();
    KeyedQuote { keys: SupplyKeys::default(), quoted_days: median(quotes) }
}

fn of_supplier(book: &Book, supplier: SupplierId) -> ProfileOf {
    let row = book.suppliers.get(&supplier);
    ProfileOf {
        supplier_code: row.map(|row| row.code.written().to_owned()).unwrap_or_default(),
        supplier_name: row.map(|row| row.name.clone()).unwrap_or_default(),
        ..ProfileOf::default()
    }
}

fn of_part(of: ProfileOf, labels: &Book, part: PartId) -> ProfileOf {
    let row = labels.parts.get(&part);
    ProfileOf {
        part_number: row.map(|row| row.number.written().to_owned()).unwrap_or_default(),
        part_description: row.map(|row| row.description.clone()).unwrap_or_default(),
        ..of
    }
}
