//! Laws that move on from day to day, each line counted again only when something was learned of it.

use std::collections::{BTreeSet, VecDeque};

use jiff::civil::Date;

use super::{
    super::{
        LearnSettings, LearnedLaws,
        drift::{Eras, RECENT_DAYS},
        levels::Seen,
    },
    LANDMARKS, Tuning, last_landmark,
    power::{Exposed, fit},
    rows::{Landmark, MARKS, Outcome, Row, landmark_after, outcome},
    weights::Judged,
};
use crate::{
    calendar::{day_number, days_between},
    leadtime::history::{History, PastLine, Standing},
};

/// A walk over a history, from one day to later ones.
pub struct Walk<'h> {
    history: &'h History,
    laws: LearnedLaws,
    /// The day from which each fact is known, and its line; in the order of days.
    facts: Vec<(i64, usize)>,
    next: usize,
    /// The day on which each line goes from the last year into the years before.
    ages: Vec<(i64, usize)>,
    aged: usize,
    /// Lines that are known and neither here nor cancelled.
    open: BTreeSet<usize>,
    landmarks: VecDeque<Landmark>,
    eras: Eras,
}

impl<'h> Walk<'h> {
    /// Ready to go to `first`, and to days after it up to `last`.
    #[must_use]
    pub fn new(history: &'h History, settings: &LearnSettings, first: Date, last: Date) -> Self {
        let start = match settings.tuned {
            true => landmark_after(last_landmark(first), -LANDMARKS),
            false => first,
        };
        // Before the first order there is nothing to ask about.
        let placed = history.lines.iter().map(|line| line.placed.on).min().unwrap_or(first);
        let start = start.max(last_landmark(placed)).min(first);
        let mut laws = LearnedLaws::nothing(history, start, last, settings);
        let (mut facts, mut ages) = (Vec::new(), Vec::new());
        let mut open = BTreeSet::new();
        let mut eras = Eras::default();
        for (at, line) in history.lines.iter().enumerate() {
            laws.count(line, 1.0);
            eras.count(line, &laws.reckoning(line), 1.0);
            if line.is_known(start) && is_open(line, start) {
                open.insert(at);
            }
            known_from(line, |day| facts.push((day, at)));
            ages.push((day_number(line.placed.on) + RECENT_DAYS + 1, at));
        }
        facts.sort_unstable();
        ages.sort_unstable();
        let past = |days: &[(i64, usize)]| days.partition_point(|f| f.0 <= day_number(start));
        let (next, aged) = (past(&facts), past(&ages));
        let landmarks = VecDeque::new();
        let mut walk = Self { history, laws, facts, next, ages, aged, open, landmarks, eras };
        if settings.tuned && last_landmark(start) == start {
            walk.ask();
        }
        walk
    }

    /// The laws at the start of `as_of`, which is no day before the last one.
    pub fn to(&mut self, as_of: Date) -> &LearnedLaws {
        let mut asked = self.laws.tuning.landmark.is_none();
        if self.laws.settings.tuned {
            let mut landmark = landmark_after(last_landmark(self.laws.as_of), 1);
            while landmark <= as_of {
                self.step(landmark);
                self.ask();
                asked = true;
                landmark = landmark_after(landmark, 1);
            }
            if asked {
                self.retune(last_landmark(as_of));
            }
        }
        self.step(as_of);
        &self.laws
    }

    /// Takes over what became known since.
    fn step(&mut self, as_of: Date) {
        if as_of <= self.laws.as_of {
            return;
        }
        let before = self.laws.as_of;
        let history = self.history;
        let lines = |all: &BTreeSet<usize>| -> Vec<(usize, &'h PastLine)> {
            all.iter().filter_map(|at| Some((*at, history.lines.get(*at)?))).collect()
        };
        let mut learned = BTreeSet::new();
        while let Some((_, at)) = self.facts.get(self.next).filter(|f| f.0 <= day_number(as_of)) {
            learned.insert(*at);
            self.next += 1;
        }
        let mut aged = BTreeSet::new();
        while let Some((_, at)) = self.ages.get(self.aged).filter(|f| f.0 <= day_number(as_of)) {
            aged.insert(*at);
            self.aged += 1;
        }
        // Of those that wait still only the days have moved on.
        let waiting: BTreeSet<usize> = self.open.difference(&learned).copied().collect();
        aged.retain(|at| !learned.contains(at) && !waiting.contains(at));
        let (learned, waiting, aged) = (lines(&learned), lines(&waiting), lines(&aged));
        let seen = |laws: &LearnedLaws, line: &PastLine| Seen::of(line, &laws.reckoning(line));
        let waited: Vec<Option<Seen>> =
            waiting.iter().map(|(_, line)| seen(&self.laws, line)).collect();
        for (_, line) in learned.iter().chain(&waiting).chain(&aged) {
            self.eras.count(line, &self.laws.reckoning(line), -1.0);
        }
        for (_, line) in &learned {
            self.laws.count(line, -1.0);
        }
        for (_, line) in &learned {
            self.laws.patience.came(line, before, as_of);
        }
        self.laws.as_of = as_of;
        for ((_, line), was) in waiting.iter().zip(waited) {
            match (was, seen(&self.laws, line)) {
                (Some(was), Some(is)) if was.is_like(&is) => self.laws.move_seen(&was, &is),
                (was, is) => {
                    for (seen, sign) in [(was, -1.0), (is, 1.0)] {
                        if let Some(seen) = seen {
                            self.laws.count_seen(&seen, sign);
                        }
                    }
                }
            }
        }
        for (at, line) in &learned {
            self.laws.count(line, 1.0);
            if line.is_known(as_of) && is_open(line, as_of) {
                self.open.insert(*at);
            } else {
                self.open.remove(at);
            }
        }
        for (_, line) in learned.iter().chain(&waiting).chain(&aged) {
            self.eras.count(line, &self.laws.reckoning(line), 1.0);
        }
    }

