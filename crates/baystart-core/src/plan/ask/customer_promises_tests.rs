//! Promises to customers: chances worked by hand, news taken back, promises scored.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use crate::book::model::{BuildState, CustomerPromise, StartWay};
use crate::calendar::{Closures, DayAxis, HORIZON_DAYS, WorkCalendar};
use crate::command::{BuildCommand, Command, OrderCommand};
use crate::ids::BuildId;
use crate::leadtime::{OpenSupply, Promise, arrival_cdf, on_axis};
use crate::plan::{Event, chance_of_promise, customer_promises, since};
use crate::testing::{Shop, TODAY, by};
use jiff::civil::{Date, date};
use std::collections::BTreeSet;

fn promise(shop: &mut Shop, build: &str, delivery_on: Date) {
    shop.build(BuildCommand::PromiseDelivery {
        build: by(build),
        delivery_on,
        note: String::new(),
        occurred_on: None,
    });
}

/// Five working days of work, and one order promised for 28 September.
fn shop() -> (Shop, BuildId) {
    let mut shop = Shop::new();
    shop.part("HD-1");
    let id = shop.open("B-1", &[("HD-1", "Body", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 9, 28)))]);
    (shop, id)
}

fn news(shop: &mut Shop, promised_on: Date) {
    shop.run(Command::Order(OrderCommand::Acknowledge {
        order: by("P-1"),
        supplier_reference: String::new(),
        promises: vec![(1, Some(promised_on))],
        occurred_on: Some(TODAY),
    }));
}

/// P(arrived by the start of axis index i) of the one order.
fn arrival() -> (DayAxis, Vec<f64>) {
    let calendar =
        WorkCalendar::new([true, true, true, true, true, false, false], BTreeSet::new()).unwrap();
    let axis = DayAxis::new(&calendar, TODAY);
    let supply = OpenSupply {
        placed_on: date(2026, 9, 1),
        quoted_days: None,
        promise: Some(Promise { date: date(2026, 9, 28), known_on: date(2026, 9, 3) }),
        despatched_on: None,
    };
    let law = arrival_cdf(&supply, TODAY, &Closures::none(), HORIZON_DAYS).unwrap();
    let cdf = on_axis(&law, &axis);
    (axis, cdf)
}

/// Within the sampling error of 1,024 paths.
fn near(chance: f64, exact: f64) -> bool {
    (chance - exact).abs() < 4.0 * (exact * (1.0 - exact) / 1_024.0).sqrt() + 1e-9
}

/// Five days of work end on the day that is four working days after the start, which is decided in the
/// morning: the vehicle is handed over on a Friday if the part was here by the Friday before.
#[test]
fn the_chance_is_that_of_the_last_day_on_which_work_may_begin() {
    let (shop, id) = shop();
    let (axis, cdf) = arrival();
    for (delivery, monday) in
        [(date(2026, 10, 2), date(2026, 9, 28)), (date(2026, 10, 16), date(2026, 10, 12))]
    {
        let expected = cdf[axis.index_of(monday).unwrap() - 1];
        let chance = chance_of_promise(&shop.book, None, id, TODAY, delivery).unwrap();
        assert!(near(chance, expected), "{chance} {expected}");
        // A Sunday is as good as the Friday before.
        let sunday = delivery.tomorrow().unwrap().tomorrow().unwrap();
        assert_eq!(chance_of_promise(&shop.book, None, id, TODAY, sunday).unwrap(), chance);
    }
    let too_early = chance_of_promise(&shop.book, None, id, TODAY, date(2026, 9, 17)).unwrap();
    assert_eq!(too_early, 0.0, "five days of work do not end on the fourth");
}

/// Where the shop begins on booked days, not before; where it begins as soon as a stall is unlikely, the
/// booking holds nobody back.
#[test]
fn a_shop_that_begins_on_booked_days_begins_on_them_at_the_earliest() {
    let (mut shop, id) = shop();
    shop.book.builds.get_mut(&id).unwrap().planned_start = Some(date(2026, 11, 2));
    let (axis, cdf) = arrival();
    let chance = |shop: &Shop, day| chance_of_promise(&shop.book, None, id, TODAY, day).unwrap();
    assert!(chance(&shop, date(2026, 11, 5)) > 0.9);
    shop.starts(StartWay::BookedDay);
    assert_eq!(chance(&shop, date(2026, 11, 5)), 0.0);
    let expected = cdf[axis.index_of(date(2026, 11, 2)).unwrap() - 1];
    assert!(near(chance(&shop, date(2026, 11, 6)), expected));
}

