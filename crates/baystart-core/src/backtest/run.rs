//! The walk forward.

use std::{collections::BTreeMap, ops::ControlFlow};

use jiff::civil::Date;

use super::{
    AGE_BANDS, BacktestPlan, DatesKept, LEVELS, Method, Report, Slice, age_band,
    builds::{Builds, OpenOrder},
    methods::{Knowledge, keys},
    outcome::{Outcome, outcome},
    report,
    tally::Tally,
};
use crate::{
    calendar::days_between,
    forecast::{CommonCause, LateTogether, RhoError, normal_quantile},
    leadtime::{
        SupplyKeys,
        history::{History, PastLine, Standing},
        learn::{self, LearnSettings, LearnedLaws, Patience},
    },
    score::{mid_pit, stated_quantile},
};

/// One learned forecast with its outcome.
pub struct Forecasted<'a> {
    /// The order's place in the history.
    pub line: usize,
    /// The forecast day.
    pub as_of: Date,
    /// P(arrived) by calendar day from the forecast day.
    pub cdf: &'a [f64],
    /// Days until it came; `None`: later than the horizon.
    pub came: Option<usize>,
    /// The laws by which it was forecast.
    pub laws: &'a LearnedLaws,
    /// Whose evidence spoke.
    pub keys: SupplyKeys,
}

/// What the caller of [`run`] is told on the way.
pub enum Event<'a> {
    /// So many of so many forecast days are done.
    Progress {
        /// Days done.
        done: usize,
        /// Days in all.
        days: usize,
    },
    /// A learned forecast was scored.
    Forecasted(Forecasted<'a>),
}

/// Walks over the history; `watch` sees each forecast and the progress and may stop the walk, which
/// then reports what it has.
///
/// An order is scored once in each age band in which a forecast day finds it open.
///
/// # Errors
/// [`RhoError`] if the plan's correlation cannot be used.
pub fn run(
    history: &History,
    plan: &BacktestPlan,
    settings: &LearnSettings,
    watch: &mut dyn FnMut(Event<'_>) -> ControlFlow<()>,
) -> Result<Report, RhoError> {
    let mut walk = Walk {
        history,
        plan,
        patience: Patience::of(history, plan.end, settings.stale_after_days),
        seen: vec![[false; AGE_BANDS]; history.lines.len()],
        tallies: BTreeMap::new(),
        builds: Builds::new(history.lines.len(), CommonCause::new(plan.rho)?),
        found: Outcomes::default(),
    };
    let days = plan.forecast_days();
    let until = days.last().copied().unwrap_or(plan.first);
    let mut laws = days.first().map(|first| Learning::new(history, settings, *first, until));
    let mut tuning = None;
    for (done, as_of) in days.iter().enumerate() {
        let Some(laws) = laws.as_mut() else {
            break;
        };
        let laws = laws.at(*as_of);
        tuning = settings.tuned.then(|| laws.tuning().clone());
        if walk.day(laws, watch).is_break() {
            break;
        }
        let progress = Event::Progress { done: done + 1, days: days.len() };
        if watch(progress).is_break() {
            break;
        }
    }
    Ok(Report {
        rows: report::rows(walk.tallies),
        builds: walk.builds.rows(),
        kept: walk.found.kept,
        were_here: walk.found.were_here,
        cancelled: walk.found.cancelled,
        unresolved: walk.found.unresolved,
        late_together: walk.found.late_together,
        tuning,
    })
}

/// Laws of one forecast day after the other.
enum Learning<'a> {
    /// Tuned laws move on, so that each day costs what was learned on it.
    Walk(Box<learn::Walk<'a>>),
    /// Those of settings by hand are learned anew.
    Anew(&'a History, &'a LearnSettings, Option<Box<LearnedLaws>>),
}

impl<'a> Learning<'a> {
    fn new(history: &'a History, settings: &'a LearnSettings, first: Date, last: Date) -> Self {
        match settings.tuned {
            true => Self::Walk(Box::new(learn::Walk::new(history, settings, first, last))),
            false => Self::Anew(history, settings, None),
        }
    }

    fn at(&mut self, as_of: Date) -> &LearnedLaws {
        match self {
            Self::Walk(walk) => walk.to(as_of),
            Self::Anew(history, settings, kept) => {
                kept.insert(Box::new(LearnedLaws::learn(history, as_of, settings)))
            }
        }
    }
}

#[derive(Default)]
struct Outcomes {
    kept: DatesKept,
    were_here: usize,
    cancelled: usize,
    unresolved: usize,
    late_together: Vec<LateTogether>,
}

impl Outcomes {
    /// Counts a first forecast and whether its dates were kept.
    fn count(&mut self, cdf: &[f64], came: Option<usize>) {
        self.kept.orders += 1;
        let kept = &mut self.kept;
        for ((by, said), level) in kept.by.iter_mut().zip(&mut kept.said).zip(LEVELS) {
            let never = (cdf.len().saturating_sub(1), cdf.last().copied().unwrap_or_default());
            let (day, stated) = stated_quantile(cdf, level).unwrap_or(never);
            *by += usize::from(came.is_some_and(|came| came <= day));
            *said += stated;
        }
    }
}

struct Walk<'a> {
    history: &'a History,
    plan: &'a BacktestPlan,
    /// At the end, when outcomes are looked up.
    patience: Patience,
    seen: Vec<[bool; AGE_BANDS]>,
    tallies: BTreeMap<(Method, Slice), Tally>,
    builds: Builds,
    found: Outcomes,
}

