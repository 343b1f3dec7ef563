//! What happened to a build's date since a day: each piece of news taken back by itself.

use crate::book::Book;
use crate::book::model::{AwaitedKind, OrderLine, Promise};
use crate::ids::{AwaitedId, BuildId, LineId, OrderLineId, PartId, StageId};
use crate::plan::bays::holdings::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::slim::slim;
use crate::plan::frame::view::{View, as_if_open, live_build};
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

/// Pieces of news that are told at most.
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
    /// So many working days passed.
    TimePassed(i64),
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
    /// As it was reckoned on that day, with what is on the shelf today.
    pub then: Option<Date>,
    /// As it is now.
    pub now: Option<Date>,
    /// Working days from one to the other; later is positive. None: one of them has no date.
    pub days: Option<i64>,
    /// What moved it most, the most first; time that passed counts as news.
    pub events: Vec<SinceEvent>,
}

/// What can be taken back by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
enum News {
    Supply(OrderLineId),
    Awaited(AwaitedId),
    AtFinisher(LineId),
    Work(StageId),
}

/// What moved a build's handover date at 80 % after `day`. Each event's days are the
/// difference to the same forecast without it, so they need not add up to the whole.
///
/// News is a promise (of a supplier, a finisher, a customer), a placing, a despatch, the coming of
/// an awaited thing, a stage begun or done. Stock that came or went is not taken back.
///
/// # Errors
/// The build is not in the book, or delivered or cancelled.
pub fn since(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    day: Date,
    as_of: Date,
) -> Result<Since, Refusal> {
    let now = bays(book, learned, as_of, &View::new(book, learned, as_of))?;
    since_with(book, learned, build, &Held::new(book, learned, day, as_of, &now)?)
}

