//! Parts that are kept in stock: what they lack, and when to order more.

use super::demand::{reorder_point_reviewed, undershoot_moments};
use super::formula::reorder_point_normal;
use super::needs::PartNeed;
use crate::book::Book;
use crate::book::PastUse;
use crate::book::model::StockPolicy;
use crate::calendar::WorkCalendar;
use crate::forecast::normal_quantile;
use crate::ids::PartId;
use crate::quantity::Quantity;
use jiff::civil::Date;

/// Working days of use that are looked back on.
const LOOK_BACK_DAYS: i32 = 250;
/// Working days from the first booking on, from which the days themselves are the law of demand.
pub const ENOUGH_DAYS: usize = 60;
/// Days with use from which they are.
pub const ENOUGH_USES: usize = 5;

/// At which stock position a part is ordered, and up to which.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StockPoint {
    /// Which part.
    pub part: PartId,
    /// Below this it is ordered.
    pub reorder_at: Quantity,
    /// Up to this, before packs.
    pub order_up_to: Quantity,
}

/// What a part's reorder point stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StockBasis {
    /// Its days of use, as they were.
    Days,
    /// Mean and spread of too short a history, as if normal.
    Normal,
    /// Only the least stock that was set: nothing was used, or nothing dates a delivery.
    Least,
}

/// A reorder point and how it came to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StockRule {
    /// The point.
    pub point: StockPoint,
    /// What it stands on.
    pub basis: StockBasis,
    /// Mean use of a working day.
    pub mean: f64,
    /// Working days that were looked at.
    pub days: usize,
    /// Of them with use.
    pub uses: usize,
}

/// What there is of a part that is kept in stock, and what it lacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StockNeed {
    /// Usable, set aside or not.
    pub on_hand: Quantity,
    /// Ordered and still to come.
    pub on_order: Quantity,
    /// Drafted, or to be ordered today for builds that are short.
    pub drafted: Quantity,
    /// What open builds and those in the bay still need of it.
    pub needed: Quantity,
    /// Ordered below this: the point, or what builds need if that is more.
    pub reorder_at: Quantity,
    /// How much to order, before packs; 0: enough.
    pub to_order: Quantity,
}

/// The use of each working day before `as_of`, at most a working year back; empty without bookings.
/// What was used on a day on which nobody works counts on the next working day.
#[must_use]
pub fn daily_use(used: &PastUse, calendar: &WorkCalendar, as_of: Date) -> Vec<Quantity> {
    let Some(since) = used.since.and_then(|day| calendar.roll_forward(day)) else {
        return Vec::new();
    };
    let Some(first) = calendar.add_working_days(as_of, -LOOK_BACK_DAYS) else { return Vec::new() };
    let first = first.max(since);
    let count = calendar.working_days_between(first, as_of);
    let mut days = vec![Quantity::ZERO; usize::try_from(count).unwrap_or(0)];
    for (day, quantity) in used.days.range(first..as_of) {
        let Some(day) = calendar.roll_forward(*day) else { continue };
        let at = usize::try_from(calendar.working_days_between(first, day));
        if let Some(cell) = at.ok().and_then(|at| days.get_mut(at)) {
            *cell += *quantity;
        }
    }
    days.into_iter().map(Quantity::or_zero).collect()
}

