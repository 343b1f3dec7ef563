//! Which suppliers changed their ways, by a test that counts open orders too.
//!
//! Orders of the last year are held against the hazards of the years before: O of them came, and E
//! would have come in the same waiting, bin by bin of the ratio to the quote (the one-sample
//! log-rank statistic, Breslow 1975). O < E: slower than before.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::levels::{Reckoning, end_of};
use crate::{
    calendar::days_between,
    leadtime::{
        estimate::{Counts, Observation, ratio},
        history::PastLine,
    },
};

/// Calendar days of "the last year".
const RECENT_DAYS: i64 = 365;
/// Events that the years before must have, for a supplier to be judged.
const EVENTS_BEFORE_MIN: f64 = 8.0;
/// Standard errors from which a difference is no chance: for one supplier of many, and for the shop.
const SUPPLIER_ERRORS: f64 = 3.0;
const SHOP_ERRORS: f64 = 4.0;

/// What the test found for one supplier, or for the shop.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Drift {
    /// Orders of the last year that came.
    pub came: f64,
    /// Those that would have come by the years before.
    pub expected: f64,
    /// Variance of the difference: chance in the last year and in the years before.
    pub variance: f64,
}

impl Drift {
    /// The difference in standard errors: below 0, slower than before.
    #[must_use]
    pub fn standard_errors(&self) -> f64 {
        if self.variance > 0.0 { (self.came - self.expected) / self.variance.sqrt() } else { 0.0 }
    }
}

/// Orders before the last year, and within it.
#[derive(Debug, Clone, Default)]
pub(super) struct Eras {
    suppliers: BTreeMap<u32, (Counts, Counts)>,
}

impl Eras {
    /// Adds (`sign` 1) or takes away (-1) a line.
    pub(super) fn count(&mut self, line: &PastLine, by: &Reckoning<'_>, sign: f64) {
        let (Some(quote), Some(end)) = (line.quoted_days, end_of(line, by)) else {
            return;
        };
        let waited = |on: Date| by.closures.open_days_between(line.placed.on, on);
        let (true, Ok(day)) = (line.is_known(by.as_of), u32::try_from(waited(end.on))) else {
            return;
        };
        let entry_day = line.unwatched_until().and_then(|on| u32::try_from(waited(on)).ok());
        let eras = self.suppliers.entry(line.supplier).or_default();
        let recent = days_between(line.placed.on, by.as_of) <= RECENT_DAYS;
        let counts = if recent { &mut eras.1 } else { &mut eras.0 };
        let seen = Observation { entry_day, day, event: end.event, weight: sign };
        ratio::add_seen(counts, by.settings.counted_quote(quote), &seen);
    }

    /// The suppliers that drift, with what was found; all of them if the shop as a whole does.
    pub(super) fn drifting(&self) -> BTreeMap<u32, Drift> {
        let mut shop = Drift::default();
        let mut found = BTreeMap::new();
        for (supplier, (before, recent)) in &self.suppliers {
            let Some(drift) = compare(before, recent) else {
                continue;
            };
            shop.came += drift.came;
            shop.expected += drift.expected;
            shop.variance += drift.variance;
            found.insert(*supplier, drift);
        }
        if shop.standard_errors().abs() > SHOP_ERRORS {
            return self
                .suppliers
                .keys()
                .map(|supplier| (*supplier, found.get(supplier).copied().unwrap_or(shop)))
                .collect();
        }
        found.retain(|_, drift| drift.standard_errors().abs() > SUPPLIER_ERRORS);
        found
    }
}

fn compare(before: &Counts, recent: &Counts) -> Option<Drift> {
    let (before, recent) = (before.at_risk(None, 1.0), recent.at_risk(None, 1.0));
    if before.events.iter().sum::<f64>() < EVENTS_BEFORE_MIN {
        return None;
    }
    let mut drift = Drift::default();
    for (bin, (came, waiting)) in recent.events.iter().zip(&recent.at_risk).enumerate() {
        let known = before.weight(bin);
        if known <= 0.0 {
            // So long a wait was never seen before: nothing to compare with.
            continue;
        }
        let events = before.events.get(bin).copied().unwrap_or(0.0);
        let expected = waiting * events / known;
        drift.came += came;
        drift.expected += expected;
        drift.variance += expected + waiting * waiting * events / (known * known);
    }
    Some(drift)
}
