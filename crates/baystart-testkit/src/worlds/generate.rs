//! The worlds.

use std::collections::BTreeMap;

use baystart_core::{
    calendar::{Closures, WorkCalendar, add_days},
    leadtime::history::{Fact, History, PastLine, PastPromise},
};
use jiff::civil::{Date, date};

use super::draw::Draws;

/// What is the matter with a world.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Nothing: every order is independent of all others, and nothing changes.
    Steady,
    /// All suppliers slow down steadily, by 80 % over the whole time.
    Drifting,
    /// All suppliers take half as long again from the middle of the time on.
    SlowerAtOnce,
    /// All suppliers slow down by 60 % over the first half of the time, and recover over the second.
    Recovering,
    /// Suppliers close in August and at the turn of the year, are slow in winter, and goods are
    /// received on working days only; most orders are promised and despatched.
    Seasonal,
    /// One supplier takes two and a half times as long from the middle of the time on.
    OneGoesBad,
    /// One to five orders from each supplier.
    Thin,
    /// Six in a hundred orders are never booked as received, one in five is booked days late.
    Sloppy,
    /// Orders placed with one supplier in one month share a cause of delay, correlation 0.3.
    CommonCause,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 9] = [
        Self::Steady,
        Self::Drifting,
        Self::SlowerAtOnce,
        Self::Recovering,
        Self::Seasonal,
        Self::OneGoesBad,
        Self::Thin,
        Self::Sloppy,
        Self::CommonCause,
    ];

    /// In words.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Steady => "steady",
            Self::Drifting => "drifting",
            Self::SlowerAtOnce => "all slower at once",
            Self::Recovering => "slower, then recovering",
            Self::Seasonal => "seasonal, closures",
            Self::OneGoesBad => "one goes bad",
            Self::Thin => "thin history",
            Self::Sloppy => "sloppy booking",
            Self::CommonCause => "common cause",
        }
    }
}

/// The correlation of [`Kind::CommonCause`].
const RHO: f64 = 0.3;
/// Days over which orders are placed.
const SPAN_DAYS: u32 = 1_460;
const OFFERS_PER_SUPPLIER: u32 = 8;

/// A history and the truth behind it.
#[derive(Debug, Clone)]
pub struct World {
    /// What is the matter with it.
    pub kind: Kind,
    /// What a shop would have recorded.
    pub history: History,
    /// The day the first order could be placed.
    pub first: Date,
    /// The day at whose start the history ends: two years after the last order.
    pub end: Date,
    /// For each line the median in days and the log-normal sigma of its true lead time; exact where
    /// nothing but chance and drift is at work (not in [`Kind::Seasonal`]).
    pub truth: Vec<(f64, f64)>,
}

struct Supplier {
    /// Of the true median to the quote.
    ratio: f64,
    sigma: f64,
    /// Median of its quotes.
    quote_days: f64,
}

/// A world of `orders` orders at `suppliers` suppliers ([`Kind::Thin`] has as many suppliers as it
/// needs), over four years from 2020.
#[must_use]
pub fn generate(kind: Kind, orders: u32, suppliers: u32, seed: u64) -> World {
    made(kind, orders, suppliers, seed, false)
}

/// The same, where one to six lines are placed with a supplier on one day, in one or two orders;
/// three in four of them come on one day.
#[must_use]
pub fn generate_in_batches(kind: Kind, orders: u32, suppliers: u32, seed: u64) -> World {
    made(kind, orders, suppliers, seed, true)
}

/// Lines of one supplier and day that are still to be drawn.
#[derive(Default)]
struct Batch {
    left: u32,
    supplier: u32,
    day: u32,
    order: u32,
    /// The days of those that come together, in ratio to the median.
    noise: f64,
    days: Option<u32>,
}

impl Batch {
    fn next(&mut self, order: u32, suppliers: u32, draws: &mut Draws) {
        if self.left > 0 {
            self.left -= 1;
            // A second order of the day.
            if draws.chance(0.2) {
                self.order = order;
            }
            return;
        }
        *self = Self {
            left: draws.below(6),
            supplier: draws.below(suppliers),
            day: draws.below(SPAN_DAYS),
            order,
            noise: draws.normal(),
            days: None,
        };
    }
}

