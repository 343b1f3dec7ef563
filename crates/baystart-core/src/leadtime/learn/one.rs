//! The laws of one expert, level under level.

use super::{
    LearnedLaws,
    levels::{Kept, Lead, Level, Levels, SLIP_ORIGIN},
    pieces::PiecesOfNews,
};
use crate::calendar::Closures;
use crate::leadtime::{
    CountedLaw, DayLaw, DefaultLaws, Laws, QUOTE_DAYS_MAX, SupplyKeys,
    estimate::{
        AtRisk, Scale, Seeing, Strength, WeightedCounts, posterior, posterior_law,
        ratio::{self, RatioLaw},
    },
};

/// Shape of the default law around the quote.
const DEFAULT_SHAPE: u32 = 4;
/// Median and shape of the law where nothing was quoted: vague, so that evidence speaks.
const UNQUOTED_MEDIAN_DAYS: u32 = 30;
const UNQUOTED_SHAPE: u32 = 2;
/// Days after the promise date up to which slips are told apart.
const SLIP_DAYS: usize = 730;

/// One expert's view of the evidence.
#[derive(Clone, Copy)]
pub(super) struct One<'a> {
    pub(super) laws: &'a LearnedLaws,
    pub(super) levels: &'a Levels,
    /// Its place among the experts.
    pub(super) expert: usize,
    /// Of all weights.
    pub(super) scale: f64,
    /// By how much lead times grew since its orders were placed, as a logarithm.
    pub(super) growth: f64,
}

