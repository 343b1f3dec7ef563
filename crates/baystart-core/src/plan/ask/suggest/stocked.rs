//! Suggestions for parts that are kept in stock.

use super::rows::stock_row;
use super::{StandsOnUse, SuggestedLine, SuggestedStock};
use crate::book::Book;
use crate::book::model::Offer;
use crate::calendar::{add_days, next_ordering_day};
use crate::ids::SupplierId;
use crate::leadtime::on_axis;
use crate::ordering::{
    PartNeed, StockNeed, StockPoint, StockRule, daily_use, order_quantity, stock_need, stock_rule,
};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::View;
use crate::plan::reckon::arrivals;
use crate::plan::reckon::timing::Clock;
use jiff::civil::Date;

/// When each part that is kept in stock is to be ordered again, at the start of `as_of`: by its past
/// use and its best offer's lead time.
#[must_use]
pub fn stock_points(book: &Book, learned: Option<&Learned>, as_of: Date) -> Vec<StockPoint> {
    let view = View::new(book, learned, as_of);
    rules(&view).into_iter().map(|rule| rule.point).collect()
}

fn rules(view: &View<'_>) -> Vec<StockRule> {
    let (wait, review_days) = ordering_days(view);
    let mut rules = Vec::new();
    for part in view.book.parts.values() {
        let Some(policy) = part.stocked.filter(|_| part.components.is_empty()) else { continue };
        let used = view.book.past_use(part.id);
        let daily = daily_use(&used, &view.calendar, view.as_of);
        let lead_days = view.book.best_offer(part.id).map(|offer| lead_days(view, offer, wait));
        let lead_days = lead_days.unwrap_or_default();
        rules.push(stock_rule(part.id, &policy, &daily, &lead_days, review_days));
    }
    rules
}

/// Working days from today to the next ordering day, and from that to the one after it.
fn ordering_days(view: &View<'_>) -> (usize, usize) {
    let weekdays = view.book.settings.as_ref().map_or([true; 7], |s| s.ordering_days);
    let days =
        |from, to| usize::try_from(view.calendar.working_days_between(from, to)).unwrap_or(0);
    let Some(next) = view.ordering_day() else { return (0, 1) };
    let after = add_days(next, 1).and_then(|day| next_ordering_day(day, weekdays, &view.calendar));
    (days(view.as_of, next), after.map_or(1, |after| days(next, after)))
}

/// Chance that an order placed on the next ordering day, `wait` working days from today, is here i
/// working days after it; what has no date within the horizon counts as its last day. Empty: nothing
/// dates it.
fn lead_days(view: &View<'_>, offer: &Offer, wait: usize) -> Vec<f64> {
    let Some(arrival) = arrivals::of_offer(view, offer) else { return Vec::new() };
    let cdf = on_axis(&arrival.law, &view.axis);
    let mut days: Vec<f64> = Vec::with_capacity(cdf.len());
    let mut before = 0.0;
    for by in cdf.iter().skip(wait) {
        days.push(by - before);
        before = *by;
    }
    if let Some(last) = days.last_mut() {
        *last += 1.0 - before;
    }
    days
}

/// What is to be ordered for stock, with the supplier; with `only`, from that supplier alone.
pub(super) fn for_stock(
    view: &View<'_>,
    clock: &Clock<'_, '_>,
    shortages: &[PartNeed],
    only: Option<SupplierId>,
) -> Vec<(SupplierId, SuggestedLine)> {
    let book = view.book;
    let mut lines = Vec::new();
    for rule in rules(view) {
        let need = stock_need(book, &rule.point, shortages);
        let Some(offer) = book.best_offer(rule.point.part) else { continue };
        if !need.to_order.is_positive() || only.is_some_and(|only| only != offer.supplier) {
            continue;
        }
        let stock = SuggestedStock {
            on_hand: need.on_hand,
            on_order: need.on_order + need.drafted,
            reorder_at: need.reorder_at,
            basis: stands_on(&rule, &need),
        };
        let quantity = order_quantity(offer, need.to_order);
        let line = stock_row(clock.next(), offer, (need.to_order, quantity), stock);
        lines.push((offer.supplier, line));
    }
    lines
}

fn stands_on(rule: &StockRule, need: &StockNeed) -> StandsOnUse {
    match need.needed > rule.point.reorder_at {
        true => StandsOnUse::OpenBuilds { needed: need.needed },
        false => StandsOnUse::Past {
            basis: rule.basis,
            mean: rule.mean,
            uses: rule.uses,
            days: rule.days,
        },
    }
}