fn made(kind: Kind, orders: u32, suppliers: u32, seed: u64, batched: bool) -> World {
    let first = date(2020, 1, 6);
    let mut draws = Draws::new(seed);
    let suppliers = if kind == Kind::Thin { (orders / 3).max(1) } else { suppliers.max(1) };
    let mut made = Vec::new();
    for _ in 0..suppliers {
        let ratio = 1.1 * (0.25 * draws.normal()).exp();
        let sigma = 0.15 + 0.3 * draws.unit();
        let quote_days = 8.0 * (3.0 * draws.unit()).exp();
        made.push(Supplier { ratio, sigma, quote_days });
    }
    let quotes: Vec<u32> = (0..suppliers * OFFERS_PER_SUPPLIER)
        .map(|offer| {
            let supplier = made.get((offer / OFFERS_PER_SUPPLIER) as usize);
            let median = supplier.map_or(20.0, |s| s.quote_days);
            (median * (0.3 * draws.normal()).exp()).round().clamp(2.0, 240.0) as u32
        })
        .collect();
    let mut history = History::default();
    if kind == Kind::Seasonal {
        history.closures = (0..suppliers).map(|supplier| (supplier, closures(supplier))).collect();
    }
    let mut spells = BTreeMap::new();
    let mut truth = Vec::new();
    let mut batch = Batch::default();
    for order in 0..orders {
        if batched {
            batch.next(order, suppliers, &mut draws);
        }
        let supplier = match kind {
            _ if batched => batch.supplier,
            Kind::Thin => order / 3,
            _ => draws.below(suppliers),
        };
        let offer = supplier * OFFERS_PER_SUPPLIER + draws.below(OFFERS_PER_SUPPLIER);
        let day = if batched { batch.day } else { draws.below(SPAN_DAYS) };
        let (Some(who), Some(quote)) = (made.get(supplier as usize), quotes.get(offer as usize))
        else {
            continue;
        };
        let mut noise = draws.normal();
        let together = batched && draws.chance(0.75);
        if together {
            noise = batch.noise;
        }
        if kind == Kind::CommonCause {
            let spell = *spells.entry((supplier, day / 30)).or_insert_with(|| draws.normal());
            noise = RHO.sqrt() * spell + (1.0 - RHO).sqrt() * noise;
        }
        let slow = slowness(kind, supplier, day, first);
        let median = f64::from(*quote) * who.ratio * slow;
        truth.push((median, who.sigma));
        let own = (median * (who.sigma * noise).exp()).round() as u32;
        let days = if together { *batch.days.get_or_insert(own) } else { own };
        let order = if batched { batch.order } else { order };
        let line = Order { supplier, offer, order, quote: *quote, day, days };
        history.lines.push(record(kind, &line, first, &history.closures, &mut draws));
    }
    let end = add_days(first, i64::from(SPAN_DAYS) + 730).unwrap_or(first);
    World { kind, history, first, end, truth }
}

/// By how much the true lead time is longer than usual.
fn slowness(kind: Kind, supplier: u32, day: u32, first: Date) -> f64 {
    match kind {
        Kind::Drifting => 1.0 + 0.8 * f64::from(day) / f64::from(SPAN_DAYS),
        Kind::SlowerAtOnce if day > SPAN_DAYS / 2 => 1.5,
        Kind::Recovering => {
            let half = f64::from(SPAN_DAYS) / 2.0;
            1.0 + 0.6 * (1.0 - (f64::from(day) / half - 1.0).abs())
        }
        Kind::OneGoesBad if supplier == 0 && day > SPAN_DAYS / 2 => 2.5,
        Kind::Seasonal => {
            let month = add_days(first, day.into()).map_or(1, Date::month);
            if matches!(month, 11 | 12 | 1) { 1.3 } else { 1.0 }
        }
        _ => 1.0,
    }
}

/// Three weeks in August, a supplier each its own, and the turn of the year.
fn closures(supplier: u32) -> Closures {
    let mut closed = Vec::new();
    for year in 2019..=2027 {
        let august = add_days(date(year, 7, 27), i64::from(supplier % 3) * 7);
        if let Some(from) = august {
            closed.push((from, add_days(from, 20).unwrap_or(from)));
        }
        closed.push((date(year, 12, 23), date(year + 1, 1, 2)));
    }
    Closures::new(closed).unwrap_or_default()
}

struct Order {
    supplier: u32,
    offer: u32,
    order: u32,
    quote: u32,
    /// Of placing, from the first day.
    day: u32,
    /// The true lead time.
    days: u32,
}

fn on_time(on: Date) -> Fact {
    Fact { on, recorded_on: on }
}

fn record(
    kind: Kind,
    order: &Order,
    first: Date,
    closures: &BTreeMap<u32, Closures>,
    draws: &mut Draws,
) -> PastLine {
    let after = |date: Date, days: i64| add_days(date, days).unwrap_or(date);
    let placed = after(first, order.day.into());
    let none = Closures::none();
    let closed = closures.get(&order.supplier).unwrap_or(&none);
    let ready = closed.date_after_open_days(placed, order.days).unwrap_or(placed);
    let mut line = PastLine {
        supplier: order.supplier,
        offer: order.offer,
        order: Some(order.order.into()),
        quoted_days: Some(order.quote),
        placed: on_time(placed),
        taken_over_on: None,
        rejected: false,
        promises: vec![],
        despatched: None,
        completed: Some(on_time(ready)),
        cancelled: None,
        contacts: vec![],
    };
    match kind {
        Kind::Seasonal => promise(&mut line, order, placed, ready, draws),
        Kind::Sloppy if draws.chance(0.06) => line.completed = None,
        Kind::Sloppy if draws.chance(0.2) => {
            let late = after(ready, 1 + i64::from(draws.below(10)));
            line.completed = Some(Fact { on: ready, recorded_on: late });
        }
        _ => {}
    }
    line
}

/// Seven in ten orders are promised after three days, a little too early and not well; eight in ten
/// are announced when they leave; receipts fall on Monday to Friday.
fn promise(line: &mut PastLine, order: &Order, placed: Date, ready: Date, draws: &mut Draws) {
    let after = |date: Date, days: f64| add_days(date, days.round() as i64).unwrap_or(date);
    if draws.chance(0.7) {
        let known_on = after(placed, 3.0);
        let error = f64::from(order.days) * (0.12 * draws.normal() - 0.08);
        let date = after(ready, error).max(known_on);
        line.promises.push(PastPromise { date, known_on, recorded_on: known_on });
    }
    if draws.chance(0.8) {
        let left = after(ready, -1.0 - f64::from(draws.below(4))).max(placed);
        line.despatched = Some(on_time(left));
    }
    let received = WorkCalendar::monday_to_friday().roll_forward(ready);
    line.completed = received.map(on_time);
}