impl Walk<'_> {
    fn day(
        &mut self,
        laws: &LearnedLaws,
        watch: &mut dyn FnMut(Event<'_>) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        let as_of = laws.as_of();
        let knowledge = Knowledge::at(self.history, laws, self.plan);
        let month = month(as_of);
        let mut open = Vec::new();
        for (index, line) in self.history.lines.iter().enumerate() {
            if open.len() >= self.plan.forecasts_per_day_max {
                break;
            }
            if !line.is_known(as_of) || !matches!(line.standing(as_of), Standing::Open { .. }) {
                continue;
            }
            let came = match outcome(line, as_of, self.plan, &self.patience) {
                Outcome::Came(days) => days,
                Outcome::WasHere => {
                    self.found.were_here += 1;
                    continue;
                }
                Outcome::Cancelled => {
                    self.found.cancelled += 1;
                    continue;
                }
                Outcome::Unresolved => {
                    self.found.unresolved += 1;
                    continue;
                }
            };
            let Some(cdf) = knowledge.cdf(Method::Learned, line) else {
                continue;
            };
            let band = age_band(days_between(line.placed.on, as_of));
            if self.seen.get(index).is_some_and(|bands| !bands.contains(&true)) {
                self.found.count(&cdf, came);
            }
            let seen = self.seen.get_mut(index).and_then(|seen| seen.get_mut(band));
            if let Some(seen) = seen.filter(|seen| !**seen) {
                *seen = true;
                self.score(&knowledge, line, band, month, &cdf, came);
                let keys = keys(line);
                let forecasted = Forecasted { line: index, as_of, cdf: &cdf, came, laws, keys };
                watch(Event::Forecasted(forecasted))?;
            }
            open.push(OpenOrder { line: index, supplier: line.supplier, cdf, y: came });
        }
        if self.plan.builds {
            self.builds.add(month, &open, self.plan.forecasts_per_day_max);
        }
        ControlFlow::Continue(())
    }

    fn score(
        &mut self,
        knowledge: &Knowledge<'_>,
        line: &PastLine,
        band: usize,
        month: u32,
        learned: &[f64],
        came: Option<usize>,
    ) {
        let cluster = (line.supplier, month);
        if band == 0 {
            let score = normal_quantile(mid_pit(learned, came));
            self.found.late_together.push(LateTogether {
                supplier: line.supplier,
                spell: month,
                score,
            });
        }
        for method in Method::ALL {
            if method != Method::Learned && !self.plan.baselines {
                continue;
            }
            let own = (method != Method::Learned).then(|| knowledge.cdf(method, line));
            let cdf = match &own {
                None => learned,
                Some(Some(cdf)) => cdf,
                Some(None) => continue,
            };
            for slice in [Slice::All, Slice::AgeBand(band), Slice::Supplier(line.supplier)] {
                let tally = self.tallies.entry((method, slice)).or_default();
                tally.add(cluster, cdf, came);
            }
        }
    }
}

/// Months since year 0, as a cluster.
fn month(date: Date) -> u32 {
    u32::try_from(i32::from(date.year()) * 12 + i32::from(date.month())).unwrap_or(0)
}
