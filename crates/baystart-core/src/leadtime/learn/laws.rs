//! The learned laws, level under level.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{
    Drift, Evidence, LearnSettings,
    drift::{Change, Eras},
    levels::{Level, Levels, Reckoning, SLIP_ORIGIN},
    made::Made,
    receiving::counted_closures,
    stale::Patience,
};
use crate::{
    calendar::{Closures, add_days, days_between},
    leadtime::{
        ArrivalLaw, CountedLaw, DayLaw, DefaultLaws, Laws, News, OpenSupply, QUOTE_DAYS_MAX,
        SupplyKeys, arrival_cdf_for, deciding_news,
        estimate::{
            AtRisk, Counts, Strength, posterior, posterior_law,
            ratio::{RatioLaw, bin_at_age},
        },
        history::{History, PastLine},
    },
};

/// Shape of the default law around the quote.
const DEFAULT_SHAPE: u32 = 4;
/// Median and shape of the law where nothing was quoted: vague, so that evidence speaks.
const UNQUOTED_MEDIAN_DAYS: u32 = 30;
const UNQUOTED_SHAPE: u32 = 2;
/// Effective orders that a shop needs before it dates a line without any quote.
const UNQUOTED_ORDERS_MIN: f64 = 5.0;
/// Effective despatched orders from which transit times outdo a promise still in force.
const TRANSIT_ORDERS_MIN: f64 = 10.0;
/// Days after the promise date up to which slips are told apart.
const SLIP_DAYS: usize = 730;
/// Calendar days past the as-of date for which days are counted: the horizon and as long again.
const REACH_DAYS: i64 = 1_460;

/// Laws learned from history, at the start of one day.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnedLaws {
    as_of: Date,
    pub(super) settings: LearnSettings,
    pub(super) patience: Patience,
    levels: Levels,
    /// Empty where drift is not looked for.
    pub(super) eras: Eras,
    pub(super) change: Change,
    /// The first day that is counted right.
    pub(super) counted_from: Date,
    closures: BTreeMap<u32, Closures>,
    transit_closures: Closures,
    made: Made,
}

impl LearnedLaws {
    /// What `history` had to say at the start of `as_of`: facts that happened and were recorded
    /// before that day, and open lines watched until the day before. O(lines + days).
    #[must_use]
    pub fn learn(history: &History, as_of: Date, settings: &LearnSettings) -> Self {
        let placed = history.lines.iter().map(|line| line.placed.on);
        // A promise may have become known to somebody before the order was placed.
        let first = placed.min().unwrap_or(as_of).min(as_of);
        let first = add_days(first, -REACH_DAYS).unwrap_or(first);
        let last = add_days(as_of, REACH_DAYS).unwrap_or(as_of);
        let counted = |closures| counted_closures(closures, settings.day_count, first, last);
        let mut laws = Self {
            as_of,
            settings: *settings,
            patience: Patience::of(history, as_of, settings.stale_after_days),
            levels: Levels::default(),
            eras: Eras::default(),
            change: Change::default(),
            counted_from: first,
            closures: history.closures.iter().map(|(key, c)| (*key, counted(c))).collect(),
            transit_closures: counted(&Closures::none()),
            made: Made::default(),
        };
        if settings.drift_half_life_days.is_some() {
            let mut eras = Eras::default();
            for line in &history.lines {
                eras.count(line, &laws.reckoning(line), 1.0);
            }
            laws.change = eras.change();
            laws.eras = eras;
        }
        for line in &history.lines {
            laws.count(line, 1.0);
        }
        laws
    }

    /// The suppliers whose last year differs from the years before by more than chance and the
    /// shop's [growth](Self::growth_per_year), and whose orders therefore age faster.
    #[must_use]
    pub fn drifting(&self) -> &BTreeMap<u32, Drift> {
        &self.change.suppliers
    }

    /// By how much all waits grew in a year (.1: by 10 %), where the shop's last year differs from
    /// the years before by more than chance; else 0. Past orders count as stretched by it.
    #[must_use]
    pub fn growth_per_year(&self) -> f64 {
        self.change.growth.exp_m1()
    }

    /// Replaces what one line adds: `before` as it was counted, `after` as it stands now. Touches
    /// the line's own offer, its supplier and the shop only; O(1) in the number of lines.
    pub fn replace(&mut self, before: Option<&PastLine>, after: Option<&PastLine>) {
        if let Some(line) = before {
            self.count(line, -1.0);
        }
        if let Some(line) = after {
            self.count(line, 1.0);
        }
    }

    fn count(&mut self, line: &PastLine, sign: f64) {
        let mut levels = std::mem::take(&mut self.levels);
        levels.count(line, &self.reckoning(line), sign);
        self.levels = levels;
        self.made = Made::default();
    }

