//! From what is known about one supply to its arrival.

use jiff::civil::Date;

use super::{ArrivalLaw, DefaultLaws, Laws, SupplyKeys, history::PastLine};
use crate::calendar::{Closures, add_days, days_between};

/// A date that the supplier committed to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Promise {
    /// The promised day of receipt.
    pub date: Date,
    /// The day on which the shop learned of it.
    pub known_on: Date,
}

/// What is known about one order line that has not arrived.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OpenSupply {
    /// The day the order was placed, or will be.
    pub placed_on: Date,
    /// The offer's quoted lead time in days, as it stood when the order was placed.
    pub quoted_days: Option<u32>,
    /// The promise in force: the last one made.
    pub promise: Option<Promise>,
    /// The day the goods left.
    pub despatched_on: Option<Date>,
}

impl OpenSupply {
    /// What was known of an order line at the start of `as_of`, as of a supply that is open.
    #[must_use]
    pub fn of_line(line: &PastLine, as_of: Date) -> Self {
        let promise = line.known_promises(as_of).last();
        Self {
            placed_on: line.placed.on,
            quoted_days: line.quoted_days,
            promise: promise.map(|found| Promise { date: found.date, known_on: found.known_on }),
            despatched_on: line.known_despatch(as_of),
        }
    }
}

/// The arrival of an open supply under [`DefaultLaws`]; see [`arrival_cdf_with`].
#[must_use]
pub fn arrival_cdf(
    supply: &OpenSupply,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> Option<ArrivalLaw> {
    arrival_cdf_with(&DefaultLaws, supply, as_of, closures, horizon_days)
}

/// The arrival of an open supply of nobody in particular; see [`arrival_cdf_for`].
#[must_use]
pub fn arrival_cdf_with(
    laws: &impl Laws,
    supply: &OpenSupply,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> Option<ArrivalLaw> {
    arrival_cdf_for(laws, SupplyKeys::default(), supply, as_of, closures, horizon_days)
}

/// The news by which an open supply is dated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum News {
    /// A promise in force.
    Promise(Promise),
    /// The goods left on this day.
    Despatch(Date),
    /// Nothing since it was placed.
    LeadTime,
}

/// Which news decides at the start of `as_of`. Facts dated after it are passed over.
///
/// 1. a promise, unless the goods left after its date had passed, or the laws know transit well;
/// 2. a despatch;
/// 3. the lead time from the day of placing.
#[must_use]
pub fn deciding_news(laws: &impl Laws, supply: &OpenSupply, as_of: Date) -> News {
    deciding(|| laws.transit_outdoes_promise(), supply, as_of)
}

/// [`deciding_news`] where it is asked of many supplies: `outdoes` says whether transit outdoes a
/// promise still in force, and is asked only where both are known.
pub(super) fn deciding(outdoes: impl FnOnce() -> bool, supply: &OpenSupply, as_of: Date) -> News {
    let promise = supply.promise.filter(|promise| promise.known_on <= as_of);
    let despatched_on = supply.despatched_on.filter(|day| *day <= as_of);
    match (promise, despatched_on) {
        (Some(promise), None) => News::Promise(promise),
        (Some(promise), Some(left))
            if (promise.known_on >= left || promise.date >= left) && !outdoes() =>
        {
            News::Promise(promise)
        }
        (_, Some(left)) => News::Despatch(left),
        (None, None) => News::LeadTime,
    }
}

/// The arrival of an open supply over the calendar days `as_of` to `as_of + horizon_days`.
///
/// It speaks at the start of `as_of`: the supply had not come by the day before, today's delivery is
/// still possible. [`deciding_news`] says by which news; transit is counted in the days of
/// [`Laws::transit_closures`], all else outside `closures`.
///
/// `None` if there is no news and no law of lead times: the supply has no date.
#[must_use]
pub fn arrival_cdf_for(
    laws: &impl Laws,
    keys: SupplyKeys,
    supply: &OpenSupply,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> Option<ArrivalLaw> {
    match deciding_news(laws, supply, as_of) {
        News::Promise(promise) => {
            Some(promised(laws, keys, promise, as_of, closures, horizon_days))
        }
        News::Despatch(left) => {
            let open = laws.transit_closures();
            Some(ArrivalLaw::counted(&laws.transit(keys), left, &open, as_of, horizon_days))
        }
        News::LeadTime => {
            let law = laws.lead_time(keys, supply.quoted_days)?;
            let power = laws.batch_power(keys, supply);
            let start = supply.placed_on;
            Some(ArrivalLaw::counted_to_the(power, &law, start, closures, as_of, horizon_days))
        }
    }
}

/// The arrival by a promise; see [`arrival_cdf_for`].
pub(super) fn promised(
    laws: &impl Laws,
    keys: SupplyKeys,
    promise: Promise,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> ArrivalLaw {
    let start = |lead_in_days: u32| {
        add_days(promise.known_on, -i64::from(lead_in_days)).unwrap_or(promise.known_on)
    };
    // A date promised inside a closure means the day on which the supplier is back.
    let due = closures.first_open(promise.date).unwrap_or(promise.date);
    let notice_days = days_between(promise.known_on, promise.date);
    let counted = laws.promise(keys, notice_days, &|lead_in_days| {
        closures.open_days_between(start(lead_in_days), due)
    });
    ArrivalLaw::counted(&counted.law, start(counted.lead_in_days), closures, as_of, horizon_days)
}

/// The arrival of a shortage under [`DefaultLaws`]; see [`not_ordered_with`].
#[must_use]
pub fn not_ordered(
    order_on: Date,
    quoted_days: Option<u32>,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> Option<ArrivalLaw> {
    not_ordered_with(&DefaultLaws, order_on, quoted_days, as_of, closures, horizon_days)
}

/// The arrival of a shortage of nobody in particular; see [`not_ordered_for`].
#[must_use]
pub fn not_ordered_with(
    laws: &impl Laws,
    order_on: Date,
    quoted_days: Option<u32>,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> Option<ArrivalLaw> {
    let placed_on = order_on.max(as_of);
    let supply = OpenSupply { placed_on, quoted_days, promise: None, despatched_on: None };
    arrival_cdf_with(laws, &supply, as_of, closures, horizon_days)
}

/// The arrival of what will be ordered on `order_on` (today, if that is past): nothing before.
///
/// `None` if there is neither a quote nor a law without one: the shortage has no date.
#[must_use]
pub fn not_ordered_for(
    laws: &impl Laws,
    keys: SupplyKeys,
    order_on: Date,
    quoted_days: Option<u32>,
    as_of: Date,
    closures: &Closures,
    horizon_days: u32,
) -> Option<ArrivalLaw> {
    let placed_on = order_on.max(as_of);
    let supply = OpenSupply { placed_on, quoted_days, promise: None, despatched_on: None };
    arrival_cdf_for(laws, keys, &supply, as_of, closures, horizon_days)
}
