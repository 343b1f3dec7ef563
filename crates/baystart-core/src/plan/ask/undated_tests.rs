//! FC-3: a part that nobody dates is named, and hides no date from anybody.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::book::Book;
use crate::command::BuildCommand;
use crate::ids::BuildId;
use crate::plan::{
    At80, Supposed, as_it_is, board, board_since, chance_of_promise, customer_promises,
    forecast_build, since, suppose, swaps,
};
use crate::quantity::Quantity;
use crate::testing::{Shop, TODAY, by};
use jiff::civil::{Date, date};

/// B-1 waits for an order, and in its last stage for a rack that nobody offers.
fn shop() -> (Shop, BuildId) {
    let mut shop = Shop::new();
    for part in ["HD-1", "RACK"] {
        shop.part(part);
    }
    let id = shop.open("B-1", &[("HD-1", "Body", 1), ("RACK", "Electrical", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 2)))]);
    (shop, id)
}

/// What the board says of a build: start and delivery at 80 %.
fn on_board(book: &Book, id: BuildId) -> (Date, Date) {
    let rows = board(book, None, TODAY).unwrap();
    let row = rows.iter().find(|row| row.forecast.build == id).unwrap();
    (row.forecast.start.at_80().unwrap(), row.forecast.delivery.at_80().unwrap())
}

#[test]
fn news_and_supposed_facts_date_a_build_as_the_board_does() {
    let (shop, id) = shop();
    let (start, delivery) = on_board(&shop.book, id);
    assert_eq!(since(&shop.book, None, None, id, (TODAY, TODAY)).unwrap().now, Some(delivery));
    let all = board_since(&shop.book, None, None, (TODAY, TODAY), &|| true).unwrap().unwrap();
    assert_eq!(all[&id].now, Some(delivery));
    let fact = Supposed::OrderLater { order: by("P-1"), line: None, days: 7 };
    let (later, _) = suppose(&shop.book, &[fact], TODAY).unwrap();
    let at = |book: &Book| At80::of(&forecast_build(book, None, id, TODAY, None).unwrap());
    let found = as_it_is(&shop.book.calendar(), at(&shop.book), at(&later));
    assert_eq!((found.start, found.delivery), (Some(start), Some(delivery)));
    assert_eq!((found.start_days, found.delivery_days), (Some(5), Some(5)), "a week later");
}

#[test]
fn a_promise_is_weighed_by_what_has_a_date_and_the_rest_is_named() {
    let (mut shop, id) = shop();
    let (_, delivery) = on_board(&shop.book, id);
    let chance = |shop: &Shop, day| chance_of_promise(&shop.book, None, id, TODAY, day).unwrap();
    let said = chance(&shop, delivery);
    assert!((0.8..0.95).contains(&said), "{said}");
    assert!(chance(&shop, date(2026, 9, 18)) < 0.01);
    shop.build(BuildCommand::PromiseDelivery {
        build: by("B-1"),
        delivery_on: delivery,
        note: String::new(),
        occurred_on: None,
    });
    let (rows, _) = customer_promises(&shop.book, None, TODAY, &|| true).unwrap().unwrap();
    assert_eq!((rows[0].chance, rows[0].handover_80), (chance(&shop, delivery), Some(delivery)));
    let named: Vec<_> = rows[0].undated.iter().map(|row| row.thing.part().unwrap()).collect();
    assert_eq!(named, [shop.part_id("RACK")]);
}

/// B-1 is late by some days for its order, not by the whole horizon for its rack; and B-2, which has a
/// rack and is urgent, is not asked to give it.
#[test]
fn nobody_is_stripped_for_what_nobody_dates() {
    let (mut shop, id) = shop();
    shop.stock("RACK", 1);
    let other = shop.open("B-2", &[("RACK", "Electrical", 1)]);
    // The rack goes to B-1, which was opened first: B-2 is to have it, and B-1 to lack it.
    shop.run(crate::command::Command::Bind(crate::command::BindCommand::Lend {
        build: by("B-1"),
        line: 2,
        to_build: by("B-2"),
        to_line: 1,
        quantity: Some(Quantity::whole(1)),
        reason: "the glen team waits".to_owned(),
        shown: None,
    }));
    let mut row = shop.book.builds.get_mut(&id).unwrap();
    row.planned_start = Some(date(2026, 9, 28));
    drop(row);
    let mut row = shop.book.builds.get_mut(&other).unwrap();
    (row.planned_start, row.priority) = (Some(date(2026, 9, 28)), 1);
    drop(row);
    let (start, _) = on_board(&shop.book, id);
    let found = swaps(&shop.book, None, TODAY, true, &|| true).unwrap().unwrap();
    let [late] = found.late.as_slice() else { panic!("{found:?}") };
    let days = shop.book.calendar().working_days_between(date(2026, 9, 28), start);
    assert_eq!((late.build, late.start, late.days), (id, Some(start), Some(days)));
    assert_eq!(late.undated.len(), 1);
    assert_eq!(found.proposals, []);
}
