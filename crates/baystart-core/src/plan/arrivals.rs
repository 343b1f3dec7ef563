//! When one source arrives: the seam to the lead-time laws.

use super::view::View;
use crate::book::model::{Offer, OrderLine};
use crate::calendar::HORIZON_DAYS;
use crate::decide::open_supply;
use crate::ids::{PartId, SupplierId};
use crate::leadtime::{ArrivalLaw, OpenSupply, arrival_cdf};

/// The arrival of an order line that is on order.
pub(super) fn of_order_line(view: &View<'_>, line: &OrderLine) -> Option<ArrivalLaw> {
    let order = view.book.orders.get(&line.order)?;
    arrival(view, order.supplier, line.part, &open_supply(line)?)
}

/// The arrival of what will be ordered from an offer on the next ordering day;
/// None where neither a quote nor the shop's history dates it.
pub(super) fn of_offer(view: &View<'_>, offer: &Offer) -> Option<ArrivalLaw> {
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
) -> Option<ArrivalLaw> {
    match view.learned {
        Some(learned) => {
            let keys = learned.keys(supplier, part);
            learned.laws.arrival(keys, supply, view.as_of, HORIZON_DAYS)
        }
        None => arrival_cdf(supply, view.as_of, &view.closures(supplier), HORIZON_DAYS),
    }
}