    pub(super) fn reckoning(&self, line: &PastLine) -> Reckoning<'_> {
        Reckoning {
            as_of: self.as_of,
            settings: &self.settings,
            patience: &self.patience,
            closures: self.counted_closures(Some(line.supplier)),
            drifts: self.change.suppliers.contains_key(&line.supplier),
            growth: self.change.growth,
            transit_closures: &self.transit_closures,
        }
    }

    /// The date at whose start the laws were learned.
    #[must_use]
    pub fn as_of(&self) -> Date {
        self.as_of
    }

    /// The settings by which they were learned.
    #[must_use]
    pub fn settings(&self) -> &LearnSettings {
        &self.settings
    }

    /// The closures by which days are counted at a supplier.
    #[must_use]
    pub fn counted_closures(&self, supplier: Option<u32>) -> &Closures {
        let own = supplier.and_then(|supplier| self.closures.get(&supplier));
        own.unwrap_or(&self.transit_closures)
    }

    /// When an open supply arrives, days counted as history was; see
    /// [`crate::leadtime::arrival_cdf_for`].
    #[must_use]
    pub fn arrival(
        &self,
        keys: SupplyKeys,
        supply: &OpenSupply,
        as_of: Date,
        horizon_days: u32,
    ) -> Option<ArrivalLaw> {
        let closures = self.counted_closures(keys.supplier);
        arrival_cdf_for(self, keys, supply, as_of, closures, horizon_days)
    }

    /// What stands behind the lead time of an offer for an order that has waited `age_days` counted
    /// days (0: a new order).
    #[must_use]
    pub fn lead_time_evidence(
        &self,
        keys: SupplyKeys,
        quoted_days: Option<u32>,
        age_days: usize,
    ) -> Evidence {
        let shop = &self.levels.shop.lead;
        let supplier = self.supplier(keys).map(|level| &level.lead);
        let offer = keys.offer.and_then(|offer| self.levels.offers.get(&offer));
        let own = offer.map(|lead| lead.days.at_risk(None, 1.0)).unwrap_or_default();
        let (at, above_supplier, above_shop) = match quoted_days {
            Some(quote) => (
                bin_at_age(self.settings.counted_quote(quote), age_days),
                supplier.map(|lead| lead.ratio.at_risk(offer.map(|o| &o.ratio), 1.0)),
                shop.ratio.at_risk(supplier.map(|lead| &lead.ratio), 1.0),
            ),
            None => (
                age_days,
                supplier.map(|lead| lead.days.at_risk(offer.map(|o| &o.days), 1.0)),
                shop.days.at_risk(supplier.map(|lead| &lead.days), 1.0),
            ),
        };
        let above_supplier = above_supplier.unwrap_or_default();
        self.mixed([(&own, age_days), (&above_supplier, at), (&above_shop, at)])
    }

    /// Shares by the weight at risk against the prior strength, which is taken at its full value:
    /// where the prior fades with its tail (g > 0) a little more is own evidence than stated.
    fn mixed(&self, levels: [(&AtRisk, usize); 3]) -> Evidence {
        let mut left = 1.0;
        let [offer, supplier, shop] = levels.map(|(seen, at)| {
            let n = seen.weight(at);
            let share = if n > 0.0 { left * n / (n + self.settings.strength.orders) } else { 0.0 };
            left -= share;
            (seen.effective_number(at), share)
        });
        Evidence {
            offer_orders: offer.0,
            supplier_orders: supplier.0,
            shop_orders: shop.0,
            offer_share: offer.1,
            supplier_share: supplier.1,
            shop_share: shop.1,
            default_share: left,
        }
    }

    /// What stands behind the answer for an open supply at its age, by the news that decides it.
    #[must_use]
    pub fn evidence(&self, keys: SupplyKeys, supply: &OpenSupply, as_of: Date) -> Evidence {
        let closures = self.counted_closures(keys.supplier);
        match deciding_news(self, supply, as_of) {
            News::Promise(promise) => {
                let due = closures.first_open(promise.date).unwrap_or(promise.date);
                let slip = closures.open_days_between(due, as_of) + i64::from(SLIP_ORIGIN);
                let at = usize::try_from(slip).unwrap_or(0);
                let band = self.settings.band(days_between(promise.known_on, promise.date));
                self.pooled(keys, at, |level| level.slips.get(band))
            }
            News::Despatch(left) => {
                let age = self.transit_closures.open_days_between(left, as_of);
                let at = usize::try_from(age).unwrap_or(0);
                self.pooled(keys, at, |level| Some(&level.transit))
            }
            News::LeadTime => {
                let age = closures.open_days_between(supply.placed_on, as_of);
                let age = usize::try_from(age).unwrap_or(0);
                self.lead_time_evidence(keys, supply.quoted_days, age)
            }
        }
    }

    fn pooled(
        &self,
        keys: SupplyKeys,
        at: usize,
        of: impl Fn(&Level) -> Option<&Counts>,
    ) -> Evidence {
        let supplier = self.supplier(keys).and_then(&of);
        let own = supplier.map(|counts| counts.at_risk(None, 1.0)).unwrap_or_default();
        let others = of(&self.levels.shop).map(|shop| shop.at_risk(supplier, 1.0));
        self.mixed([(&AtRisk::default(), at), (&own, at), (&others.unwrap_or_default(), at)])
    }

    fn supplier(&self, keys: SupplyKeys) -> Option<&Level> {
        keys.supplier.and_then(|supplier| self.levels.suppliers.get(&supplier))
    }

    fn strength(&self) -> Strength {
        self.settings.strength
    }

    fn quoted_lead_time(&self, keys: SupplyKeys, quote: u32) -> DayLaw {
        let shop = &self.levels.shop.lead.ratio;
        let supplier = self.supplier(keys).map(|level| &level.lead.ratio);
        let offer = keys.offer.and_then(|offer| self.levels.offers.get(&offer));
        let mut bins = RatioLaw::log_logistic(DEFAULT_SHAPE)
            .moved_by(&shop.at_risk(supplier, 1.0), self.strength());
        if let Some(own) = supplier {
            bins = bins.moved_by(&own.at_risk(offer.map(|o| &o.ratio), 1.0), self.strength());
        }
        let law = bins.in_days(quote);
        match offer {
            Some(own) => posterior_law(&law, &own.days.at_risk(None, 1.0), self.strength()),
            None => law,
        }
    }

    fn unquoted_lead_time(&self, keys: SupplyKeys) -> Option<DayLaw> {
        let shop = &self.levels.shop.lead.days;
        if shop.at_risk(None, 1.0).effective_number(0) < UNQUOTED_ORDERS_MIN {
            return None;
        }
        let supplier = self.supplier(keys).map(|level| &level.lead.days);
        let offer = keys.offer.and_then(|offer| self.levels.offers.get(&offer));
        let vague = DayLaw::log_logistic(UNQUOTED_MEDIAN_DAYS, UNQUOTED_SHAPE);
        let mut law = posterior_law(&vague, &shop.at_risk(supplier, 1.0), self.strength());
        if let Some(own) = supplier {
            let seen = own.at_risk(offer.map(|o| &o.days), 1.0);
            law = posterior_law(&law, &seen, self.strength());
        }
        if let Some(own) = offer {
            law = posterior_law(&law, &own.days.at_risk(None, 1.0), self.strength());
        }
        Some(law)
    }
}

