//! Every order line ever placed, with the day of each fact and the day it was recorded.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::calendar::{Closures, add_days};
use crate::ids::SupplierId;

/// The day a fact happened and the day it was entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fact {
    /// When it happened.
    pub on: Date,
    /// When it was entered: nobody knew it before.
    pub recorded_on: Date,
}

/// A promise date with the day on which it became known and the day it was entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PastPromise {
    /// The date the supplier committed to.
    pub date: Date,
    /// When the shop learned of it.
    pub known_on: Date,
    /// When it was entered.
    pub recorded_on: Date,
}

/// Who cancelled a line: two different facts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CancelledBy {
    /// We no longer wanted it: the wait is censored.
    Us,
    /// The supplier failed: counted apart.
    Supplier,
}

/// One order line of the past, or one that is still open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PastLine {
    /// The caller's key of the supplier.
    pub supplier: u32,
    /// The caller's key of the offer (supplier and part); unique over all suppliers.
    pub offer: u32,
    /// [`order_key`] of the order that the line stood in; `None`: not on record.
    pub order: Option<u64>,
    /// The quoted lead time in calendar days, as it stood when the order was placed.
    pub quoted_days: Option<u32>,
    /// The day of placing.
    pub placed: Fact,
    /// The day on which the shop took the line over because it was still open, as from a sheet of
    /// open orders: had it come before, it would not be on record, so that its waiting until then
    /// proves nothing (delayed entry). `None`: on record whatever became of it.
    pub taken_over_on: Option<Date>,
    /// Goods of it were rejected, whatever came of it then.
    pub rejected: bool,
    /// In the order in which they became known.
    pub promises: Vec<PastPromise>,
    /// The goods left.
    pub despatched: Option<Fact>,
    /// The ordered quantity was received and usable.
    pub completed: Option<Fact>,
    /// It was cancelled.
    pub cancelled: Option<(CancelledBy, Fact)>,
    /// Days on which it was truly known to be open: contacts, part receipts, counts of open orders.
    pub contacts: Vec<Fact>,
}

/// A shop's order lines and its suppliers' closures.
#[derive(Debug, Clone, Default)]
pub struct History {
    /// The lines, in any order.
    pub lines: Vec<PastLine>,
    /// Closures by the caller's key of the supplier; none where missing.
    pub closures: BTreeMap<u32, Closures>,
}

/// How a line stood, by what was known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Received on this day.
    Received(Date),
    /// Cancelled by us on this day.
    Withdrawn(Date),
    /// Cancelled by the supplier on this day.
    Failed(Date),
    /// Neither received nor cancelled.
    Open {
        /// The last day on which it was truly known to be open.
        last_news_on: Date,
        /// The day it was last expected: the promise in force, else by the quote, else the last news.
        expected_on: Date,
    },
}

impl History {
    /// How many lines say anything at the start of `as_of`.
    #[must_use]
    pub fn lines_watched(&self, as_of: Date) -> usize {
        self.lines.iter().filter(|line| line.is_watched(as_of)).count()
    }

    /// The quote in calendar days on which a group of orders stood, by the caller's key: the median
    /// over the lines that had one; lines without a key are passed over.
    #[must_use]
    pub fn median_quotes<K: Ord>(
        &self,
        group: impl Fn(&PastLine) -> Option<K>,
    ) -> BTreeMap<K, u32> {
        let mut quotes: BTreeMap<K, Vec<u32>> = BTreeMap::new();
        for line in &self.lines {
            if let (Some(key), Some(days)) = (group(line), line.quoted_days) {
                quotes.entry(key).or_default().push(days);
            }
        }
        quotes.into_iter().filter_map(|(key, days)| Some((key, median(days)?))).collect()
    }

    /// The quote in calendar days of each offer's last order that had one, by the day of placing.
    #[must_use]
    pub fn last_quotes(&self) -> BTreeMap<u32, u32> {
        let mut last: BTreeMap<u32, (Date, u32)> = BTreeMap::new();
        for line in &self.lines {
            let Some(days) = line.quoted_days else { continue };
            let kept = last.entry(line.offer).or_insert((line.placed.on, days));
            if line.placed.on >= kept.0 {
                *kept = (line.placed.on, days);
            }
        }
        last.into_iter().map(|(offer, (_, days))| (offer, days)).collect()
    }

    /// The history as it is known now: whatever stands in it counts from the day it happened, though
    /// it was entered later. For forecasts of today; a backtest must not know so much.
    #[must_use]
    pub fn known_now(mut self) -> Self {
        for line in &mut self.lines {
            let facts = [&mut line.placed].into_iter().chain(line.despatched.as_mut());
            let facts = facts.chain(line.completed.as_mut()).chain(&mut line.contacts);
            let facts = facts.chain(line.cancelled.as_mut().map(|(_, fact)| fact));
            for fact in facts {
                fact.recorded_on = fact.on;
            }
            for promise in &mut line.promises {
                promise.recorded_on = promise.known_on;
            }
        }
        self
    }
}

