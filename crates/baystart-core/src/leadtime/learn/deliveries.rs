//! What has come so far: how often, when last, and how alike.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::LearnedLaws;
use crate::{calendar::from_day_number, leadtime::SupplyKeys};

/// The deliveries of an offer or a supplier.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Deliveries {
    /// Lines by the day number on which they came.
    days: BTreeMap<i64, u32>,
    /// Lines by the counted days that they took.
    waits: BTreeMap<u32, u32>,
}

impl Deliveries {
    /// One line more (`sign` 1) or less.
    pub(super) fn count(&mut self, on: i64, waited: u32, sign: f64) {
        change(&mut self.days, on, sign);
        change(&mut self.waits, waited, sign);
    }

    /// The waits below which a quarter and three quarters of the lines lie.
    fn middle_half(&self) -> Option<[u32; 2]> {
        let lines: u32 = self.waits.values().sum();
        let at = |rank: u32| {
            let mut before = 0;
            self.waits.iter().find_map(|(wait, lines)| {
                before += lines;
                (before > rank).then_some(*wait)
            })
        };
        let last = lines.checked_sub(1)?;
        Some([at(last / 4)?, at(last - last / 4)?])
    }
}

fn change<K: Ord + Copy>(counts: &mut BTreeMap<K, u32>, at: K, sign: f64) {
    let count = counts.entry(at).or_default();
    *count = if sign > 0.0 { *count + 1 } else { count.saturating_sub(1) };
    if *count == 0 {
        counts.remove(&at);
    }
}

/// What has come of an offer, or of its supplier where nothing came of the offer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CameSoFar {
    /// Whether it speaks of the offer itself.
    pub of_offer: bool,
    /// Days on which anything came: lines of one delivery are one.
    pub times: usize,
    /// The last of them.
    pub last_on: Date,
    /// The counted days within which the middle half of the lines came: a quarter was quicker, a
    /// quarter slower.
    pub middle_half: [u32; 2],
}

impl LearnedLaws {
    /// What has come so far, by what was known; `None`: nothing from this supplier.
    #[must_use]
    pub fn came_so_far(&self, keys: SupplyKeys) -> Option<CameSoFar> {
        let levels = &self.levels;
        let offer = keys.offer.and_then(|offer| levels.offers.get(&offer));
        let supplier = keys.supplier.and_then(|supplier| levels.suppliers.get(&supplier));
        let offer = offer.map(|offer| (true, &offer.deliveries));
        let supplier = supplier.map(|supplier| (false, &supplier.lead.deliveries));
        [offer, supplier].into_iter().flatten().find_map(|(of_offer, came)| {
            let (last, _) = came.days.last_key_value()?;
            Some(CameSoFar {
                of_offer,
                times: came.days.len(),
                last_on: from_day_number(*last)?,
                middle_half: came.middle_half()?,
            })
        })
    }
}
