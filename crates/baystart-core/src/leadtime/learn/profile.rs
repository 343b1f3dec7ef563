//! What a parts manager asks of a supplier or an offer: the evidence, counted.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{LearnSettings, stale::Patience};
use crate::{
    calendar::{Closures, add_days, days_between},
    leadtime::{
        estimate::{Counts, Observation, greenwood},
        history::{History, PastLine, Standing},
    },
};

/// Calendar days of "the last year".
const YEAR_DAYS: i64 = 365;

/// Lead times by Kaplan and Meier: open orders count as far as they have waited.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reach {
    /// Orders placed.
    pub orders: usize,
    /// Calendar days outside closures within which half came; `None`: not yet half.
    pub days_50: Option<usize>,
    /// Within which 80 % came.
    pub days_80: Option<usize>,
    /// Within which 95 % came.
    pub days_95: Option<usize>,
}

/// Plain counts of the orders of one supplier or offer, nothing borrowed and nothing weighted.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Profile {
    /// All orders.
    pub all: Reach,
    /// Orders placed within the last year.
    pub last_year: Reach,
    /// Orders placed before that.
    pub before: Reach,
    /// S(t) and its Greenwood standard error by day, all orders.
    pub survival: Vec<(f64, f64)>,
    /// Orders still open.
    pub open: usize,
    /// Open orders that count as stale.
    pub stale: usize,
    /// Orders that came.
    pub received: usize,
    /// Orders that we cancelled.
    pub withdrawn: usize,
    /// Orders that the supplier cancelled.
    pub failures: usize,
    /// Orders of which goods were rejected, whatever came of them then.
    pub rejected: usize,
    /// Promised orders that came, in full, by their first promise.
    pub on_time: usize,
    /// Promised orders that came, or whose first promise has passed.
    pub promised: usize,
    /// Median slip in days of the orders that came, against the first promise.
    pub slip_days_50: Option<i64>,
}

/// The profile of the lines that `belongs` picks, at the start of `as_of`.
#[must_use]
pub fn profile(
    history: &History,
    as_of: Date,
    settings: &LearnSettings,
    belongs: impl Fn(&PastLine) -> bool,
) -> Profile {
    let mut found = profiles(history, as_of, settings, |line| belongs(line).then_some(()));
    found.remove(&()).unwrap_or_default()
}

/// The profile of each group of lines, at the start of `as_of`; lines without a group are passed
/// over. O(lines) for all groups together.
#[must_use]
pub fn profiles<K: Ord>(
    history: &History,
    as_of: Date,
    settings: &LearnSettings,
    group: impl Fn(&PastLine) -> Option<K>,
) -> BTreeMap<K, Profile> {
    let none = Closures::none();
    let patience = Patience::of(history, as_of, settings.stale_after_days);
    let mut groups: BTreeMap<K, Tally> = BTreeMap::new();
    for line in history.lines.iter().filter(|line| line.is_known(as_of)) {
        let Some(key) = group(line) else {
            continue;
        };
        let closures = history.closures.get(&line.supplier).unwrap_or(&none);
        groups.entry(key).or_default().add(line, as_of, closures, &patience);
    }
    groups.into_iter().map(|(key, tally)| (key, tally.profile())).collect()
}

/// A profile that is being counted.
#[derive(Default)]
struct Tally {
    found: Profile,
    all: Counts,
    last_year: Counts,
    before: Counts,
    slips: Vec<i64>,
}

impl Tally {
    fn add(&mut self, line: &PastLine, as_of: Date, closures: &Closures, patience: &Patience) {
        let found = &mut self.found;
        let standing = line.standing(as_of);
        let (end, event) = match standing {
            Standing::Received(on) => (on, true),
            Standing::Withdrawn(on) | Standing::Failed(on) => (on, false),
            Standing::Open { last_news_on, expected_on } => {
                let stale = patience.is_stale(line, expected_on, as_of);
                found.stale += usize::from(stale);
                let yesterday = add_days(as_of, -1).unwrap_or(as_of);
                (if stale { last_news_on } else { yesterday }, false)
            }
        };
        match standing {
            Standing::Received(_) => found.received += 1,
            Standing::Withdrawn(_) => found.withdrawn += 1,
            Standing::Failed(_) => found.failures += 1,
            Standing::Open { .. } => found.open += 1,
        }
        found.rejected += usize::from(line.rejected);
        found.all.orders += 1;
        let (era, reach) = match days_between(line.placed.on, as_of) <= YEAR_DAYS {
            true => (&mut self.last_year, &mut found.last_year),
            false => (&mut self.before, &mut found.before),
        };
        reach.orders += 1;
        let waited = |on: Date| u32::try_from(closures.open_days_between(line.placed.on, on));
        if let Ok(day) = waited(end) {
            let entry_day = line.unwatched_until().and_then(|on| waited(on).ok());
            let seen = Observation { entry_day, day, event, weight: 1.0 };
            self.all.add(&seen);
            era.add(&seen);
        }
        let first = line.known_promises(as_of).next();
        // A promise that had been kept before the line was taken over is on no record, so one that
        // was broken by then must not count either.
        let judged = |date: Date| line.taken_over_on.is_none_or(|day| date >= day);
        if let Some(first) = first.filter(|first| judged(first.date)) {
            let slip = event.then(|| days_between(first.date, end));
            found.promised += usize::from(slip.is_some() || first.date < as_of);
            found.on_time += usize::from(slip.is_some_and(|days| days <= 0));
            self.slips.extend(slip);
        }
    }

    fn profile(mut self) -> Profile {
        self.found.survival = greenwood(&self.all.at_risk(None, 1.0));
        fill(&mut self.found.all, &self.all);
        fill(&mut self.found.last_year, &self.last_year);
        fill(&mut self.found.before, &self.before);
        self.slips.sort_unstable();
        self.found.slip_days_50 = self.slips.get(self.slips.len() / 2).copied();
        self.found
    }
}

fn fill(reach: &mut Reach, counts: &Counts) {
    let survival = greenwood(&counts.at_risk(None, 1.0));
    let within = |p: f64| survival.iter().position(|(s, _)| 1.0 - s >= p - 1e-12);
    reach.days_50 = within(0.5);
    reach.days_80 = within(0.8);
    reach.days_95 = within(0.95);
}
