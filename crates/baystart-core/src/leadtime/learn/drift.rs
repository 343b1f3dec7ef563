//! Whether the shop's suppliers, or some of them, changed their ways, by a test that counts open
//! orders too.
//!
//! Orders of the last year are held against the hazards of the years before: O of them came, and E
//! would have come in the same waiting, bin by bin of the ratio to the quote (the one-sample
//! log-rank statistic, Breslow 1975). O < E: slower than before.
//!
//! Where the suppliers differ together, waits are taken to have grown at one rate: the rate at which
//! O comes nearest to E once the waits of the years before are stretched by it. The evidence then
//! counts as stretched from the mean day of its orders to the as-of date, so that nobody has to forget it. Forgetting
//! alone lags behind: with any half-life the 80 % dates of a world that slows by 16 % a year were kept in 67 to 75 % of cases.
//! One supplier that differs from that rate is forgotten faster.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::levels::{Reckoning, end_of};
use crate::{
    calendar::{day_number, days_between},
    leadtime::{
        estimate::{AtRisk, Counts, Observation, ratio},
        history::PastLine,
    },
};

/// Calendar days of "the last year".
pub(super) const RECENT_DAYS: i64 = 365;
/// Events that the years before must have, for a supplier to be judged.
const EVENTS_BEFORE_MIN: f64 = 8.0;
/// Standard errors from which a difference is no chance: for one supplier of many, and for the shop.
const SUPPLIER_ERRORS: f64 = 3.0;
const SHOP_ERRORS: f64 = 4.0;
/// Growth is told apart in steps of so much a year (of the logarithm), so that single receipts
/// rarely move it.
const GROWTH_STEP: f64 = 0.05;
/// Steps of the fastest growth, either way.
const STEPS_MAX: i32 = 16;
pub(super) const DAYS_PER_YEAR: f64 = 365.25;

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

/// What changed.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Change {
    /// Growth of all waits, as a logarithm per year; 0 unless the shop as a whole drifts.
    pub growth: f64,
    /// The suppliers that drift beyond that.
    pub suppliers: BTreeMap<u32, Drift>,
}

/// The orders of some years.
#[derive(Debug, Clone, Default, PartialEq)]
struct Era {
    counts: Counts,
    orders: f64,
    /// Sum of the day numbers of placing.
    placed_days: f64,
}

/// Orders before the last year, and within it, by supplier.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Eras {
    suppliers: BTreeMap<u32, [Era; 2]>,
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
        let [before, recent] = self.suppliers.entry(line.supplier).or_default();
        let age_days = days_between(line.placed.on, by.as_of);
        let era = if age_days <= RECENT_DAYS { recent } else { before };
        era.orders += sign;
        era.placed_days += sign * day_number(line.placed.on) as f64;
        let seen = Observation { entry_day, day, event: end.event, weight: sign };
        ratio::add_seen(&mut era.counts, by.settings.counted_quote(quote), &seen);
    }

    /// What changed in the last year. O(suppliers).
    pub(super) fn change(&self) -> Change {
        let pairs: Vec<Pair> = self.suppliers.iter().filter_map(Pair::of).collect();
        let shop = together(&pairs);
        let growth = if shop.standard_errors().abs() > SHOP_ERRORS { growth(&pairs) } else { 0.0 };
        let drifts = pairs.iter().map(|pair| (pair.supplier, pair.compare(growth)));
        let suppliers =
            drifts.filter(|(_, drift)| drift.standard_errors().abs() > SUPPLIER_ERRORS).collect();
        Change { growth, suppliers }
    }
}

/// A supplier that can be judged.
struct Pair {
    supplier: u32,
    before: AtRisk,
    events_before: f64,
    recent: AtRisk,
    /// Between the means of both.
    years: f64,
}

impl Pair {
    fn of((supplier, [before, recent]): (&u32, &[Era; 2])) -> Option<Self> {
        let at_risk = before.counts.at_risk(None, 1.0);
        let events_before = at_risk.events.iter().sum::<f64>();
        if events_before < EVENTS_BEFORE_MIN || recent.orders < 1.0 {
            return None;
        }
        let years = recent.placed_days / recent.orders - before.placed_days / before.orders;
        Some(Self {
            supplier: *supplier,
            before: at_risk,
            events_before,
            recent: recent.counts.at_risk(None, 1.0),
            years: years / DAYS_PER_YEAR,
        })
    }

    /// The last year against the years before, had waits grown so fast between them.
    fn compare(&self, growth: f64) -> Drift {
        let shift = ratio::bins_of_growth(growth * self.years);
        let mut drift = Drift::default();
        for (bin, (came, waiting)) in
            (0_i64..).zip(self.recent.events.iter().zip(&self.recent.at_risk))
        {
            let Ok(bin) = usize::try_from(bin - shift) else {
                continue;
            };
            let known = self.before.weight(bin);
            if known <= 0.0 {
                // So long a wait was never seen before: nothing to compare with.
                continue;
            }
            let events = self.before.events.get(bin).copied().unwrap_or(0.0);
            let expected = waiting * events / known;
            drift.came += came;
            drift.expected += expected;
            drift.variance += expected + waiting * waiting * events / (known * known);
        }
        drift
    }
}

/// All suppliers together, each against its own past.
fn together(pairs: &[Pair]) -> Drift {
    let mut shop = Drift::default();
    for drift in pairs.iter().map(|pair| pair.compare(0.0)) {
        shop.came += drift.came;
        shop.expected += drift.expected;
        shop.variance += drift.variance;
    }
    shop
}

/// How badly a growth explains the last year: squared standard errors of ln(O / E), no supplier
/// counted for more than one that drifts by itself, so that a single bad one makes no trend.
fn misfit(pairs: &[Pair], growth: f64) -> f64 {
    let mut sum = 0.0;
    for pair in pairs {
        let drift = pair.compare(growth);
        // Half an order each, so that nothing is infinitely unlikely (Haldane's correction).
        let (came, expected) = (drift.came + 0.5, drift.expected + 0.5);
        let variance = 1.0 / came + 1.0 / (pair.events_before + 0.5);
        let squared = (came / expected).ln().powi(2) / variance;
        sum += squared.min(SUPPLIER_ERRORS * SUPPLIER_ERRORS);
    }
    sum
}

/// The growth that explains most, if it explains more than one supplier by itself could; else 0.
fn growth(pairs: &[Pair]) -> f64 {
    let without = misfit(pairs, 0.0);
    let mut best = (without - SUPPLIER_ERRORS * SUPPLIER_ERRORS, 0.0);
    for step in -STEPS_MAX..=STEPS_MAX {
        let growth = f64::from(step) * GROWTH_STEP;
        let misfit = misfit(pairs, growth);
        if misfit < best.0 {
            best = (misfit, growth);
        }
    }
    best.1
}