/// As [`since`], for every build that is open, in the bay or on hold.
///
/// # Errors
/// As [`since`].
pub fn board_since(
    book: &Book,
    learned: Option<&Learned>,
    day: Date,
    as_of: Date,
    go_on: &dyn Fn() -> bool,
) -> Result<Option<BTreeMap<BuildId, Since>>, Refusal> {
    let now = bays(book, learned, as_of, &View::new(book, learned, as_of))?;
    let held = Held::new(book, learned, day, as_of, &now)?;
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
pub(in crate::plan) struct Held {
    day: Date,
    as_of: Date,
    then: Bays,
    now: Bays,
}

impl Held {
    /// `now`: the bays at the start of `as_of`.
    pub(in crate::plan) fn new(
        book: &Book,
        learned: Option<&Learned>,
        day: Date,
        as_of: Date,
        now: &Bays,
    ) -> Result<Self, Refusal> {
        let day = day.min(as_of);
        let then = match day == as_of {
            true => now.clone(),
            false => bays(book, learned, day, &View::new(book, learned, day))?,
        };
        Ok(Self { day, as_of, then, now: now.clone() })
    }
}

/// As [`since`].
pub(in crate::plan) fn since_with(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    held: &Held,
) -> Result<Since, Refusal> {
    let row = live_build(book, build)?;
    let Held { day, as_of, then: bays_then, now: bays_now } = held;
    let (day, as_of) = (*day, *as_of);
    let overlaid = as_if_open(book, row, as_of)?;
    // Each piece of news is a book of its own: a small one.
    let slim = slim(overlaid.as_ref().unwrap_or(book), &BTreeSet::from([build]));
    let book = &slim;
    let date_with = |book: &Book, at: Date, bays: &Bays| {
        let view = View::new(book, learned, at);
        let reckoned = view.reckon(build);
        view.delivery(row, &reckoned, bays).at_80()
    };
    let date = |book: &Book, at: Date| match at == as_of {
        true => date_with(book, at, bays_now),
        false => date_with(book, at, bays_then),
    };
    let calendar = book.calendar();
    let later =
        |from: Option<Date>, to: Option<Date>| Some(calendar.working_days_between(from?, to?));
    let now = date(book, as_of);
    let news = news_of(book, build, day);
    let mut before = book.clone();
    let mut events = Vec::new();
    for (one, event) in news {
        take_back(&mut before, build, one, day);
        let mut without = book.clone();
        take_back(&mut without, build, one, day);
        if let Some(days) = later(date(&without, as_of), now).filter(|days| *days != 0) {
            events.push(SinceEvent { event, days });
        }
    }
    let then = date(&before, day);
    let passed = calendar.working_days_between(day, as_of);
    if let Some(days) = later(then, date(&before, as_of)).filter(|days| *days != 0) {
        events.push(SinceEvent { event: Event::TimePassed(passed), days });
    }
    events.sort_by_key(|event| Reverse(event.days.abs()));
    events.truncate(EVENTS_MAX);
    Ok(Since { day, then, now, days: later(then, now), events })
}

fn news_of(book: &Book, build: BuildId, day: Date) -> Vec<(News, Event)> {
    let mut news = Vec::new();
    let mut supplies = Vec::new();
    for line in book.lines_of(build) {
        for peg in book.pegs_of(line.id) {
            if supplies.contains(&peg.order_line) {
                continue;
            }
            supplies.push(peg.order_line);
            let supply = book.order_lines.get(&peg.order_line);
            let event = supply.and_then(|supply| of_supply(supply, day));
            news.extend(event.map(|event| (News::Supply(peg.order_line), event)));
        }
        if let Some(making) = &line.making {
            let moved = moved(&making.promises, day);
            let event = moved.map(|date| Event::BackFromFinisher(line.part, date));
            news.extend(event.map(|event| (News::AtFinisher(line.id), event)));
        }
    }
    for row in book.awaited_of(build) {
        let (kind, name) = (row.kind, row.name.clone());
        // What came for a line lies on the shelf, and stock is not taken back.
        let came = row.received_on.is_some_and(|on| on > day) && row.line.is_none();
        let event = match came {
            true => Some(Event::Came { kind, name }),
            false => moved(&row.promises, day).map(|date| Event::Expected { kind, name, date }),
        };
        news.extend(event.map(|event| (News::Awaited(row.id), event)));
    }
    for stage in book.stages_of(build) {
        let since = |on: Option<Date>| on.is_some_and(|on| on > day);
        let event = match (since(stage.begun_on), since(stage.done_on)) {
            (_, true) => Event::StageDone(stage.id),
            (true, _) => Event::StageBegun(stage.id),
            _ => continue,
        };
        news.push((News::Work(stage.id), event));
    }
    news
}

fn of_supply(line: &OrderLine, day: Date) -> Option<Event> {
    let moved = moved(&line.promises, day);
    let since = |on: Option<Date>| on.is_some_and(|on| on > day);
    match (since(line.placed_on), since(line.despatched_on)) {
        (true, _) => Some(Event::Ordered(line.id)),
        (false, true) if moved.is_none() => Some(Event::Despatched(line.id)),
        _ => moved.map(|date| Event::Promised(line.id, date)),
    }
}

/// What became known of a date after `day`.
fn moved(promises: &[Promise], day: Date) -> Option<DateMove> {
    let last = promises.last().filter(|promise| promise.known_on > day)?;
    let before = promises.iter().rev().find(|promise| promise.known_on <= day);
    let before = before.map(|promise| promise.promised_on);
    (before != Some(last.promised_on)).then_some(DateMove { before, now: last.promised_on })
}

fn take_back(book: &mut Book, build: BuildId, news: News, day: Date) {
    let known = |promise: &Promise| promise.known_on <= day;
    let earlier = |on: Option<Date>| on.filter(|on| *on <= day);
    match news {
        News::Supply(id) => {
            let Some(mut line) = book.order_lines.get_mut(&id) else { return };
            line.promises.retain(known);
            line.despatched_on = earlier(line.despatched_on);
            let unknown = earlier(line.placed_on).is_none();
            drop(line);
            if unknown {
                let lines: Vec<LineId> = book.lines_of(build).iter().map(|line| line.id).collect();
                book.pegs.retain(|_, peg| peg.order_line != id || !lines.contains(&peg.line));
            }
        }
        News::Awaited(id) => {
            let Some(mut row) = book.awaited.get_mut(&id) else { return };
            row.promises.retain(known);
            if row.line.is_none() {
                row.received_on = earlier(row.received_on);
            }
        }
        News::AtFinisher(id) => {
            let Some(mut line) = book.lines.get_mut(&id) else { return };
            if let Some(making) = &mut line.making {
                making.promises.retain(known);
            }
        }
        News::Work(id) => {
            let Some(mut stage) = book.stages.get_mut(&id) else { return };
            stage.begun_on = earlier(stage.begun_on);
            stage.done_on = earlier(stage.done_on);
        }
    }
}
