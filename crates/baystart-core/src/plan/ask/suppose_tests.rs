//! Supposed facts: each does what it says to the dates, and nothing to the book.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::book::Book;
use crate::command::{Command, OrderCommand};
use crate::ids::BuildId;
use crate::plan::frame::slim::slim;
use crate::plan::{
    At80, Fact, Supposed, as_it_is, board, board_since, chases, forecast_build, since, suppose,
};
use crate::quantity::Quantity;
use crate::refusal::Reason;
use crate::testing::{Shop, TODAY, by, number, order_line};
use jiff::civil::{Date, date};

fn starts(book: &Book, id: BuildId) -> Vec<Option<Date>> {
    let forecast = forecast_build(book, None, id, TODAY, None).unwrap();
    forecast.start.iter().map(|at| at.date).collect()
}

fn told(shop: &Shop, facts: &[Fact]) -> Vec<String> {
    facts.iter().map(|fact| shop.words().fact(fact)).collect()
}

/// B-1 holds the only one here, B-2 waits for the order.
fn shop() -> (Shop, BuildId, BuildId) {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 20);
    shop.stock("HD-1", 1);
    let first = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let second = shop.open("B-2", &[("HD-1", "Body", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 12)))]);
    (shop, first, second)
}

#[test]
fn an_order_a_week_later_moves_every_date_by_a_week() {
    let (shop, first, second) = shop();
    let before = shop.book.clone();
    for days in [7, 14, -14] {
        let fact = Supposed::OrderLater { order: by("P-1"), line: None, days };
        let (book, said) = suppose(&shop.book, &[fact], TODAY).unwrap();
        let way = if days < 0 { "sooner" } else { "later" };
        assert_eq!(told(&shop, &said), [format!("order P-1 comes {} days {way}", days.abs())]);
        assert_eq!(shop.book, before, "nothing is saved");
        let moved = |date: &Option<Date>| {
            date.map(|d| d.checked_add(jiff::Span::new().days(days)).unwrap())
        };
        // Whole weeks, no closures: the same weekday, so each date moves by exactly so much.
        let expected: Vec<_> = starts(&shop.book, second).iter().map(moved).collect();
        assert_eq!(starts(&book, second), expected);
        assert_eq!(starts(&book, first), starts(&shop.book, first));
        let plain = forecast_build(&shop.book, None, second, TODAY, None).unwrap();
        let then = forecast_build(&book, None, second, TODAY, None).unwrap();
        let found = as_it_is(&shop.book.calendar(), At80::of(&plain), At80::of(&then));
        assert_eq!(found.start_days, Some(days / 7 * 5));
        assert_eq!(found.start, plain.start[1].date);
        let words = shop.words().waits_for(&then.sources[0].waits_for, &[]);
        assert!(words.ends_with(&format!("; supposed {} days {way}", days.abs())), "{words}");
    }
    // Sooner than today is today.
    let fact = Supposed::OrderLater { order: by("P-1"), line: Some(1), days: -300 };
    let (book, said) = suppose(&shop.book, &[fact], TODAY).unwrap();
    assert_eq!(told(&shop, &said), ["order P-1 line 1 comes 300 days sooner"]);
    assert!(starts(&book, second).iter().all(|date| *date == Some(TODAY)));
}

#[test]
fn a_part_on_the_shelf_goes_to_whom_the_rules_give_it() {
    let (shop, _, second) = shop();
    let fact = Supposed::PartHere { part: by("HD-1"), quantity: Quantity::whole(1) };
    let (book, said) = suppose(&shop.book, &[fact], TODAY).unwrap();
    assert_eq!(told(&shop, &said), ["1 pcs more of HD-1 on the shelf today"]);
    assert!(starts(&book, second).iter().all(|date| *date == Some(TODAY)));
    assert_eq!(crate::invariants::check(&book), []);
}

#[test]
fn a_build_that_comes_first_gets_what_others_hold_and_they_its_supply() {
    let (shop, first, second) = shop();
    let fact = Supposed::BuildFirst { build: by("B-2") };
    let (book, said) = suppose(&shop.book, &[fact], TODAY).unwrap();
    assert_eq!(told(&shop, &said), ["build B-2 comes first, with what others could lend it"]);
    assert_eq!(starts(&book, second), starts(&shop.book, first));
    assert_eq!(starts(&book, first), starts(&shop.book, second));
    assert_eq!(crate::invariants::check(&book), []);
    let rows = board(&book, None, TODAY).unwrap();
    assert_eq!(rows[0].forecast.build, second, "it is served first");
}

#[test]
fn another_bay_ends_the_wait_for_one() {
    let (mut shop, _, second) = shop();
    shop.book.settings.as_mut().unwrap().bays = 1;
    let first = shop.book.find_build(&by("B-1")).unwrap().id;
    // Booked from today on: five days of work.
    shop.book.builds.get_mut(&first).unwrap().planned_start = Some(TODAY);
    shop.stock("HD-1", 1);
    let bay = |book: &Book| {
        forecast_build(book, None, second, TODAY, None).unwrap().delivery.levels[0].bay_start
    };
    assert_eq!(bay(&shop.book), Some(date(2026, 9, 21)));
    let (book, said) = suppose(&shop.book, &[Supposed::MoreBays { bays: 1 }], TODAY).unwrap();
    assert_eq!(told(&shop, &said), ["2 bays instead of 1"]);
    assert_eq!(bay(&book), Some(TODAY));
}

