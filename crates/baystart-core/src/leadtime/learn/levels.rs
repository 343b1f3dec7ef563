//! The evidence of each level, and what one order line adds to it.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{
    LearnSettings,
    pieces::{NewsAt, NewsLines, NewsOf, PiecesOfNews},
    stale::Patience,
};
use crate::{
    calendar::{Closures, add_days, days_between},
    leadtime::{
        estimate::{Counts, Observation, ratio},
        history::{PastLine, Standing},
    },
};

/// Days before the promise date at which slips begin to be counted.
pub(super) const SLIP_ORIGIN: u32 = 400;

/// Lead times of one level, in days and in ratio to the quote.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Lead {
    pub days: Counts,
    pub ratio: Counts,
    pub news: PiecesOfNews,
}

/// Evidence of one kind, with the pieces of news that it came in.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Kept {
    pub counts: Counts,
    pub news: PiecesOfNews,
}

/// All three kinds of evidence of the shop or a supplier.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Level {
    pub lead: Lead,
    /// By notice band, from [`SLIP_ORIGIN`] days before the promise date.
    pub slips: [Kept; 3],
    pub transit: Kept,
}

/// Every level's counts, weighted by one half-life.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Levels {
    /// Sum of the weights of lead times, and of weight times day number of placing.
    placed: [f64; 2],
    pub shop: Level,
    pub suppliers: BTreeMap<u32, Level>,
    pub offers: BTreeMap<u32, Lead>,
}

/// When the line's wait ended, or until when it was known to last.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    pub on: Date,
    pub event: bool,
}

/// What the days are counted by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reckoning<'a> {
    pub as_of: Date,
    pub settings: &'a LearnSettings,
    pub patience: &'a Patience,
    /// The supplier's, as waiting is counted.
    pub closures: &'a Closures,
    /// Those that hold on the way too.
    pub transit_closures: &'a Closures,
}

/// What one line adds, at weight 1.
#[derive(Debug, Clone, Default)]
pub(super) struct Seen {
    pub supplier: u32,
    pub offer: u32,
    pub lead: Option<Observation>,
    /// The quote in counted days.
    pub quote: Option<u32>,
    /// The notice band and the piece of news, once for promises that came in the same one.
    pub slips: Vec<(usize, Option<NewsAt>, Observation)>,
    pub transit: Option<(NewsAt, Observation)>,
    /// By the offer and by the supplier.
    pub placed: [NewsAt; 2],
}

impl Seen {
    /// What was known of a line at the start of the as-of date; None: nothing.
    pub(super) fn of(line: &PastLine, by: &Reckoning<'_>) -> Option<Self> {
        if !line.is_known(by.as_of) {
            return None;
        }
        let end = end_of(line, by)?;
        let placed = |of| NewsAt::new(of, line.placed.on);
        Some(Self {
            supplier: line.supplier,
            offer: line.offer,
            lead: seen_lead(line, end, by),
            quote: line.quoted_days.map(|quote| by.settings.counted_quote(quote)),
            slips: seen_slips(line, end, by),
            transit: seen_transit(line, end, by),
            placed: [placed(NewsOf::Offer(line.offer)), placed(NewsOf::Supplier(line.supplier))],
        })
    }
}

impl Seen {
    /// The pieces of news that the line belongs to.
    pub(super) fn news(&self) -> impl Iterator<Item = NewsAt> + '_ {
        let placed = self.placed.iter().filter(|_| self.lead.is_some()).copied();
        let slips = self.slips.iter().filter_map(|(_, at, _)| *at);
        placed.chain(slips).chain(self.transit.iter().map(|(at, _)| *at))
    }
}

impl Levels {
    /// The mean day number on which the orders were placed, by weight; `None` of none.
    pub(super) fn mean_placed_day(&self) -> Option<f64> {
        let [weight, days] = self.placed;
        (weight > 0.0).then(|| days / weight)
    }

