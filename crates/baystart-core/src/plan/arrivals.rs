//! When one source arrives: the seam to the lead-time laws.

use super::view::View;
use crate::book::model::{Offer, OrderLine};
use crate::decide::open_supply;
use crate::ids::{PartId, SupplierId};
use crate::leadtime::learn::Evidence;
use crate::leadtime::{ArrivalLaw, News, OpenSupply, arrival_cdf, deciding_news};

/// An arrival, and what stands behind it.
#[derive(Debug)]
pub(super) struct Arrival {
    pub(super) law: ArrivalLaw,
    /// None: quotes and promises alone.
    pub(super) evidence: Option<(News, Evidence)>,
}

/// The arrival of an order line that is on order.
pub(super) fn of_order_line(view: &View<'_>, line: &OrderLine) -> Option<Arrival> {
    let order = view.book.orders.get(&line.order)?;
    arrival(view, order.supplier, line.part, &open_supply(line)?)
}

/// The arrival of what will be ordered from an offer on the next ordering day;
/// None where neither a quote nor the shop's history dates it.
pub(super) fn of_offer(view: &View<'_>, offer: &Offer) -> Option<Arrival> {
    let supply = OpenSupply {
        placed_on: view.ordering_day()?.max(view.as_of),
        quoted_days: offer.quoted_days,
        promise: None,
        despatched_on: None,
    };
    arrival(view, offer.supplier, offer.part, &supply)
}

fn arrival(
    view: &View<'_>,
    supplier: SupplierId,
    part: PartId,
    supply: &OpenSupply,
) -> Option<Arrival> {
    let (as_of, horizon_days) = (view.as_of, view.horizon_days);
    let Some(learned) = view.learned else {
        let law = arrival_cdf(supply, as_of, &view.closures(supplier), horizon_days)?;
        return Some(Arrival { law, evidence: None });
    };
    let keys = learned.keys(supplier, part);
    let law = learned.laws.arrival(keys, supply, as_of, horizon_days)?;
    let news = deciding_news(&learned.laws, supply, as_of);
    let evidence = learned.laws.evidence(keys, supply, as_of);
    Some(Arrival { law, evidence: Some((news, evidence)) })
}
