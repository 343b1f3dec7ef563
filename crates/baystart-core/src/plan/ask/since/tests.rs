//! What moved a date, played on the example shop: the past is the book as it was before.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::{Event, Since, since};
use crate::book::Book;
use crate::book::model::{BuildState, Promise};
use crate::calendar::add_days;
use crate::command::BuildCommand;
use crate::ids::BuildId;
use crate::plan::forecast_build;
use crate::testing::{Shop, TODAY, by, need};
use jiff::civil::Date;

/// Two builds, one bay; what the first waits for is promised in a month.
fn shop() -> (Shop, BuildId, Date) {
    let mut shop = Shop::new();
    shop.book.settings.as_mut().unwrap().bays = 1;
    for part in ["HD-1", "HD-2", "HD-3"] {
        shop.part(part);
        shop.offer("CORRIE", part, 40);
    }
    shop.stock("HD-2", 1);
    let first = shop.open("B-1", &[("HD-1", "Body", 1), ("HD-2", "Electrical", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, add_days(TODAY, 30))]);
    let (past, day) = (shop.today, add_days(shop.today, 1).unwrap());
    shop.today = day;
    (shop, first, past)
}

/// What moved the date since `day`, when the book was `past`. The parts sum to the whole, and the whole is
/// between what was said then and what is said now.
fn moved(shop: &Shop, past: &Book, build: BuildId, day: Date) -> Since {
    let found = since(&shop.book, Some(past), None, build, (day, shop.today)).unwrap();
    let sum: i64 = found.events.iter().map(|event| event.days).sum();
    assert_eq!(Some(sum), found.days, "{found:?}");
    let said = |book: &Book, at| {
        let forecast = forecast_build(book, None, build, at, None).unwrap();
        forecast.delivery.at_80()
    };
    assert_eq!((found.then, found.now), (said(past, day), said(&shop.book, shop.today)));
    found
}

fn days_of(found: &Since, of: impl Fn(&Event) -> bool) -> i64 {
    found.events.iter().find(|row| of(&row.event)).map_or(0, |row| row.days)
}

/// Before, a part that the customer added moved the date, and nothing was named for it.
#[test]
fn a_line_that_was_added_counts_and_is_named() {
    let (mut shop, build, day) = shop();
    let past = shop.book.clone();
    let lines = vec![need("HD-3", 1)];
    shop.build(BuildCommand::AddLines { build: by("B-1"), lines });
    let found = moved(&shop, &past, build, day);
    assert!(days_of(&found, |event| matches!(event, Event::Lines { .. })) > 5, "{found:?}");
    let texts: Vec<_> = found.events.iter().map(|row| shop.words().event(&row.event)).collect();
    assert!(texts.iter().any(|text| text == "added: HD-3"), "{texts:?}");
}

#[test]
fn a_bay_less_and_a_build_that_overtakes_count_as_the_shop_s() {
    let (mut shop, build, day) = shop();
    shop.stock("HD-1", 1);
    shop.stock("HD-3", 1);
    let past = shop.book.clone();
    let long = [need("HD-3", 1)];
    shop.open_served("B-2", 1, None, &long);
    shop.book.stages.change_all(|stage| stage.planned_days = 20);
    // The first build's own stages are as long as they were.
    let ours: Vec<_> = past.stages_of(build).into_iter().cloned().collect();
    for stage in ours {
        shop.book.stages.insert(stage.id, stage);
    }
    let found = moved(&shop, &past, build, day);
    assert!(days_of(&found, |event| matches!(event, Event::Others { .. })) > 10, "{found:?}");
}

#[test]
fn what_another_build_took_counts_as_held() {
    let (mut shop, build, day) = shop();
    let past = shop.book.clone();
    let reserved: Vec<_> = shop.book.reservations.keys().copied().collect();
    for id in reserved {
        shop.book.reservations.remove(&id);
    }
    let found = moved(&shop, &past, build, day);
    let held = days_of(&found, |event| matches!(event, Event::Holds(parts) if parts.len() == 1));
    assert!(held > 0, "{found:?}");
}

#[test]
fn a_priority_and_a_hold_count_as_how_it_is_served() {
    let (mut shop, build, day) = shop();
    shop.open_served("B-2", 50, None, &[need("HD-3", 1)]);
    shop.build(BuildCommand::Hold { build: by("B-1"), reason: "paint".into(), occurred_on: None });
    let past = shop.book.clone();
    shop.build(BuildCommand::Resume { build: by("B-1"), occurred_on: None });
    let mut row = shop.book.builds.get(&build).cloned().unwrap();
    assert_eq!(row.state, BuildState::Open);
    row.planned_start = add_days(TODAY, 120);
    row.priority = 500;
    shop.book.builds.insert(build, row);
    let found = moved(&shop, &past, build, day);
    assert!(found.days.is_some());
}

#[test]
fn a_build_that_was_opened_since_has_no_day_before() {
    let (mut shop, _, day) = shop();
    let past = shop.book.clone();
    let late = shop.open("B-9", &[("HD-3", "Body", 1)]);
    let found = since(&shop.book, Some(&past), None, late, (day, shop.today)).unwrap();
    assert_eq!((found.then, found.days), (None, None));
    assert_eq!(found.events.last().map(|row| &row.event), Some(&Event::Opened));
}

/// Nothing happened but a day: the whole is the day.
#[test]
fn a_day_on_which_nothing_happened_is_all_that_passed() {
    let (shop, build, day) = shop();
    let past = shop.book.clone();
    let found = moved(&shop, &past, build, day);
    let others = days_of(&found, |event| !matches!(event, Event::TimePassed(_)));
    assert_eq!(others, 0, "{found:?}");
}

/// What was added and lies on the shelf moves nothing: it was told as held less and as added.
#[test]
fn a_line_that_was_added_and_has_its_part_moves_nothing() {
    let (mut shop, build, day) = shop();
    shop.stock("HD-3", 3);
    let past = shop.book.clone();
    shop.build(BuildCommand::AddLines { build: by("B-1"), lines: vec![need("HD-3", 1)] });
    let found = moved(&shop, &past, build, day);
    let others = found.events.iter().filter(|row| !matches!(row.event, Event::TimePassed(_)));
    assert_eq!(others.count(), 0, "{found:?}");
}

/// A promise that was entered later than it was heard, or on the same day, is a promise all the same.
#[test]
fn a_promise_counts_by_when_it_was_entered() {
    let (mut shop, build, day) = shop();
    let past = shop.book.clone();
    let id = shop.order_line("P-1", 1).id;
    let mut line = shop.book.order_lines.get(&id).cloned().unwrap();
    line.promises.push(Promise { promised_on: add_days(TODAY, 60).unwrap(), known_on: day });
    shop.book.order_lines.insert(id, line);
    let found = moved(&shop, &past, build, day);
    let promised = days_of(&found, |event| matches!(event, Event::Promised(..)));
    assert!(promised > 15, "{found:?}");
}
