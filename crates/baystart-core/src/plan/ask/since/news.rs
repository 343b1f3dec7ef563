//! What became known of what a build waits for, and how it is taken back.

use super::{DateMove, Event};
use crate::book::Book;
use crate::book::model::{OrderLine, Promise};
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

/// Every piece of news after `day`.
pub(super) fn news_of(book: &Book, build: BuildId, day: Date) -> Vec<(News, Event)> {
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

/// The book as it would be without it.
pub(super) fn take_back(book: &mut Book, build: BuildId, news: News, day: Date) {
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
