//! When one source arrives: the seam to the lead-time laws.

use super::view::View;
use crate::book::model::{Offer, OrderLine};
use crate::calendar::HORIZON_DAYS;
use crate::decide::open_supply;
use crate::leadtime::{ArrivalLaw, arrival_cdf, not_ordered};

/// The arrival of an order line that is on order.
pub(super) fn of_order_line(view: &View<'_>, line: &OrderLine) -> Option<ArrivalLaw> {
    let order = view.book.orders.get(&line.order)?;
    let closures = view.closures(order.supplier);
    arrival_cdf(&open_supply(line)?, view.as_of, &closures, HORIZON_DAYS)
}

/// The arrival of what will be ordered from an offer on the next ordering day.
pub(super) fn of_offer(view: &View<'_>, offer: &Offer) -> Option<ArrivalLaw> {
    let order_on = view.ordering_day()?;
    let closures = view.closures(offer.supplier);
    offer.quoted_days?;
    not_ordered(order_on, offer.quoted_days, view.as_of, &closures, HORIZON_DAYS)
}
