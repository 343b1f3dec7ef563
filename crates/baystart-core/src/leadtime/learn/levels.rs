//! The evidence of each level, and what one order line adds to it.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{LearnSettings, drift::grown, stale::Patience};
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
}

/// All three kinds of evidence of the shop or a supplier.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Level {
    pub lead: Lead,
    /// By notice band, from [`SLIP_ORIGIN`] days before the promise date.
    pub slips: [Counts; 3],
    pub transit: Counts,
}

/// Every level's counts.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Levels {
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
    /// Whether the line's supplier drifts.
    pub drifts: bool,
    /// Growth of all waits, as a logarithm per year.
    pub growth: f64,
    /// Those that hold on the way too.
    pub transit_closures: &'a Closures,
}

impl Levels {
    /// Adds (`sign` 1) or takes away (-1) what was known of a line at the start of the as-of date.
    ///
    /// Touches the line's own offer and supplier, and the shop.
    pub(super) fn count(&mut self, line: &PastLine, by: &Reckoning<'_>, sign: f64) {
        if !line.is_known(by.as_of) {
            return;
        }
        let Some(end) = end_of(line, by) else {
            return;
        };
        let weight = by.settings.weight(days_between(line.placed.on, by.as_of), by.drifts);
        let offer = self.offers.entry(line.offer).or_default();
        let supplier = self.suppliers.entry(line.supplier).or_default();
        for lead in [offer, &mut supplier.lead, &mut self.shop.lead] {
            count_lead(lead, line, end, by, sign * weight);
        }
        for level in [supplier, &mut self.shop] {
            count_slips(level, line, end, by, sign * weight);
            count_transit(level, line, end, by, sign * weight);
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

/// Weight below 0: take away.
fn put(counts: &mut Counts, seen: &Observation) {
    if seen.weight >= 0.0 {
        counts.add(seen);
    } else {
        counts.remove(&Observation { weight: -seen.weight, ..*seen });
    }
}

fn count_lead(lead: &mut Lead, line: &PastLine, end: End, by: &Reckoning<'_>, weight: f64) {
    let Ok(day) = u32::try_from(by.closures.open_days_between(line.placed.on, end.on)) else {
        return;
    };
    let waited = |on: Date| by.closures.open_days_between(line.placed.on, on);
    let entry_day = line.unwatched_until().and_then(|on| u32::try_from(waited(on)).ok());
    let seen = Observation { entry_day, day, event: end.event, weight };
    let seen = grown(seen, by.growth, days_between(line.placed.on, by.as_of));
    put(&mut lead.days, &seen);
    if let Some(quote) = line.quoted_days {
        ratio::add_seen(&mut lead.ratio, by.settings.counted_quote(quote), &seen);
    }
}

/// Each promise is an observation of slip from the day it became known; they share one weight.
fn count_slips(level: &mut Level, line: &PastLine, end: End, by: &Reckoning<'_>, weight: f64) {
    let promises = line.known_promises(by.as_of).count();
    for promise in line.known_promises(by.as_of) {
        let due = by.closures.first_open(promise.date).unwrap_or(promise.date);
        let slip = |on: Date| by.closures.open_days_between(due, on) + i64::from(SLIP_ORIGIN);
        let Ok(day) = u32::try_from(slip(end.on)) else {
            continue;
        };
        let watched_after = line.unwatched_until().max(Some(promise.known_on));
        let entry_day = watched_after.and_then(|on| u32::try_from(slip(on)).ok());
        let weight = weight / promises as f64;
        let seen = Observation { entry_day, day, event: end.event, weight };
        let band = by.settings.band(days_between(promise.known_on, promise.date));
        if let Some(counts) = level.slips.get_mut(band) {
            put(counts, &seen);
        }
    }
}

fn count_transit(level: &mut Level, line: &PastLine, end: End, by: &Reckoning<'_>, weight: f64) {
    let Some(left) = line.known_despatch(by.as_of) else {
        return;
    };
    let underway = |on: Date| by.transit_closures.open_days_between(left, on);
    if let Ok(day) = u32::try_from(underway(end.on)) {
        let unwatched = line.unwatched_until().filter(|on| *on >= left);
        let entry_day = unwatched.and_then(|on| u32::try_from(underway(on)).ok());
        let seen = Observation { entry_day, day, event: end.event, weight };
        put(&mut level.transit, &seen);
    }
}