impl One<'_> {
    pub(super) fn supplier(&self, keys: SupplyKeys) -> Option<&Level> {
        keys.supplier.and_then(|supplier| self.levels.suppliers.get(&supplier))
    }

    pub(super) fn offer(&self, keys: SupplyKeys) -> Option<&Lead> {
        keys.offer.and_then(|offer| self.levels.offers.get(&offer))
    }

    fn strength(&self) -> Strength {
        self.laws.settings.strength
    }

    fn seeing(&self, scale: Scale) -> Seeing {
        Seeing { scale, smoothed: self.laws.settings.smoothed, growth: self.growth }
    }

    /// Lead times in days at a level, its child's left out.
    pub(super) fn days(&self, level: &Lead, child: Option<&Lead>) -> AtRisk {
        let scale = self.scale * level.news.scale(self.expert, child.map(|child| &child.news));
        level.days.seen(
            self.expert,
            child.map(|child| &child.days),
            scale,
            self.seeing(Scale::Days),
        )
    }

    /// Lead times in ratio to the quote at a level, its child's left out.
    pub(super) fn ratios(&self, level: &Lead, child: Option<&Lead>) -> AtRisk {
        let scale = self.scale * level.news.scale(self.expert, child.map(|child| &child.news));
        level.ratio.seen(
            self.expert,
            child.map(|child| &child.ratio),
            scale,
            self.seeing(ratio::SCALE),
        )
    }

    /// Slips or transits at a level, its child's left out; never smoothed.
    pub(super) fn kept(&self, level: &Kept, child: Option<&Kept>) -> AtRisk {
        let scale = self.scale * level.news.scale(self.expert, child.map(|child| &child.news));
        let child = child.map(|child| &child.counts);
        level.counts.seen(self.expert, child, scale, Seeing::PLAIN)
    }

    /// Slips of a supplier's promises of any other notice.
    pub(super) fn other_bands(&self, supplier: &Level, band: usize) -> AtRisk {
        let mut counts = WeightedCounts::default();
        let mut news = PiecesOfNews::default();
        for (at, other) in supplier.slips.iter().enumerate() {
            if at != band {
                counts.merge(&other.counts, 1.0);
                news.add(&other.news);
            }
        }
        let scale = self.scale * news.scale(self.expert, None);
        counts.seen(self.expert, None, scale, Seeing::PLAIN)
    }

    /// The law of an offer with this quote, right up to the day `until`.
    pub(super) fn quoted(&self, keys: SupplyKeys, quote: u32, until: u32) -> DayLaw {
        let law = self.bins(keys).in_first_days(quote, until);
        match self.offer(keys) {
            Some(own) => {
                let mut seen = self.days(own, None);
                let days = usize::try_from(until).unwrap_or(usize::MAX).saturating_add(1);
                seen.events.truncate(days);
                seen.at_risk.truncate(days);
                posterior_law(&law, &seen, self.strength())
            }
            None => law,
        }
    }

    /// What the shop and the supplier say of ratios, the offer's own left out.
    fn bins(&self, keys: SupplyKeys) -> RatioLaw {
        let supplier = self.supplier(keys).map(|level| &level.lead);
        let bins = RatioLaw::log_logistic(DEFAULT_SHAPE)
            .moved_by(&self.ratios(&self.levels.shop.lead, supplier), self.strength());
        match supplier {
            Some(own) => bins.moved_by(&self.ratios(own, self.offer(keys)), self.strength()),
            None => bins,
        }
    }

    /// The law of an offer without a quote.
    pub(super) fn unquoted(&self, keys: SupplyKeys) -> DayLaw {
        let supplier = self.supplier(keys).map(|level| &level.lead);
        let vague = DayLaw::log_logistic(UNQUOTED_MEDIAN_DAYS, UNQUOTED_SHAPE);
        let seen = self.days(&self.levels.shop.lead, supplier);
        let mut law = posterior_law(&vague, &seen, self.strength());
        if let Some(own) = supplier {
            law = posterior_law(&law, &self.days(own, self.offer(keys)), self.strength());
        }
        if let Some(own) = self.offer(keys) {
            law = posterior_law(&law, &self.days(own, None), self.strength());
        }
        law
    }

    pub(super) fn lead_time(&self, keys: SupplyKeys, quote: Option<u32>, until: u32) -> DayLaw {
        match quote {
            Some(quote) => {
                let quote = self.laws.settings.counted_quote(quote.min(QUOTE_DAYS_MAX));
                self.quoted(keys, quote, until)
            }
            None => self.unquoted(keys),
        }
    }

    /// Slips borrow from the supplier's promises of other notice before they borrow from others.
    pub(super) fn promise(
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
        let band = self.laws.settings.band(notice_days);
        let mut told_apart = hazards.split_off(early);
        let supplier = self.supplier(keys);
        let own = supplier.and_then(|level| level.slips.get(band));
        if let Some(shop) = self.levels.shop.slips.get(band) {
            told_apart = posterior(&told_apart, from, &self.kept(shop, own), self.strength());
        }
        if let Some(supplier) = supplier {
            let seen = self.other_bands(supplier, band);
            told_apart = posterior(&told_apart, from, &seen, self.strength());
        }
        if let Some(own) = own {
            told_apart = posterior(&told_apart, from, &self.kept(own, None), self.strength());
        }
        hazards.append(&mut told_apart);
        let tail_hazard = default.law.hazard(shift + days);
        CountedLaw { lead_in_days: 0, law: DayLaw::proper(hazards, tail_hazard) }
    }

    pub(super) fn transit(&self, keys: SupplyKeys) -> DayLaw {
        let supplier = self.supplier(keys).map(|level| &level.transit);
        let seen = self.kept(&self.levels.shop.transit, supplier);
        let law = posterior_law(&DefaultLaws.transit(keys), &seen, self.strength());
        match supplier {
            Some(own) => posterior_law(&law, &self.kept(own, None), self.strength()),
            None => law,
        }
    }
}

impl Laws for One<'_> {
    fn lead_time(&self, keys: SupplyKeys, quoted_days: Option<u32>) -> Option<DayLaw> {
        Some(One::lead_time(self, keys, quoted_days, u32::MAX))
    }

    fn promise(
        &self,
        keys: SupplyKeys,
        notice_days: i64,
        days_to_promise: &dyn Fn(u32) -> i64,
    ) -> CountedLaw {
        One::promise(self, keys, notice_days, days_to_promise)
    }

    fn transit(&self, keys: SupplyKeys) -> DayLaw {
        One::transit(self, keys)
    }

    fn transit_outdoes_promise(&self) -> bool {
        self.laws.transit_outdoes_promise()
    }

    fn transit_closures(&self) -> Closures {
        self.laws.transit_closures.clone()
    }
}

/// A number of days as an index; 0 if negative.
fn day_count_of(days: i64) -> usize {
    usize::try_from(days).unwrap_or(0)
}