impl PastLine {
    /// Whether the line was known at the start of `as_of`.
    #[must_use]
    pub fn is_known(&self, as_of: Date) -> bool {
        known(&self.placed, as_of)
    }

    /// Whether it says anything at the start of `as_of`: it was known, and watched for a day at least.
    #[must_use]
    pub fn is_watched(&self, as_of: Date) -> bool {
        self.is_known(as_of) && self.taken_over_on.is_none_or(|day| day < as_of)
    }

    /// The last day of which nothing can be learned, since the line would not be on record had it
    /// come by then.
    #[must_use]
    pub fn unwatched_until(&self) -> Option<Date> {
        let before = add_days(self.taken_over_on?, -1)?;
        (before >= self.placed.on).then_some(before)
    }

    /// The promises known at the start of `as_of`.
    pub fn known_promises(&self, as_of: Date) -> impl Iterator<Item = &PastPromise> {
        self.promises
            .iter()
            .filter(move |promise| promise.known_on < as_of && promise.recorded_on < as_of)
    }

    /// The day of despatch, if known at the start of `as_of`.
    #[must_use]
    pub fn known_despatch(&self, as_of: Date) -> Option<Date> {
        self.despatched.filter(|fact| known(fact, as_of)).map(|fact| fact.on)
    }

    /// Whether nothing else was known of `other` at the start of `as_of` than of this line.
    #[must_use]
    pub fn is_known_as(&self, other: &Self, as_of: Date) -> bool {
        let fact = |fact: Option<Fact>| fact.filter(|fact| known(fact, as_of));
        let facts = |line: &Self| {
            let cancelled = line.cancelled.filter(|(_, fact)| known(fact, as_of));
            (fact(Some(line.placed)), fact(line.despatched), fact(line.completed), cancelled)
        };
        let whose = |line: &Self| {
            (line.supplier, line.offer, line.order, line.quoted_days, line.taken_over_on)
        };
        let contacts = |line: &Self| -> Vec<Fact> {
            line.contacts.iter().filter(|fact| known(fact, as_of)).copied().collect()
        };
        facts(self) == facts(other)
            && (!self.is_known(as_of) || whose(self) == whose(other))
            && contacts(self) == contacts(other)
            && self.known_promises(as_of).eq(other.known_promises(as_of))
    }

    /// How the line stood at the start of `as_of`, by what was recorded before it.
    #[must_use]
    pub fn standing(&self, as_of: Date) -> Standing {
        if let Some(fact) = self.completed.filter(|fact| known(fact, as_of)) {
            return Standing::Received(fact.on);
        }
        if let Some((by, fact)) = self.cancelled.filter(|(_, fact)| known(fact, as_of)) {
            return match by {
                CancelledBy::Us => Standing::Withdrawn(fact.on),
                CancelledBy::Supplier => Standing::Failed(fact.on),
            };
        }
        let mut last_news_on = self.placed.on;
        for promise in self.known_promises(as_of) {
            last_news_on = last_news_on.max(promise.known_on);
        }
        for contact in self.contacts.iter().filter(|fact| known(fact, as_of)) {
            last_news_on = last_news_on.max(contact.on);
        }
        if let Some(left) = self.known_despatch(as_of) {
            last_news_on = last_news_on.max(left);
        }
        Standing::Open { last_news_on, expected_on: self.expected_on(as_of).max(last_news_on) }
    }

    /// The day it was expected by what was known at the start of `as_of`: the last promise, else by
    /// the quote, else the day of placing.
    #[must_use]
    pub fn expected_on(&self, as_of: Date) -> Date {
        let quote = self.quoted_days.map(i64::from).and_then(|days| add_days(self.placed.on, days));
        let promised = self.known_promises(as_of).last().map(|promise| promise.date);
        promised.or(quote).unwrap_or(self.placed.on)
    }
}

/// The upper median; `None` of nothing.
#[must_use]
pub fn median(mut days: Vec<u32>) -> Option<u32> {
    days.sort_unstable();
    days.get(days.len() / 2).copied()
}

/// A key of an order by its supplier and the normal form of its number, the same in every process
/// and release (FNV-1a, 64 bits: Fowler, Noll and Vo). Two orders of one key would be taken for one;
/// of a million orders no two are, but for one chance in 37 million.
#[must_use]
pub fn order_key(supplier: SupplierId, number: &str) -> u64 {
    let bytes = supplier.0.as_bytes().iter().chain(number.as_bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash: u64, byte| {
        (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// At the start of a day only what happened and was entered before it is known.
fn known(fact: &Fact, as_of: Date) -> bool {
    fact.on < as_of && fact.recorded_on < as_of
}