    fn ask(&mut self) {
        self.laws.tuning.growth = self.eras.change().growth;
        let open: Vec<usize> = self.open.iter().copied().collect();
        self.landmarks.push_back(Landmark::ask(&self.laws, self.history, &open));
        while self.landmarks.len() > usize::try_from(LANDMARKS).unwrap_or(0) + 1 {
            self.landmarks.pop_front();
        }
    }

    /// Weights by what is known at this landmark, on which the laws stand.
    fn retune(&mut self, at: Date) {
        let experts = self.laws.experts.len();
        let judged = |of: fn(&Landmark) -> &Vec<Row>| {
            let mut judged = Judged::new(experts);
            for (landmark, row, outcome) in self.outcomes(of) {
                for mark in 1..=MARKS.min(days_between(landmark, at) / super::LANDMARK_DAYS) {
                    let Some(came) = outcome.by_mark(mark) else {
                        continue;
                    };
                    let said = row.said(mark * super::LANDMARK_DAYS - 1);
                    let said: Vec<f64> = said.map(|hazard| 1.0 - (-hazard).exp()).collect();
                    judged.add(&said, came);
                }
            }
            judged
        };
        let lead = judged(|landmark| &landmark.lead);
        let weights = lead.weights();
        let mut exposed = Vec::new();
        for (_, row, outcome) in self.outcomes(|landmark| &landmark.lead) {
            let Some(line) = self.history.lines.get(row.line) else {
                continue;
            };
            let exposure = row.said(outcome.day).zip(&weights).map(|(said, w)| w * said).sum();
            // What comes later than was asked about had not come by then.
            let came = outcome.came && outcome.day < MARKS * super::LANDMARK_DAYS;
            let batch = (line.supplier, day_number(line.placed.on));
            exposed.push(Exposed { batch, facts: row.facts, exposure, came });
        }
        self.laws.tuning = Tuning {
            landmark: Some(at),
            slips: judged(|landmark| &landmark.slips).weights(),
            transit: judged(|landmark| &landmark.transit).weights(),
            growth: self.laws.tuning.growth,
            batches: fit(&exposed),
            judged: lead.rows,
            lead: weights,
        };
    }

    /// The rows of earlier landmarks of which something has become known.
    fn outcomes<'a>(
        &'a self,
        of: impl Fn(&'a Landmark) -> &'a Vec<Row> + 'a,
    ) -> impl Iterator<Item = (Date, &'a Row, Outcome)> + 'a {
        let past = self.landmarks.iter().filter(|landmark| landmark.on < self.laws.as_of);
        past.flat_map(move |landmark| of(landmark).iter().map(|row| (landmark.on, row))).filter_map(
            |(on, row)| {
                let line = self.history.lines.get(row.line)?;
                Some((on, row, outcome(line, on, &self.laws)?))
            },
        )
    }
}

fn is_open(line: &PastLine, as_of: Date) -> bool {
    matches!(line.standing(as_of), Standing::Open { .. })
}

/// Tells the day numbers from whose start on each fact of a line is known.
fn known_from(line: &PastLine, mut tell: impl FnMut(i64)) {
    let facts = [Some(line.placed), line.despatched, line.completed];
    let facts = facts.into_iter().flatten().chain(line.cancelled.map(|(_, fact)| fact));
    for fact in facts.chain(line.contacts.iter().copied()) {
        tell(day_number(fact.on.max(fact.recorded_on)) + 1);
    }
    for promise in &line.promises {
        tell(day_number(promise.known_on.max(promise.recorded_on)) + 1);
    }
}
