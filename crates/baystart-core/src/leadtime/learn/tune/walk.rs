//! Laws that move on from day to day, each line counted again only when something was learned of it.

use std::collections::{BTreeSet, VecDeque};

use jiff::civil::Date;

use super::{
    super::{
        LearnSettings, LearnedLaws,
        drift::{Eras, RECENT_DAYS},
        levels::Seen,
        made::Made,
        stale::Patience,
    },
    LANDMARKS, Tuning, last_landmark,
    power::{Exposed, fit},
    rows::{Landmark, MARKS, Outcome, Row, landmark_after, outcome},
    spread::{self, Spread, Waited, narrowed},
    weights::Judged,
};
use crate::{
    calendar::{day_number, days_between},
    leadtime::history::{History, PastLine, Standing},
};

/// Lines that must have been placed before a landmark for its laws to be asked about those placed after it.
const PLACED_BEFORE_MIN: usize = 10;
/// Receipts from which on weekdays are told apart.
const RECEIPTS_MIN: usize = 100;

/// A walk over a history, from one day to later ones.
pub struct Walk<'h> {
    history: &'h History,
    /// Its lines, those of a supplier and offer beside each other, for what they add to lies together;
    /// and where each stands in the history.
    lines: Vec<(usize, &'h PastLine)>,
    laws: LearnedLaws,
    /// The day from which each fact is known, and its line; in the order of days.
    facts: Vec<(i64, usize)>,
    next: usize,
    /// The day on which each line goes from the last year into the years before.
    ages: Vec<(i64, usize)>,
    aged: usize,
    /// The day on which each line is placed.
    placed: Vec<(i64, usize)>,
    /// Lines that are known and neither here nor cancelled.
    open: BTreeSet<usize>,
    landmarks: VecDeque<Landmark>,
    eras: Eras,
}

impl<'h> Walk<'h> {
    /// Ready to go to `first`, and to days after it up to `last`; always tuned, for a half-life set by
    /// hand is tested for drift anew on each day.
    #[must_use]
    pub fn new(history: &'h History, settings: &LearnSettings, first: Date, last: Date) -> Self {
        let settings = &LearnSettings { tuned: true, ..*settings };
        let start = landmark_after(last_landmark(first), -LANDMARKS);
        // Before the first order there is nothing to ask about.
        let placed = history.lines.iter().map(|line| line.placed.on).min().unwrap_or(first);
        let start = start.max(last_landmark(placed)).min(first);
        let mut laws = LearnedLaws::nothing(history, start, last, settings);
        laws.levels.is_walked = true;
        let (mut facts, mut ages) = (Vec::new(), Vec::new());
        let mut open = BTreeSet::new();
        let mut eras = Eras::default();
        let mut lines: Vec<(usize, &PastLine)> = history.lines.iter().enumerate().collect();
        lines.sort_by_key(|(_, line)| (line.supplier, line.offer));
        for (at, (_, line)) in lines.iter().enumerate() {
            laws.count(line, 1.0);
            eras.count(line, &laws.reckoning(line), 1.0);
            if line.is_known(start) && is_open(line, start) {
                open.insert(at);
            }
            known_from(line, |day| facts.push((day, at)));
            ages.push((day_number(line.placed.on) + RECENT_DAYS + 1, at));
        }
        let day = |(at, (_, line)): (usize, &(usize, &PastLine))| (day_number(line.placed.on), at);
        let mut placed: Vec<_> = lines.iter().enumerate().map(day).collect();
        placed.sort_unstable();
        facts.sort_unstable();
        ages.sort_unstable();
        let past = |days: &[(i64, usize)]| days.partition_point(|f| f.0 <= day_number(start));
        let (next, aged) = (past(&facts), past(&ages));
        let landmarks = VecDeque::new();
        let mut walk =
            Self { history, lines, laws, facts, next, ages, aged, placed, open, landmarks, eras };
        if last_landmark(start) == start {
            walk.ask();
        }
        walk
    }

