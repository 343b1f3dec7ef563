//! Which law holds for which kind of news, and the laws used where no history is known.

use super::{DayLaw, OpenSupply};
use crate::calendar::Closures;

/// Longest quote or promise that the default laws tell apart, in days: ten years.
pub const QUOTE_DAYS_MAX: u32 = 3_650;

const LEAD_TIME_SHAPE: u32 = 4;
const PROMISE_SHAPE: u32 = 8;
pub(super) const PROMISE_LEAD_IN_DAYS: u32 = 7;
const TRANSIT_MEDIAN_DAYS: u32 = 3;
const TRANSIT_SHAPE: u32 = 4;

/// A law together with the day from which it counts.
#[derive(Debug, Clone, PartialEq)]
pub struct CountedLaw {
    /// Calendar days before the news by which the count began.
    pub lead_in_days: u32,
    /// The law, counted from there.
    pub law: DayLaw,
}

/// Whose evidence speaks for a supply: keys that the caller gave when history was learned.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct SupplyKeys {
    /// The supplier; `None`: unknown, the shop as a whole speaks.
    pub supplier: Option<u32>,
    /// The supplier's offer for the part; `None`: unknown, the supplier as a whole speaks.
    pub offer: Option<u32>,
    /// The order that the line stands in ([`super::history::order_key`]); `None`: unknown, or not
    /// ordered yet.
    pub order: Option<u64>,
}

/// The laws that hold for one supply: the seam between default and learned lead times.
pub trait Laws {
    /// Days from placing the order, outside the supplier's closures; `None` if nothing is known.
    fn lead_time(&self, keys: SupplyKeys, quoted_days: Option<u32>) -> Option<DayLaw>;

    /// Days until a promised receipt, outside the supplier's closures.
    ///
    /// `notice_days` are the calendar days from the day the promise became known to its date.
    /// `days_to_promise` gives, for a number of lead-in days before the promise became known, the
    /// open days from there to the promise date; negative if the date had passed by then.
    fn promise(
        &self,
        keys: SupplyKeys,
        notice_days: i64,
        days_to_promise: &dyn Fn(u32) -> i64,
    ) -> CountedLaw;

    /// Days from despatch, outside [`Self::transit_closures`].
    fn transit(&self, keys: SupplyKeys) -> DayLaw;

    /// Whether a despatch speaks before a promise whose date has not passed.
    fn transit_outdoes_promise(&self) -> bool {
        false
    }

    /// The power r to which each day's chance of not coming is raised where only the lead time
    /// speaks, 1 - h' = (1 - h)^r, by what came of the lines placed with this one: 1, they say
    /// nothing.
    fn batch_power(&self, _keys: SupplyKeys, _supply: &OpenSupply) -> f64 {
        1.0
    }

    /// The days that do not count on the way: none, the supplier's closures no longer matter.
    fn transit_closures(&self) -> Closures {
        Closures::none()
    }
}

/// Defaults chosen by judgement, not learned from any order.
///
/// - Lead time: log-logistic, median the quoted lead time, shape 4 (80 % by 1.41 times and 95 % by
///   2.09 times the quote).
/// - Promise: log-logistic counted from 7 days before the promise became known, median on the
///   promise date, shape 8.
/// - Transit: log-logistic, median 3 days, shape 4.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct DefaultLaws;

impl Laws for DefaultLaws {
    fn lead_time(&self, _: SupplyKeys, quoted_days: Option<u32>) -> Option<DayLaw> {
        let median_days = quoted_days?.min(QUOTE_DAYS_MAX);
        Some(DayLaw::log_logistic(median_days, LEAD_TIME_SHAPE))
    }

    fn promise(&self, _: SupplyKeys, _: i64, days_to_promise: &dyn Fn(u32) -> i64) -> CountedLaw {
        let days = days_to_promise(PROMISE_LEAD_IN_DAYS).max(0);
        let median_days = u32::try_from(days).unwrap_or(u32::MAX).min(QUOTE_DAYS_MAX);
        let law = DayLaw::log_logistic(median_days, PROMISE_SHAPE);
        CountedLaw { lead_in_days: PROMISE_LEAD_IN_DAYS, law }
    }

    fn transit(&self, _: SupplyKeys) -> DayLaw {
        DayLaw::log_logistic(TRANSIT_MEDIAN_DAYS, TRANSIT_SHAPE)
    }
}