/// A number of days as an index; 0 if negative.
fn day_count_of(days: i64) -> usize {
    usize::try_from(days).unwrap_or(0)
}

impl Laws for LearnedLaws {
    fn lead_time(&self, keys: SupplyKeys, quoted_days: Option<u32>) -> Option<DayLaw> {
        match quoted_days {
            Some(quote) => {
                let quote = quote.min(QUOTE_DAYS_MAX);
                let quote = self.settings.counted_quote(quote);
                Some(self.made.law(keys, quote, || self.quoted_lead_time(keys, quote)))
            }
            None => self.unquoted_lead_time(keys),
        }
    }

    fn promise(
        &self,
        keys: SupplyKeys,
        notice_days: i64,
        days_to_promise: &dyn Fn(u32) -> i64,
    ) -> CountedLaw {
        let default = DefaultLaws.promise(keys, notice_days, days_to_promise);
        // Both laws count from the day the promise became known; the default began some days before.
        let (begun, known) = (days_to_promise(default.lead_in_days), days_to_promise(0));
        let shift = day_count_of(begun - known);
        // A promise of more notice than slips are told apart for: its first days are the default's.
        let early = day_count_of(known - i64::from(SLIP_ORIGIN));
        let from = day_count_of(i64::from(SLIP_ORIGIN) - known);
        let days = early + (day_count_of(i64::from(SLIP_ORIGIN)) + SLIP_DAYS).saturating_sub(from);
        let mut hazards: Vec<f64> = (0..days).map(|t| default.law.hazard(shift + t)).collect();
        let band = self.settings.band(notice_days);
        let mut told_apart = hazards.split_off(early);
        let supplier = self.supplier(keys).and_then(|level| level.slips.get(band));
        if let Some(shop) = self.levels.shop.slips.get(band) {
            let seen = shop.at_risk(supplier, 1.0);
            told_apart = posterior(&told_apart, from, &seen, self.strength());
        }
        if let Some(own) = supplier {
            let seen = own.at_risk(None, 1.0);
            told_apart = posterior(&told_apart, from, &seen, self.strength());
        }
        hazards.append(&mut told_apart);
        let tail_hazard = default.law.hazard(shift + days);
        CountedLaw { lead_in_days: 0, law: DayLaw::proper(hazards, tail_hazard) }
    }

    fn transit(&self, keys: SupplyKeys) -> DayLaw {
        let supplier = self.supplier(keys).map(|level| &level.transit);
        let seen = self.levels.shop.transit.at_risk(supplier, 1.0);
        let law = posterior_law(&DefaultLaws.transit(keys), &seen, self.strength());
        match supplier {
            Some(own) => posterior_law(&law, &own.at_risk(None, 1.0), self.strength()),
            None => law,
        }
    }

    fn transit_outdoes_promise(&self) -> bool {
        let seen = self.levels.shop.transit.at_risk(None, 1.0);
        seen.effective_number(0) >= TRANSIT_ORDERS_MIN
    }

    fn transit_closures(&self) -> Closures {
        self.transit_closures.clone()
    }
}
