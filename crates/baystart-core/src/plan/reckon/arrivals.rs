//! When one source arrives: the seam to the lead-time laws.

use crate::book::model::{Awaited, Line, Made, Making, Offer, OrderLine};
use crate::calendar::{Closures, days_between};
use crate::decide::open_supply;
use crate::ids::{PartId, SupplierId};
use crate::leadtime::{ArrivalLaw, OpenSupply, Promise, SupplyKeys, arrival_cdf, deciding_news};
use crate::plan::frame::view::View;
use crate::plan::ground::StandsOn;
use jiff::civil::Date;

/// An arrival, and what stands behind it.
#[derive(Debug)]
pub(in crate::plan) struct Arrival {
    pub(in crate::plan) law: ArrivalLaw,
    /// None: quotes and promises alone.
    pub(in crate::plan) evidence: Option<StandsOn>,
}

/// The arrival of an order line that is on order.
pub(in crate::plan) fn of_order_line(view: &View<'_>, line: &OrderLine) -> Option<Arrival> {
    let order = view.book.orders.get(&line.order)?;
    let supply = open_supply(line)?;
    let keys = view.learned.map(|learned| learned.keys_on_order(order, line.part));
    let arrival = arrival(view, order.supplier, keys, &supply)?;
    Some(match view.book.supposed_days.get(&line.id) {
        Some(days) => Arrival { law: arrival.law.later(*days), ..arrival },
        None => arrival,
    })
}

/// The arrival of what will be ordered from an offer on the next ordering day;
/// None where neither a quote nor the shop's history dates it.
pub(in crate::plan) fn of_offer(view: &View<'_>, offer: &Offer) -> Option<Arrival> {
    of_offer_on(view, offer, view.ordering_day()?)
}

/// The arrival of what will be ordered from an offer on a day, today at the earliest.
fn of_offer_on(view: &View<'_>, offer: &Offer, day: Date) -> Option<Arrival> {
    let supply = ordered_on(view, offer, day);
    arrival(view, offer.supplier, keys(view, offer.supplier, offer.part), &supply)
}

/// When that is alone, without what stands behind it.
pub(in crate::plan) fn law_of_offer_on(
    view: &View<'_>,
    offer: &Offer,
    day: Date,
) -> Option<ArrivalLaw> {
    let keys = keys(view, offer.supplier, offer.part);
    law(view, offer.supplier, keys, &ordered_on(view, offer, day))
}

fn ordered_on(view: &View<'_>, offer: &Offer, day: Date) -> OpenSupply {
    OpenSupply {
        placed_on: day.max(view.as_of),
        quoted_days: offer.quoted_days,
        promise: None,
        despatched_on: None,
    }
}

/// When a part that leaves to a finisher on `sent_on` is back, if nothing else is known.
pub(in crate::plan) fn of_finishing(
    view: &View<'_>,
    supplier: SupplierId,
    part: PartId,
    sent_on: Date,
    quoted_days: Option<u32>,
) -> Option<Arrival> {
    let supply = OpenSupply { placed_on: sent_on, quoted_days, promise: None, despatched_on: None };
    arrival(view, supplier, keys(view, supplier, part), &supply)
}

/// When a vehicle that leaves on `left_on` for work of `planned_days` working days is back; None
/// where nothing is known of the firm but the plan.
pub(in crate::plan) fn of_off_site(
    view: &View<'_>,
    firm: SupplierId,
    left_on: Date,
    planned_days: u32,
) -> Option<Arrival> {
    let waits = view.learned?.waits.as_ref()?;
    let keys = waits.off_site_keys(firm)?;
    let due = view.calendar.add_working_days(left_on, i32::try_from(planned_days).ok()?)?;
    let supply = OpenSupply {
        placed_on: left_on,
        quoted_days: u32::try_from(days_between(left_on, due)).ok(),
        promise: None,
        despatched_on: None,
    };
    let law = waits.laws.arrival(keys, &supply, view.as_of, view.horizon_days)?;
    let news = deciding_news(&waits.laws, &supply, view.as_of);
    let evidence = waits.laws.evidence(keys, &supply, view.as_of);
    Some(Arrival { law, evidence: Some(StandsOn { news, evidence, came: None }) })
}

/// When what is at a finisher comes back.
pub(in crate::plan) fn of_making(view: &View<'_>, line: &Line, making: &Making) -> Option<Arrival> {
    let Made::AtFinisher { supplier, quoted_days } = making.how else { return None };
    let supply = OpenSupply {
        placed_on: making.sent_on?,
        quoted_days,
        promise: making.promises.last().map(promise),
        despatched_on: None,
    };
    arrival(view, supplier, keys(view, supplier, line.part), &supply)
}

/// When a thing comes that no order brings; None where nobody gave a date or a usual time.
pub(in crate::plan) fn of_awaited(view: &View<'_>, row: &Awaited) -> Option<Arrival> {
    let supply = OpenSupply {
        placed_on: row.asked_on,
        quoted_days: row.quoted_days,
        promise: row.promises.last().map(promise),
        despatched_on: None,
    };
    if supply.promise.is_none() && supply.quoted_days.is_none() {
        return None;
    }
    let closures = Closures::none();
    let (as_of, horizon_days) = (view.as_of, view.horizon_days);
    let Some(waits) = view.learned.and_then(|learned| learned.waits.as_ref()) else {
        let law = arrival_cdf(&supply, as_of, &closures, horizon_days)?;
        return Some(Arrival { law, evidence: None });
    };
    let keys = waits.awaited_keys(row.kind, &row.source);
    let law = waits.laws.arrival(keys, &supply, as_of, horizon_days)?;
    let news = deciding_news(&waits.laws, &supply, as_of);
    let evidence = waits.laws.evidence(keys, &supply, as_of);
    Some(Arrival { law, evidence: Some(StandsOn { news, evidence, came: None }) })
}

fn promise(row: &crate::book::model::Promise) -> Promise {
    Promise { date: row.promised_on, known_on: row.known_on }
}

/// Whose evidence speaks for a part that is not on order; None: nobody's.
fn keys(view: &View<'_>, supplier: SupplierId, part: PartId) -> Option<SupplyKeys> {
    view.learned.map(|learned| learned.keys(supplier, part))
}

fn arrival(
    view: &View<'_>,
    supplier: SupplierId,
    keys: Option<SupplyKeys>,
    supply: &OpenSupply,
) -> Option<Arrival> {
    let law = law(view, supplier, keys, supply)?;
    let (Some(learned), Some(keys)) = (view.learned, keys) else {
        return Some(Arrival { law, evidence: None });
    };
    let news = deciding_news(&learned.laws, supply, view.as_of);
    let evidence = learned.laws.evidence(keys, supply, view.as_of);
    let came = learned.laws.came_so_far(keys);
    Some(Arrival { law, evidence: Some(StandsOn { news, evidence, came }) })
}

fn law(
    view: &View<'_>,
    supplier: SupplierId,
    keys: Option<SupplyKeys>,
    supply: &OpenSupply,
) -> Option<ArrivalLaw> {
    let (as_of, horizon_days) = (view.as_of, view.horizon_days);
    match view.learned.zip(keys) {
        Some((learned, keys)) => learned.laws.arrival(keys, supply, as_of, horizon_days),
        None => arrival_cdf(supply, as_of, &view.closures(supplier), horizon_days),
    }
}
