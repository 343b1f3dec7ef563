//! What the experts said at one landmark.

use jiff::civil::Date;

use super::{
    super::{BATCH_FACTS, LearnedLaws, levels::end_of, one::One},
    LANDMARK_DAYS,
};
use crate::{
    calendar::{Closures, add_days, day_number, days_between},
    leadtime::{
        ArrivalLaw, News, OpenSupply, SupplyKeys,
        estimate::ratio::QuoteDays,
        history::{PastLine, Standing},
        supply::{deciding, promised},
    },
};

/// Lines whose lead time is asked about at one landmark, at most.
const LINES_MAX: usize = 100;
/// The same of lines that are placed before the next one.
const PLACED_MAX: usize = 50;
/// The same of promises and of goods on their way.
const NEWS_MAX: usize = 40;
/// Marks 28 days apart at which an answer is judged.
pub(super) const MARKS: i64 = 13;
/// Days from the landmark that are kept one by one; then one a week.
const DAILY: i64 = 28;
const WEEKLY: i64 = 7;
/// Days that are asked about.
const DAYS: i64 = MARKS * LANDMARK_DAYS;
const KEPT: usize = (DAILY + (DAYS - DAILY) / WEEKLY) as usize;
/// A chance of all but this counts as certain: a cumulative hazard must be finite.
const LEFT_MIN: f64 = 1e-9;

/// One line at one landmark.
pub(super) struct Row {
    pub line: usize,
    /// By expert: the cumulative hazard -ln(1 - F) of the landmark's days.
    said: Vec<[f32; KEPT]>,
    /// By expert: the cumulative hazard from the day of placing up to the landmark; of lead times only.
    waited: Vec<f32>,
    pub facts: [f64; BATCH_FACTS],
}

/// What was asked at one landmark, by kind of law.
pub(super) struct Landmark {
    pub on: Date,
    pub lead: Vec<Row>,
    /// Lines that were placed from then until the next landmark, each asked about from its placing on.
    pub placed: Vec<Row>,
    pub slips: Vec<Row>,
    pub transit: Vec<Row>,
}

/// What is known at a later day of a line that was open at a landmark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Outcome {
    /// The landmark's day on which it came, or the last one on which it was known to be open.
    pub day: i64,
    pub came: bool,
}

impl Row {
    /// What each expert said of the time from placing up to the landmark: a cumulative hazard.
    pub(super) fn waited(&self) -> impl Iterator<Item = f64> + '_ {
        self.waited.iter().map(|hazard| f64::from(*hazard))
    }

    /// What each expert said of the time up to the end of a landmark's day.
    pub(super) fn said(&self, day: i64) -> impl Iterator<Item = f64> + '_ {
        let day = day.clamp(0, DAYS - 1);
        let (place, past) = match day < DAILY {
            true => (day, 0.0),
            false => {
                let weeks = day - (DAILY - 1);
                let past = (weeks % WEEKLY) as f64 / WEEKLY as f64;
                (DAILY - 1 + weeks / WEEKLY, past)
            }
        };
        let place = usize::try_from(place).unwrap_or(0);
        self.said.iter().map(move |said| {
            let at = f64::from(said.get(place).copied().unwrap_or_default());
            let next = said.get(place + 1).copied().map_or(at, f64::from);
            at + past * (next - at)
        })
    }
}

impl Landmark {
    /// Asks every expert about some of the lines that are `open`, by the laws of the landmark, and about some
    /// of those `to_place` that are placed before the next. Both are places among the lines, each of which has
    /// its place in the history beside it.
    pub(super) fn ask(
        laws: &LearnedLaws,
        lines: &[(usize, &PastLine)],
        open: &[usize],
        to_place: &[usize],
    ) -> Self {
        let mut found = Self {
            on: laws.as_of,
            lead: Vec::new(),
            placed: Vec::new(),
            slips: Vec::new(),
            transit: Vec::new(),
        };
        for at in to_place.iter().step_by(to_place.len().div_ceil(PLACED_MAX).max(1)) {
            let line = lines.get(*at);
            found.placed.extend(line.map(|(_, line)| row(laws, line, *at, Law::FromPlacing)));
        }
        let mut waiting: Vec<(Date, usize, usize)> = open
            .iter()
            .filter_map(|at| Some((lines.get(*at)?, *at)))
            .filter(|((_, line), _)| is_live(line, laws))
            .map(|((in_history, line), at)| (line.placed.on, *in_history, at))
            .collect();
        waiting.sort_unstable();
        // By equal weights: which lines are asked about must not hang on when weights were found last.
        let experts = laws.experts.len();
        let outdoes = laws.knows_transit(&vec![1.0 / experts as f64; experts]);
        let (mut promised, mut sent) = (Vec::new(), Vec::new());
        for (_, _, at) in &waiting {
            let Some((_, line)) = lines.get(*at) else { continue };
            match deciding(|| outdoes, &OpenSupply::of_line(line, laws.as_of), laws.as_of) {
                News::Promise(_) => promised.push(*at),
                News::Despatch(_) => sent.push(*at),
                News::LeadTime => {}
            }
        }
        let waiting: Vec<usize> = waiting.into_iter().map(|(_, _, at)| at).collect();
        for (asked, most, law, kind) in [
            (&waiting, LINES_MAX, Law::LeadTime, &mut found.lead),
            (&promised, NEWS_MAX, Law::Promise, &mut found.slips),
            (&sent, NEWS_MAX, Law::Transit, &mut found.transit),
        ] {
            for at in asked.iter().step_by(asked.len().div_ceil(most).max(1)) {
                let line = lines.get(*at);
                kind.extend(line.map(|(_, line)| row(laws, line, *at, law)));
            }
        }
        found
    }
}