#[test]
fn every_fault_is_named_at_once() {
    let (shop, ..) = shop();
    let facts = [
        Supposed::OrderLater { order: by("P-9"), line: None, days: 0 },
        Supposed::OrderLater { order: by("P-1"), line: Some(4), days: 7 },
        Supposed::PartHere { part: by("XX-1"), quantity: Quantity::whole(1) },
        Supposed::PartHere { part: by("HD-1"), quantity: Quantity::ZERO },
        Supposed::BuildFirst { build: by("B-9") },
        Supposed::MoreBays { bays: 1 },
    ];
    let refused = suppose(&shop.book, &facts, TODAY).unwrap_err();
    let faults: Vec<_> =
        refused.faults.iter().map(|fault| (fault.field.to_string(), fault.reason)).collect();
    assert_eq!(
        faults,
        [
            ("suppose[0].days", Reason::ValueInvalid),
            ("suppose[0].order", Reason::OrderUnknown),
            ("suppose[1].line_number", Reason::LineUnknown),
            ("suppose[2].part", Reason::PartUnknown),
            ("suppose[3].quantity", Reason::ValueInvalid),
            ("suppose[4].build", Reason::BuildUnknown),
            ("suppose[5].bays", Reason::ValueInvalid),
        ]
        .map(|(field, reason)| (field.to_owned(), reason))
    );
    let many = vec![Supposed::MoreBays { bays: 1 }; 21];
    let refused = suppose(&shop.book, &many, TODAY).unwrap_err();
    assert_eq!(refused.faults[0].message, "21 facts; at most 20");
}

#[test]
fn a_small_book_dates_a_build_as_the_whole_one_does() {
    let (mut shop, first, second) = shop();
    shop.part("HD-2");
    shop.offer("STRATH", "HD-2", 9);
    let third = shop.open("B-3", &[("HD-1", "Body", 2), ("HD-2", "Electrical", 1)]);
    for id in [first, second, third] {
        let small = slim(&shop.book, &[id].into());
        let whole = forecast_build(&shop.book, None, id, TODAY, None).unwrap();
        assert_eq!(forecast_build(&small, None, id, TODAY, None).unwrap(), whole);
        assert!(small.builds.len() == 1 && small.lines.len() < shop.book.lines.len());
    }
    // The board's news are each build's own.
    let day = date(2026, 9, 2);
    let all = board_since(&shop.book, None, None, (day, TODAY), &|| true).unwrap().unwrap();
    let own = since(&shop.book, None, None, second, (day, TODAY)).unwrap();
    assert!(own.days.is_some() && !own.events.is_empty(), "{own:?}");
    assert_eq!((all.len(), &all[&second]), (3, &own));
}

/// Seen in use: what lay free was neither taken nor hinted at where the line's order was placed for it.
#[test]
fn a_line_whose_order_was_placed_for_it_is_told_of_free_stock_and_supposed_to_take_it() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 20);
    let id = shop.open("B-1", &[("HD-1", "Body", 2)]);
    shop.run(Command::Order(OrderCommand::Create {
        number: number("P-1"),
        supplier: by("CORRIE"),
        lines: vec![order_line("HD-1", 2, Some(("B-1", 1)))],
        placed_on: Some(date(2026, 9, 1)),
    }));
    let fact = Supposed::PartHere { part: by("HD-1"), quantity: Quantity::whole(2) };
    let (book, _) = suppose(&shop.book, &[fact], TODAY).unwrap();
    assert!(starts(&book, id).iter().all(|date| *date == Some(TODAY)), "{:?}", starts(&book, id));
    // One of two: the rest waits for its order as before.
    let fact = Supposed::PartHere { part: by("HD-1"), quantity: Quantity::whole(1) };
    let (book, _) = suppose(&shop.book, &[fact], TODAY).unwrap();
    assert_eq!(starts(&book, id), starts(&shop.book, id));
    let line = book.lines_of(id)[0].id;
    assert_eq!(
        (book.held_for(line), book.pegged_for(line)),
        (Quantity::whole(1), Quantity::whole(1))
    );
    assert_eq!(crate::invariants::check(&book), []);
    // What lies there truly stays where it is, and is told.
    shop.stock("HD-1", 1);
    assert_eq!(shop.book.held_for(line), Quantity::ZERO, "people decide");
    let forecast = forecast_build(&shop.book, None, id, TODAY, None).unwrap();
    let told = shop.words().waits_for(&forecast.sources[0].waits_for, &[]);
    assert!(told.ends_with("; 1 of it lie free here"), "{told}");
    let calls = chases(&shop.book, None, TODAY, &|| true).unwrap().unwrap();
    let reason = shop.words().chase_reason(&calls[0]);
    assert!(reason.contains("1 of it lie free here: give its build that instead"), "{reason}");
}
