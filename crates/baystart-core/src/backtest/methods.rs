//! The learned forecast and the baselines it must beat.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::BacktestPlan;
use crate::{
    calendar::{add_days, days_between},
    leadtime::{
        DayLaw, OpenSupply, Promise, SupplyKeys,
        estimate::{Counts, Observation, Strength, posterior_law},
        history::{History, PastLine, Standing},
        learn::{LearnSettings, LearnedLaws},
    },
};

/// A way to forecast one arrival.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Method {
    /// The laws learned from history.
    Learned,
    /// The same by one expert alone, by its place in [`HALF_LIVES_DAYS`]: what a half-life set by
    /// hand would have forecast. Only where the settings are tuned.
    Fixed(usize),
    /// The quote, taken at its word.
    Quote,
    /// The promise in force, taken at its word; the quote where there is none.
    BarePromise,
    /// The median of the supplier's received orders, as a point.
    SupplierMedian,
    /// The learned laws, from received orders only.
    CompletedOnly,
    /// One Kaplan-Meier curve for all orders of the shop, in days.
    PooledKaplanMeier,
}

impl Method {
    /// All, the learned first.
    pub const ALL: [Self; 10] = [
        Self::Learned,
        Self::Fixed(0),
        Self::Fixed(1),
        Self::Fixed(2),
        Self::Fixed(3),
        Self::Quote,
        Self::BarePromise,
        Self::SupplierMedian,
        Self::CompletedOnly,
        Self::PooledKaplanMeier,
    ];

    /// In the trade's words.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Self::Learned => "learned",
            Self::Fixed(0) => "half-life 60 days",
            Self::Fixed(1) => "half-life 180 days",
            Self::Fixed(2) => "half-life 540 days",
            Self::Fixed(_) => "half-life 1,620 days",
            Self::Quote => "quote",
            Self::BarePromise => "bare promise",
            Self::SupplierMedian => "supplier's median",
            Self::CompletedOnly => "completed orders only",
            Self::PooledKaplanMeier => "pooled Kaplan-Meier",
        }
    }
}

/// What every method knew on one forecast day.
pub(super) struct Knowledge<'a> {
    as_of: Date,
    plan: BacktestPlan,
    pub(super) learned: &'a LearnedLaws,
    others: Option<Baselines>,
}

struct Baselines {
    completed_only: LearnedLaws,
    pooled: DayLaw,
    supplier_medians: BTreeMap<u32, i64>,
}

impl<'a> Knowledge<'a> {
    pub(super) fn at(history: &History, learned: &'a LearnedLaws, plan: &BacktestPlan) -> Self {
        let as_of = learned.as_of();
        let others = plan.baselines.then(|| {
            let completed_only =
                LearnSettings { completed_only: true, tuned: false, ..*learned.settings() };
            let (pooled, supplier_medians) = pool(history, as_of);
            Baselines {
                completed_only: LearnedLaws::learn(history, as_of, &completed_only),
                pooled,
                supplier_medians,
            }
        });
        Self { as_of, plan: *plan, learned, others }
    }

    /// P(arrived by the end of the forecast day + c), c = 0, 1, ... to the horizon; `None` if the
    /// method has nothing to say.
    pub(super) fn cdf(&self, method: Method, line: &PastLine) -> Option<Vec<f64>> {
        let quote = || line.quoted_days.and_then(|days| add_days(line.placed.on, days.into()));
        match method {
            Method::Learned => self.by_laws(self.learned, line),
            Method::Fixed(expert) => {
                let (keys, supply) = (keys(line), supply(line, self.as_of));
                let law = self.learned.arrival_by(expert, keys, &supply, self.plan.horizon_days)?;
                Some(law.cdf().to_vec())
            }
            Method::CompletedOnly => self.by_laws(&self.others.as_ref()?.completed_only, line),
            Method::Quote => Some(self.point(quote()?)),
            Method::BarePromise => {
                let promise = line.known_promises(self.as_of).last().map(|promise| promise.date);
                Some(self.point(promise.or_else(quote)?))
            }
            Method::SupplierMedian => {
                let median = self.others.as_ref()?.supplier_medians.get(&line.supplier);
                let on = median.and_then(|days| add_days(line.placed.on, *days));
                Some(self.point(on.or_else(quote)?))
            }
            Method::PooledKaplanMeier => {
                let age = usize::try_from(days_between(line.placed.on, self.as_of)).unwrap_or(0);
                Some(self.others.as_ref()?.pooled.conditional(age, self.plan.days()))
            }
        }
    }

    fn by_laws(&self, laws: &LearnedLaws, line: &PastLine) -> Option<Vec<f64>> {
        let keys = keys(line);
        let supply = supply(line, self.as_of);
        let law = laws.arrival(keys, &supply, self.as_of, self.plan.horizon_days)?;
        Some(law.cdf().to_vec())
    }

    /// Certain on `date`, or today if that is past.
    fn point(&self, date: Date) -> Vec<f64> {
        let offset = usize::try_from(days_between(self.as_of, date)).unwrap_or(0);
        (0..self.plan.days()).map(|c| f64::from(u8::from(c >= offset))).collect()
    }
}

pub(super) fn keys(line: &PastLine) -> SupplyKeys {
    SupplyKeys { supplier: Some(line.supplier), offer: Some(line.offer), order: line.order }
}

/// What was known of an open line at the start of `as_of`.
pub(super) fn supply(line: &PastLine, as_of: Date) -> OpenSupply {
    let promise = line.known_promises(as_of).last();
    OpenSupply {
        placed_on: line.placed.on,
        quoted_days: line.quoted_days,
        promise: promise.map(|found| Promise { date: found.date, known_on: found.known_on }),
        despatched_on: line.known_despatch(as_of),
    }
}

/// One curve over all orders in calendar days, and each supplier's median of received orders.
fn pool(history: &History, as_of: Date) -> (DayLaw, BTreeMap<u32, i64>) {
    let mut counts = Counts::default();
    let mut received: BTreeMap<u32, Vec<i64>> = BTreeMap::new();
    for line in history.lines.iter().filter(|line| line.is_known(as_of)) {
        let (end, event) = match line.standing(as_of) {
            Standing::Received(on) => (Some(on), true),
            Standing::Withdrawn(on) | Standing::Failed(on) => (Some(on), false),
            Standing::Open { .. } => (add_days(as_of, -1), false),
        };
        let waited = end.map_or(-1, |end| days_between(line.placed.on, end));
        let Ok(day) = u32::try_from(waited) else {
            continue;
        };
        counts.add(&Observation { entry_day: None, day, event, weight: 1.0 });
        if event {
            received.entry(line.supplier).or_default().push(waited);
        }
    }
    let mut medians = BTreeMap::new();
    for (supplier, mut days) in received {
        days.sort_unstable();
        if let Some(median) = days.get(days.len() / 2) {
            medians.insert(supplier, *median);
        }
    }
    let alone = Strength { orders: 0.0, tail_exponent: 0.0 };
    let parent = DayLaw::log_logistic(30, 4);
    (posterior_law(&parent, &counts.at_risk(None, 1.0), alone), medians)
}
