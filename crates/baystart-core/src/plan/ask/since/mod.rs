//! What happened to a build's date since a day: what was known then, and each change since taken back in
//! turn, so that the changes sum to the whole.

mod news;
mod past;

#[cfg(test)]
mod tests;

use crate::book::Book;
use crate::book::model::{AwaitedKind, Build, BuildState, Settings};
use crate::calendar::WorkCalendar;
use crate::ids::{BuildId, OrderLineId, PartId, StageId};
use crate::plan::bays::live::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::slim::slim;
use crate::plan::frame::view::{View, as_if_open, live_build};
use crate::refusal::Refusal;
use jiff::civil::Date;
use news::{Then, news_of, take_back};
use past::{Changes, held_as};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// Changes that are told by themselves at most.
const EVENTS_MAX: usize = 3;

/// A date that became known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DateMove {
    /// The date before; None: none was known.
    pub before: Option<Date>,
    /// The date in force.
    pub now: Date,
}

/// What happened to what a build waits for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// An order line was placed.
    Ordered(OrderLineId),
    /// An order line was despatched.
    Despatched(OrderLineId),
    /// A supplier gave a date.
    Promised(OrderLineId, DateMove),
    /// A finisher gave a date for a part.
    BackFromFinisher(PartId, DateMove),
    /// An awaited thing came.
    Came {
        /// What kind of thing.
        kind: AwaitedKind,
        /// As people call it.
        name: String,
    },
    /// A date was given for an awaited thing.
    Expected {
        /// What kind of thing.
        kind: AwaitedKind,
        /// As people call it.
        name: String,
        /// The date.
        date: DateMove,
    },
    /// Work on a stage began.
    StageBegun(StageId),
    /// A stage was finished.
    StageDone(StageId),
    /// What the build holds, or has on order, of these parts is another: stock that came or went, loans,
    /// what was rejected.
    Holds(Vec<PartId>),
    /// The build's lines were changed.
    Lines {
        /// Parts that were added.
        added: Vec<PartId>,
        /// Parts that were taken off.
        removed: Vec<PartId>,
    },
    /// The build was served, booked or held otherwise.
    Served {
        /// Where it stood, and stands.
        state: [BuildState; 2],
        /// Its priority before, and now.
        priority: [i32; 2],
        /// Its booked day before, and now.
        planned_start: [Option<Date>; 2],
    },
    /// Other builds, or the shop's bays and rules.
    Others {
        /// The shop's bays before, and now.
        bays: [u32; 2],
        /// Something else of its settings was changed.
        rules: bool,
    },
    /// The build was opened.
    Opened,
    /// So many working days passed.
    TimePassed(i64),
    /// So many more changes.
    Rest(usize),
}

/// One piece of news, and what it did to the date.
#[derive(Clone, Debug, PartialEq)]
pub struct SinceEvent {
    /// What happened.
    pub event: Event,
    /// Working days by which the handover at 80 % is later for it; negative: earlier.
    pub days: i64,
}

/// A build's handover at 80 % beside what it would be without the news since a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Since {
    /// News after this day counts.
    pub day: Date,
    /// As it was reckoned on that day; where the past is not at hand, of what is on the shelf today. Either
    /// way with what is known of suppliers today.
    pub then: Option<Date>,
    /// As it is now.
    pub now: Option<Date>,
    /// Working days from one to the other; later is positive. None: one of them has no date.
    pub days: Option<i64>,
    /// What moved it, the most first; time that passed counts. They sum to `days`.
    pub events: Vec<SinceEvent>,
}

