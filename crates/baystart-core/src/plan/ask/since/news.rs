//! What became known of what a build waits for, and how it is taken back.
//!
//! Where the past is at hand, a row is as it was recorded then, whatever day its facts are of; else what
//! happened on a later day is left out of today's row.

use super::{DateMove, Event};
use crate::book::Book;
use crate::book::model::{Awaited, Making, OrderLine, Promise, Stage};
use crate::ids::{AwaitedId, BuildId, LineId, OrderLineId, StageId};
use jiff::civil::Date;

/// What can be taken back by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum News {
    Supply(OrderLineId),
    Awaited(AwaitedId),
    AtFinisher(LineId),
    Work(StageId),
}

/// How things stood.
#[derive(Clone, Copy)]
pub(super) struct Then<'p> {
    pub(super) day: Date,
    pub(super) past: Option<&'p Book>,
}

impl Then<'_> {
    fn is_known(&self, promise: &Promise) -> bool {
        promise.known_on <= self.day
    }

    fn earlier(&self, on: Option<Date>) -> Option<Date> {
        on.filter(|on| *on <= self.day)
    }

    /// None: it was not placed.
    fn supply(&self, now: &OrderLine) -> Option<OrderLine> {
        if let Some(past) = self.past {
            return past.order_lines.get(&now.id).filter(|was| was.placed_on.is_some()).cloned();
        }
        self.earlier(now.placed_on)?;
        let mut was = now.clone();
        was.promises.retain(|promise| self.is_known(promise));
        was.despatched_on = self.earlier(was.despatched_on);
        Some(was)
    }

    /// None: it was not awaited yet.
    fn awaited(&self, now: &Awaited) -> Option<Awaited> {
        if let Some(past) = self.past {
            return past.awaited.get(&now.id).cloned();
        }
        let mut was = now.clone();
        was.promises.retain(|promise| self.is_known(promise));
        if was.line.is_none() {
            was.received_on = self.earlier(was.received_on);
        }
        Some(was)
    }

    fn finisher(&self, line: LineId, now: &Making) -> Vec<Promise> {
        if let Some(past) = self.past {
            let was = past.lines.get(&line).and_then(|line| line.making.as_ref());
            return was.map(|was| was.promises.clone()).unwrap_or_default();
        }
        now.promises.iter().filter(|promise| self.is_known(promise)).copied().collect()
    }

    /// None: the build had no such stage.
    fn stage(&self, now: &Stage) -> Option<Stage> {
        if let Some(past) = self.past {
            return past.stages.get(&now.id).cloned();
        }
        let mut was = now.clone();
        was.begun_on = self.earlier(was.begun_on);
        was.done_on = self.earlier(was.done_on);
        Some(was)
    }
}

/// Every piece of news since.
pub(super) fn news_of(book: &Book, build: BuildId, then: Then<'_>) -> Vec<(News, Event)> {
    let mut news = Vec::new();
    let mut supplies = Vec::new();
    for line in book.lines_of(build) {
        for peg in book.pegs_of(line.id) {
            if supplies.contains(&peg.order_line) {
                continue;
            }
            supplies.push(peg.order_line);
            let supply = book.order_lines.get(&peg.order_line);
            let event = supply.and_then(|supply| of_supply(supply, then.supply(supply)));
            news.extend(event.map(|event| (News::Supply(peg.order_line), event)));
        }
        if let Some(making) = &line.making {
            let moved = moved(&making.promises, &then.finisher(line.id, making));
            let event = moved.map(|date| Event::BackFromFinisher(line.part, date));
            news.extend(event.map(|event| (News::AtFinisher(line.id), event)));
        }
    }
    for row in book.awaited_of(build) {
        let (kind, name) = (row.kind, row.name.clone());
        let Some(was) = then.awaited(row) else { continue };
        // What came for a line lies on the shelf, and is held.
        let came = row.received_on.is_some() && was.received_on.is_none() && row.line.is_none();
        let event = match came {
            true => Some(Event::Came { kind, name }),
            false => {
                moved(&row.promises, &was.promises).map(|date| Event::Expected { kind, name, date })
            }
        };
        news.extend(event.map(|event| (News::Awaited(row.id), event)));
    }
    for stage in book.stages_of(build) {
        let Some(was) = then.stage(stage) else { continue };
        let since = |now: Option<Date>, was: Option<Date>| now.is_some() && was.is_none();
        let begun = since(stage.begun_on, was.begun_on);
        let event = match (begun, since(stage.done_on, was.done_on)) {
            (_, true) => Event::StageDone(stage.id),
            (true, _) => Event::StageBegun(stage.id),
            _ => continue,
        };
        news.push((News::Work(stage.id), event));
    }
    news
}

fn of_supply(line: &OrderLine, was: Option<OrderLine>) -> Option<Event> {
    let Some(was) = was else { return Some(Event::Ordered(line.id)) };
    let moved = moved(&line.promises, &was.promises);
    match line.despatched_on.is_some() && was.despatched_on.is_none() && moved.is_none() {
        true => Some(Event::Despatched(line.id)),
        false => moved.map(|date| Event::Promised(line.id, date)),
    }
}

/// What became known of a date.
fn moved(now: &[Promise], was: &[Promise]) -> Option<DateMove> {
    let last = now.last()?;
    let before = was.last().map(|promise| promise.promised_on);
    (before != Some(last.promised_on)).then_some(DateMove { before, now: last.promised_on })
}

/// The book as it would be without it.
pub(super) fn take_back(book: &mut Book, build: BuildId, news: News, then: Then<'_>) {
    match news {
        News::Supply(id) => {
            let Some(line) = book.order_lines.get(&id) else { return };
            if let Some(was) = then.supply(line) {
                book.order_lines.insert(id, was);
                return;
            }
            let lines: Vec<LineId> = book.lines_of(build).iter().map(|line| line.id).collect();
            book.pegs.retain(|_, peg| peg.order_line != id || !lines.contains(&peg.line));
        }
        News::Awaited(id) => {
            let was = book.awaited.get(&id).and_then(|row| then.awaited(row));
            if let Some(was) = was {
                book.awaited.insert(id, was);
            }
        }
        News::AtFinisher(id) => {
            let Some(mut line) = book.lines.get_mut(&id) else { return };
            if let Some(making) = &mut line.making {
                making.promises = then.finisher(id, making);
            }
        }
        News::Work(id) => {
            let was = book.stages.get(&id).and_then(|stage| then.stage(stage));
            let Some((mut stage, was)) = book.stages.get_mut(&id).zip(was) else { return };
            stage.begun_on = was.begun_on;
            stage.done_on = was.done_on;
        }
    }
}