    /// The laws at the start of `as_of`, which is no day before the last one.
    pub fn to(&mut self, as_of: Date) -> &LearnedLaws {
        let mut asked = self.laws.tuning.landmark.is_none();
        let mut landmark = landmark_after(last_landmark(self.laws.as_of), 1);
        while landmark <= as_of {
            self.step(landmark);
            self.ask();
            asked = true;
            let next = landmark_after(landmark, 1);
            if next == landmark {
                // The calendar ends.
                break;
            }
            landmark = next;
        }
        if asked {
            self.retune(last_landmark(as_of));
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
        let lines = |all: &BTreeSet<usize>| -> Vec<(usize, &'h PastLine)> {
            all.iter().filter_map(|at| Some((*at, self.lines.get(*at)?.1))).collect()
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
        let moved: Vec<(usize, &PastLine)> = learned.iter().chain(&waiting).copied().collect();
        let seen = |laws: &LearnedLaws, line: &PastLine| Seen::of(line, &laws.reckoning(line));
        let were: Vec<Option<Seen>> =
            moved.iter().map(|(_, line)| seen(&self.laws, line)).collect();
        for (_, line) in moved.iter().chain(&aged) {
            self.eras.count(line, &self.laws.reckoning(line), -1.0);
        }
        // What was promised of a line that is here may be entered later: then it was expected otherwise.
        let again = |(_, line): &(usize, &PastLine)| {
            matches!(line.standing(before), Standing::Received(_)) && !line.promises.is_empty()
        };
        if learned.iter().any(again) {
            let days = self.laws.settings.stale_after_days;
            self.laws.patience = Patience::of(self.history, as_of, days);
        } else {
            for (_, line) in &learned {
                self.laws.patience.came(line, before, as_of);
            }
        }
        self.laws.as_of = as_of;
        self.laws.made = Made::default();
        for ((_, line), was) in moved.iter().zip(were) {
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
            self.laws.batches.count(line, before, -1.0);
            self.laws.batches.count(line, as_of, 1.0);
            if line.is_known(as_of) && is_open(line, as_of) {
                self.open.insert(*at);
            } else {
                self.open.remove(at);
            }
        }
        for (_, line) in moved.iter().chain(&aged) {
            self.eras.count(line, &self.laws.reckoning(line), 1.0);
        }
    }

    fn ask(&mut self) {
        let change = self.eras.change();
        self.laws.tuning.growth = change.growth;
        self.laws.tuning.drifting = change.suppliers;
        self.laws.made = Made::default();
        let open: Vec<usize> = self.open.iter().copied().collect();
        let on = day_number(self.laws.as_of);
        let until = |day: i64| self.placed.partition_point(|(placed, _)| *placed < day);
        let mut to_place = until(on)..until(on + super::LANDMARK_DAYS);
        if to_place.start < PLACED_BEFORE_MIN {
            // Laws of so few are soon others: how they fare says nothing of the later ones.
            to_place.end = to_place.start;
        }
        let to_place = self.placed.get(to_place).unwrap_or_default();
        // Those that are known by the next landmark: whatever is entered later moves no choice among them.
        let next = landmark_after(self.laws.as_of, 1);
        let told = |at: &usize| {
            let line = self.lines.get(*at);
            line.is_some_and(|(_, line)| line.is_known(next) && line.taken_over_on.is_none())
        };
        let to_place: Vec<usize> = to_place.iter().map(|(_, at)| *at).filter(told).collect();
        self.landmarks.push_back(Landmark::ask(&self.laws, &self.lines, &open, &to_place));
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
        let receiving = ReceivingDays::of(self.history, at);
        for (landmark, row, outcome) in self.outcomes(|landmark| &landmark.lead) {
            let Some((_, line)) = self.lines.get(row.line) else {
                continue;
            };
            let exposure =
                exposure(row, &weights, outcome, receiving.last_before(landmark, outcome.day));
            // What comes later than was asked about had not come by then.
            let came = outcome.came && outcome.day < MARKS * super::LANDMARK_DAYS;
            let batch = (line.supplier, day_number(line.placed.on));
            let from: f64 = row.waited().zip(&weights).map(|(waited, w)| w * waited).sum();
            exposed.push((Waited { batch, from, to: from + exposure, came }, row.facts));
        }
        let Spread { pace, narrowing } = spread::fit(&self.waits_from_placing(&weights, receiving));
        let exposed: Vec<Exposed> = exposed
            .into_iter()
            .map(|(Waited { batch, from, to, came }, facts)| {
                let exposure = pace * (narrowed(to, narrowing) - narrowed(from, narrowing));
                Exposed { batch, facts, exposure, came }
            })
            .collect();
        self.laws.tuning = Tuning {
            landmark: Some(at),
            slips: judged(|landmark| &landmark.slips).weights(),
            transit: judged(|landmark| &landmark.transit).weights(),
            growth: self.laws.tuning.growth,
            drifting: std::mem::take(&mut self.laws.tuning.drifting),
            pace,
            narrowing,
            batches: fit(&exposed),
            judged: lead.rows,
            lead: weights,
        };
        self.laws.made = Made::default();
    }

    /// What became of lines that were asked about from their placing on.
    fn waits_from_placing(&self, weights: &[f64], receiving: ReceivingDays) -> Vec<Waited> {
        let mut found = Vec::new();
        for row in self.landmarks.iter().flat_map(|landmark| &landmark.placed) {
            let Some((_, line)) =
                self.lines.get(row.line).filter(|(_, l)| l.is_known(self.laws.as_of))
            else {
                continue;
            };
            let placed = line.placed.on;
            let Some(outcome) = outcome(line, placed, &self.laws) else { continue };
            let to = exposure(row, weights, outcome, receiving.last_before(placed, outcome.day));
            let came = outcome.came && outcome.day < MARKS * super::LANDMARK_DAYS;
            let batch = (line.supplier, day_number(placed));
            found.push(Waited { batch, from: 0.0, to, came });
        }
        found
    }

    /// The rows of earlier landmarks of which something has become known.
    fn outcomes<'a>(
        &'a self,
        of: impl Fn(&'a Landmark) -> &'a Vec<Row> + 'a,
    ) -> impl Iterator<Item = (Date, &'a Row, Outcome)> + 'a {
        let past = self.landmarks.iter().filter(|landmark| landmark.on < self.laws.as_of);
        past.flat_map(move |landmark| of(landmark).iter().map(|row| (landmark.on, row))).filter_map(
            |(on, row)| {
                let (_, line) = self.lines.get(row.line)?;
                Some((on, row, outcome(line, on, &self.laws)?))
            },
        )
    }
}

/// The mixed experts' cumulative hazard up to arrival or the end of evidence. Goods that come on a receiving day
/// came somewhere since the last one before it (`last`), as it were: of the whole hazard between the two half
/// counts, or right experts would look too fast.
fn exposure(row: &Row, weights: &[f64], outcome: Outcome, last: i64) -> f64 {
    let by = |day: i64| -> f64 {
        if day < 0 { 0.0 } else { row.said(day).zip(weights).map(|(said, w)| w * said).sum() }
    };
    if outcome.came { (by(last) + by(outcome.day)) / 2.0 } else { by(outcome.day) }
}

/// The weekdays on which goods come.
#[derive(Debug, Clone, Copy)]
pub(super) struct ReceivingDays([bool; 7]);

impl ReceivingDays {
    /// Those with one in fifty of the receipts or more, by what was known; all while fewer than
    /// [`RECEIPTS_MIN`] are.
    pub(super) fn of(history: &History, as_of: Date) -> Self {
        let mut counts = [0_usize; 7];
        for line in &history.lines {
            if let Standing::Received(on) = line.standing(as_of) {
                counts[usize::from(weekday(day_number(on)))] += 1;
            }
        }
        let all: usize = counts.iter().sum();
        Self(counts.map(|count| all < RECEIPTS_MIN || count * 50 >= all))
    }

    /// The last of them before a day, counted from a date as the day is; a week before at most.
    pub(super) fn last_before(self, from: Date, day: i64) -> i64 {
        let on = day_number(from) + day;
        let back = (1..7).find(|back| self.0[usize::from(weekday(on - back))]);
        day - back.unwrap_or(7)
    }
}

/// 0 to 6, the same on every seventh day.
fn weekday(day: i64) -> u8 {
    u8::try_from(day.rem_euclid(7)).unwrap_or(0)
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