/// What moved a build's handover date at 80 % after `day`, by changes that sum to the whole: each is taken
/// back after those that are listed with it as news, and its days are what that step moves.
///
/// News is a promise (of a supplier, a finisher, a customer), a placing, a despatch, the coming of
/// an awaited thing, a stage begun or done. `past`, see [`Book::as_known`]: the book as it was known at the end of
/// `day`; then also what the build holds, its lines, how it is served, and everybody else are taken back.
///
/// # Errors
/// The build is not in the book, or delivered or cancelled.
pub fn since(
    book: &Book,
    past: Option<&Book>,
    learned: Option<&Learned>,
    build: BuildId,
    (day, as_of): (Date, Date),
) -> Result<Since, Refusal> {
    let now = bays(book, learned, as_of, &View::new(book, learned, as_of))?;
    since_with(book, learned, build, &Held::new(book, past, learned, (day, as_of), &now)?)
}

/// As [`since`], for every build that is open, in the bay or on hold.
///
/// # Errors
/// As [`since`].
pub fn board_since(
    book: &Book,
    past: Option<&Book>,
    learned: Option<&Learned>,
    (day, as_of): (Date, Date),
    go_on: &dyn Fn() -> bool,
) -> Result<Option<BTreeMap<BuildId, Since>>, Refusal> {
    let now = bays(book, learned, as_of, &View::new(book, learned, as_of))?;
    if !go_on() {
        return Ok(None);
    }
    let held = Held::new(book, past, learned, (day, as_of), &now)?;
    let mut rows = BTreeMap::new();
    for row in book.builds.values().filter(|row| row.state.on_board()) {
        if !go_on() {
            return Ok(None);
        }
        let since = since_with(book, learned, row.id, &held)?;
        rows.insert(row.id, since);
    }
    Ok(Some(rows))
}

/// The bays of a shop on two days, reckoned once for all its builds.
pub(in crate::plan) struct Held<'p> {
    day: Date,
    as_of: Date,
    /// On the day: of the past where it is at hand, else of what is known now.
    then: Bays,
    now: Bays,
    past: Option<Past<'p>>,
}

/// What was known at the end of the day.
struct Past<'p> {
    book: &'p Book,
    /// Its bays, if all of it were true still.
    now: Bays,
}

impl<'p> Held<'p> {
    /// `now`: the bays at the start of `as_of`.
    pub(in crate::plan) fn new(
        book: &Book,
        past: Option<&'p Book>,
        learned: Option<&Learned>,
        (day, as_of): (Date, Date),
        now: &Bays,
    ) -> Result<Self, Refusal> {
        let day = day.min(as_of);
        // A shop whose builds were entered since knows nothing of the time before.
        let past = past.filter(|book| !book.builds.is_empty());
        let at = |book: &Book, day| bays(book, learned, day, &View::new(book, learned, day));
        let past = match past {
            // A past that cannot be played is none.
            Some(book) => at(book, as_of).ok().map(|now| Past { book, now }),
            None => None,
        };
        let then = match (&past, day == as_of) {
            (Some(past), true) => past.now.clone(),
            (None, true) => now.clone(),
            (Some(past), false) => at(past.book, day)?,
            (None, false) => at(book, day)?,
        };
        Ok(Self { day, as_of, then, now: now.clone(), past })
    }
}

/// Dates a build by a book that is cut down to it.
struct Teller<'t> {
    learned: Option<&'t Learned>,
    build: BuildId,
}

impl Teller<'_> {
    fn date(&self, book: &Book, row: &Build, at: Date, bays: &Bays) -> Option<Date> {
        let view = View::new(book, self.learned, at);
        view.delivery(row, &view.reckon(self.build), bays).at_80()
    }

    /// The book cut down to the build, as if it went on; with the build's own row.
    fn cut(&self, book: &Book, row: &Build, as_of: Date) -> Result<Book, Refusal> {
        let overlaid = as_if_open(book, row, as_of)?;
        Ok(slim(overlaid.as_ref().unwrap_or(book), &BTreeSet::from([self.build])))
    }
}

/// Changes taken back one after another, from now on.
struct TakenBack<'c> {
    calendar: &'c WorkCalendar,
    /// The date without those so far.
    date: Option<Date>,
    events: Vec<SinceEvent>,
}

