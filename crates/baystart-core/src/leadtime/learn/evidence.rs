//! How much stands behind an answer, and whose evidence it is.

use jiff::civil::Date;

use super::{
    LearnedLaws,
    levels::{Lead, SLIP_ORIGIN},
    one::One,
};
use crate::{
    calendar::days_between,
    leadtime::{
        News, OpenSupply, SupplyKeys, deciding_news,
        estimate::{AtRisk, ratio::bin_at_age},
    },
};

/// The evidence behind a law at one age and beyond.
///
/// Effective numbers are `(sum w)^2 / sum w^2` of the orders that were waiting at that age or
/// longer: 0 means that nothing so old was ever seen there. The shares say how the hazard of that
/// age is mixed, and sum to 1.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Evidence {
    /// Effective number of the offer's own orders; 0 for promises and transit, which are not kept
    /// by offer.
    pub offer_orders: f64,
    /// Effective number of the supplier's orders, the offer's left out.
    pub supplier_orders: f64,
    /// Effective number of the shop's orders, the supplier's left out.
    pub shop_orders: f64,
    /// Share of the offer's own orders in the answer.
    pub offer_share: f64,
    /// Share borrowed from the supplier's other orders.
    pub supplier_share: f64,
    /// Share borrowed from the shop's other suppliers.
    pub shop_share: f64,
    /// Share of the default law.
    pub default_share: f64,
}

impl Evidence {
    /// Effective number of all orders that speak at this age.
    #[must_use]
    pub fn orders(&self) -> f64 {
        self.offer_orders + self.supplier_orders + self.shop_orders
    }
}

impl LearnedLaws {
    /// What stands behind the lead time of an offer for an order that has waited `age_days` counted
    /// days (0: a new order).
    #[must_use]
    pub fn lead_time_evidence(
        &self,
        keys: SupplyKeys,
        quoted_days: Option<u32>,
        age_days: usize,
    ) -> Evidence {
        let reckon = || self.reckon_evidence(keys, quoted_days, age_days);
        self.made.evidence(keys, (quoted_days, age_days), reckon)
    }

    fn reckon_evidence(
        &self,
        keys: SupplyKeys,
        quoted_days: Option<u32>,
        age_days: usize,
    ) -> Evidence {
        self.heard(&self.tuning.lead, |one| {
            let shop = &one.levels.shop.lead;
            let supplier = one.supplier(keys).map(|level| &level.lead);
            let offer = one.offer(keys);
            let own = offer.map(|lead| one.days(lead, None)).unwrap_or_default();
            let in_ratio = quoted_days.is_some();
            let seen = |level: &Lead, child: Option<&Lead>| match in_ratio {
                true => one.ratios(level, child),
                false => one.days(level, child),
            };
            let at = match quoted_days {
                Some(quote) => bin_at_age(self.settings.counted_quote(quote), age_days),
                None => age_days,
            };
            let above_supplier = supplier.map(|lead| seen(lead, offer)).unwrap_or_default();
            let above_shop = seen(shop, supplier);
            self.shares([(&own, age_days), (&above_supplier, at), (&above_shop, at)])
        })
    }

    /// Shares by the weight at risk against the prior strength, which is taken at its full value:
    /// where the prior fades with its tail (g > 0) a little more is own evidence than stated.
    fn shares(&self, levels: [(&AtRisk, usize); 3]) -> Evidence {
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

    /// The weighted mean of what stands behind each expert.
    fn heard(&self, weights: &[f64], of: impl Fn(&One<'_>) -> Evidence) -> Evidence {
        let mut sum = Evidence::default();
        for (weight, one) in self.weighted(weights) {
            let found = of(&one);
            sum.offer_orders += weight * found.offer_orders;
            sum.supplier_orders += weight * found.supplier_orders;
            sum.shop_orders += weight * found.shop_orders;
            sum.offer_share += weight * found.offer_share;
            sum.supplier_share += weight * found.supplier_share;
            sum.shop_share += weight * found.shop_share;
            sum.default_share += weight * found.default_share;
        }
        sum
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
                self.heard(&self.tuning.slips, |one| {
                    let supplier = one.supplier(keys);
                    let own = supplier.and_then(|level| level.slips.get(band));
                    let seen = own.map(|own| one.kept(own, None)).unwrap_or_default();
                    let near = supplier.map(|level| one.other_bands(level, band));
                    let shop = one.levels.shop.slips.get(band);
                    let shop = shop.map(|shop| one.kept(shop, own)).unwrap_or_default();
                    let near = near.unwrap_or_default();
                    let mut found = self.shares([(&seen, at), (&near, at), (&shop, at)]);
                    // Promises are not kept by offer: both are the supplier's.
                    found.supplier_orders += std::mem::take(&mut found.offer_orders);
                    found.supplier_share += std::mem::take(&mut found.offer_share);
                    found
                })
            }
            News::Despatch(left) => {
                let age = self.transit_closures.open_days_between(left, as_of);
                let at = usize::try_from(age).unwrap_or(0);
                self.heard(&self.tuning.transit, |one| {
                    let own = one.supplier(keys).map(|level| &level.transit);
                    let seen = own.map(|own| one.kept(own, None)).unwrap_or_default();
                    let others = one.kept(&one.levels.shop.transit, own);
                    self.shares([(&AtRisk::default(), at), (&seen, at), (&others, at)])
                })
            }
            News::LeadTime => {
                let age = closures.open_days_between(supply.placed_on, as_of);
                let age = usize::try_from(age).unwrap_or(0);
                self.lead_time_evidence(keys, supply.quoted_days, age)
            }
        }
    }
}