/// When to order a part that is kept in stock. `daily`: its use of each working day; `lead_days`: the
/// chance that an order takes i working days from the ordering day, i = 0, 1, ...; empty: nothing
/// dates it; `review_days`: working days between two ordering days.
///
/// With at least [`ENOUGH_DAYS`] days of which [`ENOUGH_USES`] with use, the reorder point is the
/// quantile of the demand of a lead time and of what stock lies below the point when an ordering day
/// finds it there (see [`reorder_point_reviewed`]); with fewer that of the normal formula with the
/// same two parts (see [`reorder_point_normal`]); never less than the least stock of the policy. An
/// order brings stock up to the point and the mean use of the days that it is to cover.
#[must_use]
pub fn stock_rule(
    part: PartId,
    policy: &StockPolicy,
    daily: &[Quantity],
    lead_days: &[f64],
    review_days: usize,
) -> StockRule {
    let service = f64::from(policy.service_permille) / 1000.0;
    let uses = daily.iter().filter(|use_| use_.is_positive()).count();
    let (mean, deviation) = moments(daily.iter().map(|use_| (to_f64(*use_), 1.0)));
    let mut basis = StockBasis::Least;
    let mut point = Quantity::ZERO;
    if uses > 0 && lead_days.iter().sum::<f64>() > 0.0 {
        if daily.len() >= ENOUGH_DAYS && uses >= ENOUGH_USES {
            basis = StockBasis::Days;
            point =
                reorder_point_reviewed(daily, lead_days, review_days, service).unwrap_or_default();
        } else {
            basis = StockBasis::Normal;
            let days = (0_u32..).map(f64::from).zip(lead_days.iter().copied());
            let (lead, lead_deviation) = moments(days);
            let z = normal_quantile(service);
            // The variances of the two parts add; that of the lead time is the formula's at z = 1.
            let lead_mean = reorder_point_normal(mean, deviation, lead, lead_deviation, 0.0);
            let spread =
                reorder_point_normal(mean, deviation, lead, lead_deviation, 1.0) - lead_mean;
            let (below, variance) = undershoot_moments(daily, review_days);
            point = up(lead_mean + below + z * (spread * spread + variance).sqrt());
        }
    }
    let whole = daily.iter().all(|use_| is_whole(*use_)) && is_whole(policy.least);
    let round = |quantity: Quantity| if whole { whole_up(quantity) } else { quantity };
    let reorder_at = round(point.max(policy.least));
    let order_up_to = round(reorder_at + up(mean * f64::from(policy.cover_days)));
    let point = StockPoint { part, reorder_at, order_up_to };
    StockRule { point, basis, mean, days: daily.len(), uses }
}

/// What a part lacks at a point, as the book stands. `shortages`: what builds are short of, see
/// [`super::part_needs`]; what is to be ordered for them comes too.
#[must_use]
pub fn stock_need(book: &Book, point: &StockPoint, shortages: &[PartNeed]) -> StockNeed {
    let on_hand: Quantity = book.stock_of(point.part).map(|(_, stock)| stock.usable).sum();
    let (mut on_order, mut drafted) = (Quantity::ZERO, Quantity::ZERO);
    for line in book.order_lines_for_part(point.part) {
        match line.placed_on {
            Some(_) => on_order += line.on_order(),
            None => drafted += line.outstanding().or_zero(),
        }
    }
    for need in shortages.iter().filter(|need| need.part == point.part && need.why_not.is_none()) {
        drafted += need.to_order();
    }
    let binds = |line: &&crate::book::model::Line| {
        book.builds.get(&line.build).is_some_and(|b| b.state.binds())
    };
    let needed = book
        .lines_for_part(point.part)
        .filter(binds)
        .filter(|line| !line.customer_supplied)
        .map(|line| (line.required - line.issued).or_zero())
        .sum();
    let reorder_at = point.reorder_at.max(needed);
    let position = on_hand + on_order + drafted;
    let up_to = point.order_up_to.max(needed);
    let to_order = match position < reorder_at {
        true => (up_to - position).or_zero(),
        false => Quantity::ZERO,
    };
    StockNeed { on_hand, on_order, drafted, needed, reorder_at, to_order }
}

/// Mean and standard deviation of values with weights.
fn moments(values: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    let (mut weight, mut sum, mut squares) = (0.0, 0.0, 0.0);
    for (value, share) in values {
        weight += share;
        sum += share * value;
        squares += share * value * value;
    }
    if weight <= 0.0 {
        return (0.0, 0.0);
    }
    let mean = sum / weight;
    (mean, (squares / weight - mean * mean).max(0.0).sqrt())
}

#[allow(clippy::cast_precision_loss)]
fn to_f64(quantity: Quantity) -> f64 {
    quantity.milli() as f64 / 1000.0
}

/// The next thousandth upwards; nothing for what is no number.
#[allow(clippy::cast_possible_truncation)]
fn up(value: f64) -> Quantity {
    // A rounding error below a thousandth is none.
    let milli = (value * 1000.0 - 1e-6).ceil();
    Quantity::from_milli(if milli.is_finite() { milli.max(0.0) as i64 } else { 0 })
}

fn is_whole(quantity: Quantity) -> bool {
    quantity.milli() % 1000 == 0
}

fn whole_up(quantity: Quantity) -> Quantity {
    let milli = quantity.milli();
    Quantity::from_milli((milli + 999).div_euclid(1000) * 1000)
}
