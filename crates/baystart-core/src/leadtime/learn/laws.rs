//! The learned laws: what is kept, and how lines come in.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::{
    Drift, LearnSettings, Tuning,
    batches::Batches,
    drift::{Change, DAYS_PER_YEAR, Eras},
    levels::{EXPERTS, Levels, Reckoning, Seen, Weights},
    made::Made,
    one::One,
    pieces::NewsLines,
    receiving::counted_closures,
    stale::Patience,
    tune::tune,
};
use crate::{
    calendar::{Closures, add_days, day_number},
    leadtime::{
        ArrivalLaw, OpenSupply, SupplyKeys, arrival_cdf_for,
        history::{History, PastLine},
    },
};

/// Calendar days past the as-of date for which days are counted: the horizon and as long again.
const REACH_DAYS: i64 = 1_460;

/// Laws learned from history, at the start of one day.
#[derive(Debug, Clone, PartialEq)]
pub struct LearnedLaws {
    pub(super) as_of: Date,
    /// The day of which an order counts 1.
    origin: Date,
    pub(super) settings: LearnSettings,
    pub(super) patience: Patience,
    /// The experts' half-lives in days; `None`: the shop's own setting.
    pub(super) experts: &'static [Option<f64>],
    pub(super) levels: Levels,
    news: NewsLines,
    pub(super) batches: Batches,
    pub(super) tuning: Tuning,
    /// Empty where drift is not looked for.
    pub(super) eras: Eras,
    pub(super) change: Change,
    /// The first day that is counted right.
    pub(super) counted_from: Date,
    closures: BTreeMap<u32, Closures>,
    pub(super) transit_closures: Closures,
    pub(super) made: Made,
}

impl LearnedLaws {
    /// What `history` had to say at the start of `as_of`: facts that happened and were recorded
    /// before that day, and open lines watched until the day before; tuned by [`tune`] where the
    /// settings say so. O(lines + days) for each of some forty landmarks.
    #[must_use]
    pub fn learn(history: &History, as_of: Date, settings: &LearnSettings) -> Self {
        let tuning = tune(history, as_of, settings);
        Self::learn_tuned(history, as_of, settings, tuning)
    }

    /// [`learn`](Self::learn) with weights that were found before, for the same settings and the last
    /// landmark before `as_of`. O(lines + days).
    #[must_use]
    pub fn learn_tuned(
        history: &History,
        as_of: Date,
        settings: &LearnSettings,
        tuning: Tuning,
    ) -> Self {
        let mut laws = Self::nothing(history, as_of, as_of, settings);
        laws.tuning = tuning;
        if settings.drift_half_life_days.is_some() && !settings.tuned {
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

    /// Laws that know of no line yet, to speak from `as_of` to `until`.
    pub(super) fn nothing(
        history: &History,
        as_of: Date,
        until: Date,
        settings: &LearnSettings,
    ) -> Self {
        let placed = history.lines.iter().map(|line| line.placed.on);
        // A promise may have become known to somebody before the order was placed.
        let first = placed.min().unwrap_or(as_of).min(as_of);
        let first = add_days(first, -REACH_DAYS).unwrap_or(first);
        let last = add_days(until, REACH_DAYS).unwrap_or(until);
        let counted = |closures| counted_closures(closures, settings.day_count, first, last);
        Self {
            as_of,
            origin: as_of,
            settings: *settings,
            patience: Patience::of(history, as_of, settings.stale_after_days),
            experts: settings.half_lives(),
            levels: Levels::default(),
            news: NewsLines::default(),
            batches: Batches::default(),
            tuning: Tuning::none(settings),
            eras: Eras::default(),
            change: Change::default(),
            counted_from: first,
            closures: history.closures.iter().map(|(key, c)| (*key, counted(c))).collect(),
            transit_closures: counted(&Closures::none()),
            made: Made::default(),
        }
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
        self.growth().exp_m1()
    }

    /// As a logarithm.
    fn growth(&self) -> f64 {
        if self.settings.tuned { self.tuning.growth } else { self.change.growth }
    }

    /// How the settings chose themselves.
    #[must_use]
    pub fn tuning(&self) -> &Tuning {
        &self.tuning
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

    pub(super) fn count(&mut self, line: &PastLine, sign: f64) {
        let seen = Seen::of(line, &self.reckoning(line));
        self.batches.count(line, self.as_of, sign);
        if let Some(seen) = seen {
            self.count_seen(&seen, sign);
        }
    }

    /// What a line adds, with its pieces of news.
    pub(super) fn count_seen(&mut self, seen: &Seen, sign: f64) {
        self.made = Made::default();
        let weights = self.weights(seen);
        self.levels.count(seen, &weights, sign, &self.news);
        for at in seen.news() {
            self.news.change(at, sign);
        }
    }

    /// What was seen of a line is now seen so, and nothing but the days is other.
    pub(super) fn move_seen(&mut self, before: &Seen, after: &Seen) {
        self.made = Made::default();
        let weights = self.weights(before);
        self.levels.place(before, &weights, -1.0);
        self.levels.place(after, &weights, 1.0);
    }

    fn weights(&self, seen: &Seen) -> impl Fn(i64) -> Weights + use<> {
        let drifts = self.change.suppliers.contains_key(&seen.supplier);
        let mut half_lives: [Option<Option<f64>>; EXPERTS] = [None; EXPERTS];
        for (kept, expert) in half_lives.iter_mut().zip(self.experts) {
            *kept = Some(self.settings.half_life_of(*expert, drifts));
        }
        let origin = day_number(self.origin);
        move |day| half_lives.map(|hl| hl.map_or(0.0, |hl| weight(hl, origin - day)))
    }

    pub(super) fn reckoning(&self, line: &PastLine) -> Reckoning<'_> {
        Reckoning {
            as_of: self.as_of,
            settings: &self.settings,
            patience: &self.patience,
            closures: self.counted_closures(Some(line.supplier)),
            transit_closures: &self.transit_closures,
        }
    }

    /// The laws of one expert.
    pub(super) fn one(&self, expert: usize) -> One<'_> {
        let age = day_number(self.as_of) - day_number(self.origin);
        let half_life = self.experts.get(expert).copied().flatten();
        let scale = half_life.map_or(1.0, |half_life| weight(Some(half_life), age));
        let mean = self.levels.mean_placed_day(expert);
        let age = mean.map_or(0.0, |day| day_number(self.as_of) as f64 - day);
        let growth = self.growth() * age.max(0.0) / DAYS_PER_YEAR;
        One { laws: self, levels: &self.levels, expert, scale, growth }
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
}

/// Weight of an order that is so many days old: 2^(-age / half-life); above 1 where it is younger
/// than the origin. All count alike where there is no half-life.
fn weight(half_life: Option<f64>, age_days: i64) -> f64 {
    match half_life {
        Some(half_life) if half_life > 0.0 => (-(age_days as f64) / half_life).exp2(),
        _ => 1.0,
    }
}