impl TakenBack<'_> {
    /// The date without this one too. A change without which there is no date waits for the next.
    fn step(&mut self, event: Event, without: Option<Date>) {
        let Some((from, to)) = without.zip(self.date) else { return };
        let days = self.calendar.working_days_between(from, to);
        self.date = without;
        if days != 0 {
            self.events.push(SinceEvent { event, days });
        }
    }

    /// The most telling ones, and what the rest comes to.
    fn told(mut self) -> Vec<SinceEvent> {
        self.events.sort_by_key(|event| Reverse(event.days.abs()));
        if self.events.len() > EVENTS_MAX + 1 {
            let rest = self.events.split_off(EVENTS_MAX);
            let days = rest.iter().map(|event| event.days).sum();
            self.events.push(SinceEvent { event: Event::Rest(rest.len()), days });
        }
        self.events
    }
}

/// What else may have moved a build than what is its own.
fn others(then: &Book, now: &Book) -> Event {
    let of = |book: &Book| book.settings.as_ref().map(|row| Settings { version: 0, ..row.clone() });
    let bays_of = |row: &Option<Settings>| row.as_ref().map_or(0, |row| row.bays);
    let (was, is) = (of(then), of(now));
    let bays = [bays_of(&was), bays_of(&is)];
    let [_, bays_now] = bays;
    let rules = was.map(|row| Settings { bays: bays_now, ..row }) != is;
    Event::Others { bays, rules }
}

/// As [`since`].
pub(in crate::plan) fn since_with(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    held: &Held<'_>,
) -> Result<Since, Refusal> {
    let row = live_build(book, build)?;
    let Held { day, as_of, then: bays_then, now: bays_now, past } = held;
    let (day, as_of) = (*day, *as_of);
    let teller = Teller { learned, build };
    let small = |book: &Book| slim(book, &BTreeSet::from([build]));
    let mut before = teller.cut(book, row, as_of)?;
    let calendar = book.calendar();
    let now = teller.date(&before, row, as_of, bays_now);
    let mut back = TakenBack { calendar: &calendar, date: now, events: Vec::new() };
    let known = Then { day, past: past.as_ref().map(|past| past.book) };
    for (one, event) in news_of(&before, build, known) {
        take_back(&mut before, build, one, known);
        back.step(event, teller.date(&before, row, as_of, bays_now));
    }
    let passed = Event::TimePassed(calendar.working_days_between(day, as_of));
    let then = match past {
        None => {
            let then = teller.date(&before, row, day, bays_then);
            back.step(passed, then);
            then
        }
        Some(past) => match past.book.builds.get(&build).filter(|row| row.state.on_board()) {
            None => {
                back.events = vec![SinceEvent { event: Event::Opened, days: 0 }];
                None
            }
            Some(was) => {
                let old = teller.cut(past.book, was, as_of).unwrap_or_else(|_| small(past.book));
                let changes = Changes::of(&before, &old, build);
                held_as(&mut before, &old, build);
                back.step(Event::Holds(changes.held), teller.date(&before, row, as_of, bays_now));
                let mut lines = old.clone();
                lines.settings.clone_from(&before.settings);
                lines
                    .builds
                    .insert(build, before.builds.get(&build).cloned().unwrap_or(row.clone()));
                let event = Event::Lines { added: changes.added, removed: changes.removed };
                back.step(event, teller.date(&lines, row, as_of, bays_now));
                lines.builds.clone_from(&old.builds);
                let event = Event::Served {
                    state: [was.state, row.state],
                    priority: [was.priority, row.priority],
                    planned_start: [was.planned_start, row.planned_start],
                };
                back.step(event, teller.date(&lines, was, as_of, bays_now));
                let event = others(past.book, book);
                back.step(event, teller.date(&old, was, as_of, &past.now));
                // On hold it took what was free then.
                let then = teller.cut(past.book, was, day).unwrap_or(old);
                let then = teller.date(&then, was, day, bays_then);
                back.step(passed, then);
                then
            }
        },
    };
    let days = then.zip(now).map(|(then, now)| calendar.working_days_between(then, now));
    Ok(Since { day, then, now, days, events: back.told() })
}
