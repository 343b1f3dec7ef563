//! The experts' laws mixed, hazard by hazard.
//!
//! Hazards are mixed and not distributions: so an order that has waited is dated by the experts as
//! they speak of its age, whatever they said of the days that have passed (design.md, section 5).

use super::{
    LearnedLaws,
    one::{DEFAULT_SHAPE, One},
};
use crate::{
    calendar::{Closures, day_number},
    leadtime::{
        ArrivalLaw, CountedLaw, DayLaw, Laws, OpenSupply, QUOTE_DAYS_MAX, SupplyKeys,
        arrival_cdf_for, defaults::PROMISE_LEAD_IN_DAYS, estimate::ratio::QuoteDays,
    },
};

/// Effective orders that a shop needs before it dates a line without any quote.
const UNQUOTED_ORDERS_MIN: f64 = 5.0;
/// Effective despatched orders from which transit times outdo a promise still in force.
const TRANSIT_ORDERS_MIN: f64 = 10.0;

impl LearnedLaws {
    /// Each expert with its weight, those without any left out.
    pub(super) fn weighted<'a>(
        &'a self,
        weights: &'a [f64],
    ) -> impl Iterator<Item = (f64, One<'a>)> + 'a {
        let heard = weights.iter().enumerate().filter(|(_, weight)| **weight > 0.0);
        heard.map(|(expert, weight)| (*weight, self.one(expert)))
    }

    /// The days of a quote in calendar days, as days that count, up to `until`.
    pub(super) fn quote_days(&self, quote: u32, until: u32) -> QuoteDays {
        let quote = self.settings.counted_quote(quote.min(QUOTE_DAYS_MAX));
        QuoteDays::new(quote, until, DEFAULT_SHAPE)
    }

    fn quoted_lead_time(&self, keys: SupplyKeys, quote: u32) -> DayLaw {
        let days = QuoteDays::new(quote, u32::MAX, DEFAULT_SHAPE);
        let law =
            mixed(self.weighted(&self.tuning.lead).map(|(w, one)| (w, one.quoted(keys, &days))));
        self.tuning.moved(&law)
    }

    /// When an open supply arrives by one expert alone, the others and what was placed with it
    /// unheard; `None` where there is no such expert or no date. See
    /// [`arrival`](Self::arrival).
    #[must_use]
    pub fn arrival_by(
        &self,
        expert: usize,
        keys: SupplyKeys,
        supply: &OpenSupply,
        horizon_days: u32,
    ) -> Option<ArrivalLaw> {
        if !self.settings.tuned || expert >= self.experts.len() {
            return None;
        }
        let one = self.one(expert);
        let closures = self.counted_closures(keys.supplier);
        arrival_cdf_for(&one, keys, supply, self.as_of, closures, horizon_days)
    }

    /// Whether enough has been underway, by these weights, for transit to outdo a promise.
    pub(super) fn knows_transit(&self, weights: &[f64]) -> bool {
        let orders = |one: &One<'_>| one.kept(&one.levels.shop.transit, None).effective_number(0);
        self.mean(weights, orders) >= TRANSIT_ORDERS_MIN
    }

    /// The mean over the experts.
    pub(super) fn mean(&self, weights: &[f64], of: impl Fn(&One<'_>) -> f64) -> f64 {
        self.weighted(weights).map(|(weight, one)| weight * of(&one)).sum()
    }
}

/// The law whose hazard is the weighted mean of the others' on each day.
fn mixed(laws: impl Iterator<Item = (f64, DayLaw)>) -> DayLaw {
    let laws: Vec<(f64, DayLaw)> = laws.collect();
    if let [(_, only)] = laws.as_slice() {
        return only.clone();
    }
    let days = laws.iter().map(|(_, law)| law.grid_days()).max().unwrap_or(0);
    let hazard = |day: usize| laws.iter().map(|(weight, law)| weight * law.hazard(day)).sum();
    DayLaw::proper((0..days).map(hazard).collect(), hazard(usize::MAX))
}

impl Laws for LearnedLaws {
    fn lead_time(&self, keys: SupplyKeys, quoted_days: Option<u32>) -> Option<DayLaw> {
        match quoted_days {
            Some(quote) => {
                let quote = quote.min(QUOTE_DAYS_MAX);
                let quote = self.settings.counted_quote(quote);
                Some(self.made.law(keys, quote, || self.quoted_lead_time(keys, quote)))
            }
            None => {
                let orders =
                    |one: &One<'_>| one.days(&one.levels.shop.lead, None).effective_number(0);
                let lead = &self.tuning.lead;
                let law = || mixed(self.weighted(lead).map(|(w, one)| (w, one.unquoted(keys))));
                (self.mean(lead, orders) >= UNQUOTED_ORDERS_MIN).then(|| self.tuning.moved(&law()))
            }
        }
    }

    fn promise(
        &self,
        keys: SupplyKeys,
        notice_days: i64,
        days_to_promise: &dyn Fn(u32) -> i64,
    ) -> CountedLaw {
        let of =
            |(w, one): (f64, One<'_>)| (w, one.promise(keys, notice_days, days_to_promise).law);
        let make = || mixed(self.weighted(&self.tuning.slips).map(of));
        // Of the days to a promise nothing else is asked.
        let [from_lead_in, days] = [PROMISE_LEAD_IN_DAYS, 0].map(days_to_promise);
        let law = self.made.promised(keys, (notice_days, from_lead_in, days), make);
        CountedLaw { lead_in_days: 0, law }
    }

    fn transit(&self, keys: SupplyKeys) -> DayLaw {
        mixed(self.weighted(&self.tuning.transit).map(|(w, one)| (w, one.transit(keys))))
    }

    fn transit_outdoes_promise(&self) -> bool {
        self.knows_transit(&self.tuning.transit)
    }

    fn transit_closures(&self) -> Closures {
        self.transit_closures.clone()
    }

    fn batch_power(&self, keys: SupplyKeys, supply: &OpenSupply) -> f64 {
        // Of a line that is not placed yet nobody knows what will be placed with it.
        let Some(supplier) = keys.supplier.filter(|_| supply.placed_on < self.as_of) else {
            return 1.0;
        };
        let beside = self.batches.beside(supplier, day_number(supply.placed_on), keys.order);
        self.tuning.power(&beside)
    }
}
