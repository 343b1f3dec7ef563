//! The evidence of each level, and what one order line adds to it.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{
    LearnSettings,
    deliveries::Deliveries,
    pieces::{NewsAt, NewsLines, NewsOf, PiecesOfNews},
    stale::Patience,
};
use crate::{
    calendar::{Closures, add_days, day_number, days_between},
    leadtime::{
        estimate::{Observation, WeightedCounts, ratio},
        history::{PastLine, Standing},
    },
};

/// Experts that are kept beside each other; of settings by hand only the first is used.
pub(super) const EXPERTS: usize = super::HALF_LIVES_DAYS.len();

/// A weight by each expert.
pub(super) type Weights = [f64; EXPERTS];

/// Days before the promise date at which slips begin to be counted.
pub(super) const SLIP_ORIGIN: u32 = 400;

/// Lead times of one level, in days and in ratio to the quote.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Lead {
    pub days: WeightedCounts<EXPERTS>,
    pub ratio: WeightedCounts<EXPERTS>,
    pub news: PiecesOfNews,
    pub deliveries: Deliveries,
}

/// Evidence of one kind, with the pieces of news that it came in.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Kept {
    pub counts: WeightedCounts<EXPERTS>,
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

/// Every level's counts, each weighted by the experts' half-lives.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Levels {
    /// Sum of the weights of lead times, and of weight times day number of placing.
    placed: [Weights; 2],
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
    /// The day number on which it came.
    pub delivered: Option<i64>,
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
            delivered: end.event.then(|| day_number(end.on)),
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

impl Seen {
    /// Whether the same things were seen of a line, but for the days.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        let slips = self.slips.iter().zip(&other.slips);
        self.lead.is_some() == other.lead.is_some()
            && self.slips.len() == other.slips.len()
            && slips.into_iter().all(|(mine, theirs)| (mine.0, mine.1) == (theirs.0, theirs.1))
            && self.transit.is_some() == other.transit.is_some()
    }
}

impl Levels {
    /// The mean day number on which the orders were placed, by an expert's weight; `None` of none.
    pub(super) fn mean_placed_day(&self, expert: usize) -> Option<f64> {
        let [weights, days] = &self.placed;
        let (weight, days) = (weights.get(expert)?, days.get(expert)?);
        (*weight > 0.0).then(|| days / weight)
    }

    /// Adds (`sign` 1) or takes away (-1) what was seen of a line; `weights` are those of a day, and
    /// `lines` says how many lines each piece of news had before.
    ///
    /// Touches the line's own offer and supplier, and the shop.
    pub(super) fn count(
        &mut self,
        seen: &Seen,
        weights: &dyn Fn(i64) -> Weights,
        sign: f64,
        lines: &NewsLines,
    ) {
        self.place(seen, weights, sign);
        let own = weights(seen.placed[0].day());
        let supplier = self.suppliers.entry(seen.supplier).or_default();
        if seen.lead.is_some() {
            let [sums, days] = &mut self.placed;
            let day = seen.placed[0].day() as f64;
            for ((sum, days), weight) in sums.iter_mut().zip(days).zip(&own) {
                *sum += sign * weight;
                *days += sign * weight * day;
            }
            let offer = self.offers.entry(seen.offer).or_default();
            let [by_offer, by_supplier] = seen.placed.map(|at| lines.of(at));
            offer.news.count(&own, sign, by_offer);
            supplier.lead.news.count(&own, sign, by_supplier);
            self.shop.lead.news.count(&own, sign, by_supplier);
            if let (Some(on), Some(lead)) = (seen.delivered, &seen.lead) {
                offer.deliveries.count(on, lead.day, sign);
                supplier.lead.deliveries.count(on, lead.day, sign);
            }
        }
        let slips = seen.slips.iter().filter_map(|(band, at, _)| Some((*band, (*at)?)));
        for (band, at) in slips {
            let (weights, lines) = (weights(at.day()), lines.of(at));
            for level in [&mut *supplier, &mut self.shop] {
                if let Some(kept) = level.slips.get_mut(band) {
                    kept.news.count(&weights, sign, lines);
                }
            }
        }
        if let Some((at, _)) = &seen.transit {
            let (weights, lines) = (weights(at.day()), lines.of(*at));
            for level in [supplier, &mut self.shop] {
                level.transit.news.count(&weights, sign, lines);
            }
        }
    }

    /// Adds or takes away a line's waits alone, at the places where they are.
    pub(super) fn place(&mut self, seen: &Seen, weights: &dyn Fn(i64) -> Weights, sign: f64) {
        let own = weights(seen.placed[0].day());
        let supplier = self.suppliers.entry(seen.supplier).or_default();
        if let Some(lead) = &seen.lead {
            let offer = self.offers.entry(seen.offer).or_default();
            for level in [offer, &mut supplier.lead, &mut self.shop.lead] {
                level.days.change(lead, sign, &own);
                if let Some(quote) = seen.quote {
                    ratio::change(&mut level.ratio, quote, lead, sign, &own);
                }
            }
        }
        for (band, _, slip) in &seen.slips {
            let shared = own.map(|weight| weight * slip.weight);
            for level in [&mut *supplier, &mut self.shop] {
                if let Some(kept) = level.slips.get_mut(*band) {
                    kept.counts.change(slip, sign, &shared);
                }
            }
        }
        if let Some((_, transit)) = &seen.transit {
            for level in [supplier, &mut self.shop] {
                level.transit.counts.change(transit, sign, &own);
            }
        }
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