/// A promise that moved by two weeks of the supplier's moves the 80 % date by about that: the
/// date without the news is the one of before.
#[test]
fn what_moved_a_date_is_named_with_its_days() {
    let (mut shop, id) = shop();
    let before = since(&shop.book, None, None, id, (TODAY, TODAY)).unwrap();
    assert_eq!((before.days, before.events.len()), (Some(0), 0), "no news today: {before:?}");
    news(&mut shop, date(2026, 10, 12));
    // Monday's news, seen from the Friday before, whose weekend brings nothing.
    let friday = date(2026, 9, 11);
    let after = since(&shop.book, None, None, id, (friday, TODAY)).unwrap();
    assert!(after.days.unwrap() >= 8, "{after:?}");
    let [event] = after.events.as_slice() else { panic!("{after:?}") };
    assert_eq!(
        shop.words().event(&event.event),
        "HD-1 (order P-1 line 1): moved from 2026-09-28 to 2026-10-12"
    );
    assert_eq!(Some(event.days), after.days);
    // To whoever asks what came after today it is old.
    let later = since(&shop.book, None, None, id, (TODAY, TODAY)).unwrap();
    assert_eq!((later.days, later.events.len()), (Some(0), 0));
}

#[test]
fn an_order_and_the_days_that_pass_count_as_news() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 20);
    let id = shop.open("B-1", &[("HD-1", "Body", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 12)))]);
    // Placed on 1 September, as the test's shop does it.
    let found = since(&shop.book, None, None, id, (date(2026, 8, 31), TODAY)).unwrap();
    assert!(found.events.iter().any(|event| matches!(event.event, Event::Ordered(_))), "{found:?}");
    let mut waits = Shop::new();
    waits.part("HD-1");
    waits.offer("CORRIE", "HD-1", 20);
    let id = waits.open("B-1", &[("HD-1", "Body", 1)]);
    let found = since(&waits.book, None, None, id, (date(2026, 9, 7), TODAY)).unwrap();
    let [event] = found.events.as_slice() else { panic!("{found:?}") };
    assert_eq!((&event.event, event.days), (&Event::TimePassed(5), 5));
}

#[test]
fn the_endangered_come_first_and_what_came_due_is_scored() {
    let (mut shop, _) = shop();
    shop.part("HD-2");
    shop.open("B-2", &[("HD-2", "Body", 1)]);
    shop.order("P-2", "STRATH", &[("HD-2", 1, Some(date(2026, 9, 15)))]);
    promise(&mut shop, "B-2", date(2026, 12, 18));
    promise(&mut shop, "B-1", date(2026, 10, 2));
    // Nobody waits for the answer any more.
    assert_eq!(customer_promises(&shop.book, None, TODAY, &|| false).unwrap(), None);
    let (rows, scores) = customer_promises(&shop.book, None, TODAY, &|| true).unwrap().unwrap();
    let order: Vec<&str> = rows.iter().map(|row| shop.book.build_number(row.build)).collect();
    assert_eq!(order, ["B-1", "B-2"]);
    assert!(rows[0].chance < rows[1].chance && rows[0].days_late_80.unwrap() > 0, "{rows:?}");
    assert!(rows[1].days_late_80.unwrap() < 0);
    assert_eq!(scores, []);
    let given = |delivery_on, chance| CustomerPromise {
        delivery_on,
        made_on: date(2026, 7, 1),
        stated_chance: chance,
        made_by: String::new(),
        note: String::new(),
    };
    shop.book.builds.change_all(|build| {
        build.state = BuildState::Delivered;
        build.delivered_on = Some(date(2026, 8, 14));
        build.customer_promises = vec![
            given(date(2026, 8, 13), Some(0.8)),
            given(date(2026, 8, 14), Some(0.9)),
            given(date(2026, 8, 14), Some(1.0)),
            given(date(2026, 8, 14), None),
        ];
    });
    let (rows, scores) = customer_promises(&shop.book, None, TODAY, &|| true).unwrap().unwrap();
    assert_eq!(rows, []);
    let told: Vec<_> = scores.iter().map(|s| (s.from, s.given, s.kept)).collect();
    assert_eq!(told, [(0.8, 4, 2), (0.95, 2, 2)]);
    assert!((scores[0].mean_stated - 0.85).abs() < 1e-12);
}