/// By which law a line is asked about.
#[derive(Clone, Copy)]
enum Law {
    /// The lead time alone, whatever news there is.
    LeadTime,
    /// The same as it was on the day of placing.
    FromPlacing,
    Promise,
    Transit,
}

/// Whether an open line is watched still.
fn is_live(line: &PastLine, laws: &LearnedLaws) -> bool {
    match line.standing(laws.as_of) {
        Standing::Open { expected_on, .. } => {
            line.is_watched(laws.as_of) && !laws.patience.is_stale(line, expected_on, laws.as_of)
        }
        _ => false,
    }
}

fn row(laws: &LearnedLaws, line: &PastLine, at: usize, law: Law) -> Row {
    let keys = line.keys();
    let closures = laws.counted_closures(keys.supplier);
    let age = closures.open_days_between(line.placed.on, laws.as_of);
    let age = if matches!(law, Law::FromPlacing) { 0 } else { age };
    let until = u32::try_from(age + DAYS).unwrap_or(0);
    let days = matches!(law, Law::LeadTime | Law::FromPlacing)
        .then(|| line.quoted_days.map(|quote| laws.quote_days(quote, until)))
        .flatten();
    let ask = Ask { keys, line, closures, law, days };
    let said = |one: One<'_>| ask.said(&one).unwrap_or(([0.0; KEPT], 0.0));
    let said = (0..laws.experts.len()).map(|expert| said(laws.one(expert)));
    let (said, waited) = said.unzip();
    let beside = laws.batches.beside(line.supplier, day_number(line.placed.on), line.order);
    Row { line: at, said, waited, facts: beside.facts() }
}

/// What every expert is asked.
struct Ask<'a> {
    keys: SupplyKeys,
    line: &'a PastLine,
    closures: &'a Closures,
    law: Law,
    /// Those of the quote.
    days: Option<QuoteDays>,
}

impl Ask<'_> {
    fn said(&self, one: &One<'_>) -> Option<([f32; KEPT], f32)> {
        let Self { keys, line, closures, .. } = *self;
        let as_of = one.laws.as_of;
        let horizon = u32::try_from(DAYS - 1).ok()?;
        let mut waited = 0.0;
        let found = match self.law {
            Law::LeadTime => {
                let law = one.lead_time(keys, self.days.as_ref());
                let age = closures.open_days_between(line.placed.on, as_of);
                waited = law.hazard_before(usize::try_from(age).unwrap_or(0)) as f32;
                ArrivalLaw::counted(&law, line.placed.on, closures, as_of, horizon)
            }
            Law::FromPlacing => {
                let law = one.lead_time(keys, self.days.as_ref());
                ArrivalLaw::counted(&law, line.placed.on, closures, line.placed.on, horizon)
            }
            Law::Promise => {
                let promise = OpenSupply::of_line(line, as_of).promise?;
                promised(one, keys, promise, as_of, closures, horizon)
            }
            Law::Transit => {
                let left = line.known_despatch(as_of)?;
                let law = one.transit(keys);
                ArrivalLaw::counted(&law, left, &one.laws.transit_closures, as_of, horizon)
            }
        };
        Some((kept(found.cdf()), waited))
    }
}

fn kept(cdf: &[f64]) -> [f32; KEPT] {
    std::array::from_fn(|place| {
        let daily = usize::try_from(DAILY).unwrap_or(0);
        let weekly = usize::try_from(WEEKLY).unwrap_or(1);
        let day = if place < daily { place } else { daily - 1 + weekly * (place + 1 - daily) };
        let arrived = cdf.get(day).copied().unwrap_or(0.0);
        -(1.0 - arrived).max(LEFT_MIN).ln() as f32
    })
}

/// What was known of a line at the start of the laws' day, counted from a landmark; `None`: it had
/// come before the landmark, or nothing was known of the time since.
pub(super) fn outcome(line: &PastLine, landmark: Date, laws: &LearnedLaws) -> Option<Outcome> {
    let end = end_of(line, &laws.reckoning(line))?;
    let day = days_between(landmark, end.on);
    (day >= 0).then_some(Outcome { day, came: end.event })
}

impl Outcome {
    /// Whether it had come before day 28 m of the landmark; `None`: not known.
    pub(super) fn by_mark(&self, mark: i64) -> Option<bool> {
        let last = mark * LANDMARK_DAYS - 1;
        if self.came { Some(self.day <= last) } else { (self.day >= last).then_some(false) }
    }
}

/// The landmark's date so many landmarks on.
pub(super) fn landmark_after(on: Date, landmarks: i64) -> Date {
    add_days(on, landmarks * LANDMARK_DAYS).unwrap_or(on)
}