    /// Adds (`sign` 1) or takes away (-1) what was seen of a line; `weight` is that of a day, and
    /// `lines` says how many lines each piece of news had before.
    ///
    /// Touches the line's own offer and supplier, and the shop.
    pub(super) fn count(
        &mut self,
        seen: &Seen,
        weight: &dyn Fn(i64) -> f64,
        sign: f64,
        lines: &NewsLines,
    ) {
        let day = seen.placed[0].day();
        let own = weight(day);
        if seen.lead.is_some() {
            self.placed[0] += sign * own;
            self.placed[1] += sign * own * day as f64;
        }
        let offer = self.offers.entry(seen.offer).or_default();
        let supplier = self.suppliers.entry(seen.supplier).or_default();
        if let Some(lead) = &seen.lead {
            let [by_offer, by_supplier] = seen.placed.map(|at| lines.of(at));
            let shop = &mut self.shop.lead;
            for (level, lines) in
                [(offer, by_offer), (&mut supplier.lead, by_supplier), (shop, by_supplier)]
            {
                let seen_here = Observation { weight: sign * own * lead.weight, ..*lead };
                put(&mut level.days, &seen_here);
                if let Some(quote) = seen.quote {
                    ratio::add_seen(&mut level.ratio, quote, &seen_here);
                }
                level.news.count(own, sign, lines);
            }
        }
        for level in [supplier, &mut self.shop] {
            for (band, at, slip) in &seen.slips {
                if let Some(kept) = level.slips.get_mut(*band) {
                    kept.put(slip, own, sign);
                    if let Some(at) = at {
                        kept.news.count(weight(at.day()), sign, lines.of(*at));
                    }
                }
            }
            if let Some((at, transit)) = &seen.transit {
                level.transit.put(transit, own, sign);
                level.transit.news.count(weight(at.day()), sign, lines.of(*at));
            }
        }
    }
}

impl Kept {
    fn put(&mut self, seen: &Observation, weight: f64, sign: f64) {
        put(&mut self.counts, &Observation { weight: sign * weight * seen.weight, ..*seen });
    }
}

pub(super) fn end_of(line: &PastLine, by: &Reckoning<'_>) -> Option<End> {
    match line.standing(by.as_of) {
        Standing::Received(on) => Some(End { on, event: true }),
        Standing::Withdrawn(on) | Standing::Failed(on) => {
            (!by.settings.completed_only).then_some(End { on, event: false })
        }
        Standing::Open { last_news_on, expected_on } => {
            if by.settings.completed_only {
                return None;
            }
            let yesterday = add_days(by.as_of, -1)?;
            let stale = by.patience.is_stale(line, expected_on, by.as_of);
            Some(End { on: if stale { last_news_on } else { yesterday }, event: false })
        }
    }
}

/// Weight below 0: take away.
fn put(counts: &mut Counts, seen: &Observation) {
    if seen.weight >= 0.0 {
        counts.add(seen);
    } else {
        counts.remove(&Observation { weight: -seen.weight, ..*seen });
    }
}

fn seen_lead(line: &PastLine, end: End, by: &Reckoning<'_>) -> Option<Observation> {
    let waited = |on: Date| u32::try_from(by.closures.open_days_between(line.placed.on, on)).ok();
    let day = waited(end.on)?;
    let entry_day = line.unwatched_until().and_then(waited);
    Some(Observation { entry_day, day, event: end.event, weight: 1.0 })
}

/// Each promise is an observation of slip from the day it became known; they share one weight.
fn seen_slips(
    line: &PastLine,
    end: End,
    by: &Reckoning<'_>,
) -> Vec<(usize, Option<NewsAt>, Observation)> {
    let promises = line.known_promises(by.as_of).count();
    let mut found: Vec<(usize, Option<NewsAt>, Observation)> = Vec::new();
    for promise in line.known_promises(by.as_of) {
        let due = by.closures.first_open(promise.date).unwrap_or(promise.date);
        let slip = |on: Date| by.closures.open_days_between(due, on) + i64::from(SLIP_ORIGIN);
        let Ok(day) = u32::try_from(slip(end.on)) else {
            continue;
        };
        let watched_after = line.unwatched_until().max(Some(promise.known_on));
        let entry_day = watched_after.and_then(|on| u32::try_from(slip(on)).ok());
        let weight = 1.0 / promises as f64;
        let seen = Observation { entry_day, day, event: end.event, weight };
        let band = by.settings.band(days_between(promise.known_on, promise.date));
        let news = NewsAt::new(NewsOf::Promise(line.supplier, band), promise.known_on);
        let again = found.iter().any(|(_, before, _)| *before == Some(news));
        found.push((band, (!again).then_some(news), seen));
    }
    found
}

fn seen_transit(line: &PastLine, end: End, by: &Reckoning<'_>) -> Option<(NewsAt, Observation)> {
    let left = line.known_despatch(by.as_of)?;
    let underway = |on: Date| u32::try_from(by.transit_closures.open_days_between(left, on)).ok();
    let day = underway(end.on)?;
    let unwatched = line.unwatched_until().filter(|on| *on >= left);
    let entry_day = unwatched.and_then(underway);
    let seen = Observation { entry_day, day, event: end.event, weight: 1.0 };
    Some((NewsAt::new(NewsOf::Despatch(line.supplier), left), seen))
}
