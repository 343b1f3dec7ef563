#![allow(clippy::unwrap_used, clippy::panic)]
use super::*;
use crate::calendar::{add_days, next_ordering_day};
use crate::command::{BuildCommand, Command, NewClosure, NewOffer, OrderCommand};
use crate::plan::reckon::arrivals;
use crate::testing::{Shop, TODAY, by, context, number, offer};
use jiff::civil::date;

/// A build that is planned to start on a day.
fn planned(shop: &mut Shop, build: &str, lines: &[(&str, &str, i64)], start: Option<Date>) {
    let id = shop.open(build, lines);
    shop.book.builds.get_mut(&id).unwrap().planned_start = start;
}

fn draft(shop: &mut Shop) {
    shop.run(Command::Order(OrderCommand::DraftSuggested { supplier: None }));
}

fn of<'s>(shop: &Shop, suggestions: &'s Suggestions, part: &str) -> &'s SuggestedLine {
    let part = shop.part_id(part);
    let lines = suggestions.suppliers.iter().flat_map(|supplier| &supplier.lines);
    lines.into_iter().find(|line| line.part == part).unwrap()
}

/// Every ordering day is tried, one after another; the reference does not search.
fn brute_force(shop: &Shop, part: &str, needed_on: Date, confidence: f64) -> (Option<Date>, f64) {
    let view = View::new(&shop.book, None, TODAY);
    let part = shop.book.find_part(&by(part)).unwrap().id;
    let offer = shop.book.best_offer(part).unwrap();
    let weekdays = shop.book.settings.as_ref().unwrap().ordering_days;
    let (mut last, mut first_chance) = (None, None);
    let mut from = TODAY;
    while let Some(day) = next_ordering_day(from, weekdays, &view.calendar) {
        if day > needed_on {
            break;
        }
        let law = arrivals::law_of_offer_on(&view, offer, day).unwrap();
        let chance = law.arrived_by(needed_on);
        first_chance.get_or_insert(chance);
        if chance >= confidence - 1e-12 {
            last = Some(day);
        }
        from = add_days(day, 1).unwrap();
    }
    (last, first_chance.unwrap_or(0.0))
}

/// Against trying every ordering day, over quotes, closures, stages, days of order and confidences.
#[test]
fn latest_safe_day_against_every_ordering_day() {
    let mut late = 0;
    let mut safe = 0;
    for (quote, closed) in [(3, false), (10, false), (21, true), (45, true), (90, false)] {
        for weekdays in [[true; 7], [false, true, false, false, true, false, false]] {
            let mut shop = Shop::new();
            shop.book.settings.as_mut().unwrap().ordering_days = weekdays;
            shop.part("RAIL");
            shop.offer("CORRIE", "RAIL", quote);
            if closed {
                shop.run(Command::AddClosures {
                    closures: vec![NewClosure {
                        supplier: Some(by("CORRIE")),
                        first_day: date(2026, 10, 5),
                        last_day: date(2026, 10, 23),
                        name: "holiday".into(),
                    }],
                });
            }
            let stage = if quote % 2 == 0 { "Electrical" } else { "Body" };
            let start = date(2026, 11, 10);
            planned(&mut shop, "B-1", &[("RAIL", stage, 1)], Some(start));
            let needed_on = if stage == "Body" { start } else { date(2026, 11, 13) };
            for confidence in [0.5, 0.8, 0.95] {
                let found = suggest(&shop.book, None, TODAY, confidence, None);
                let timing = of(&shop, &found, "RAIL").timing;
                let (last, chance) = brute_force(&shop, "RAIL", needed_on, confidence);
                assert_eq!(timing.needed_on, Some(needed_on));
                assert!((timing.chance.unwrap() - chance).abs() < 1e-12);
                assert_eq!(timing.late, last.is_none(), "{quote} {confidence}");
                match last {
                    Some(day) => {
                        safe += 1;
                        assert_eq!(timing.order_by, Some(day), "{quote} {confidence}");
                    }
                    None => {
                        late += 1;
                        assert_eq!(timing.order_by, found.next_ordering_day);
                        assert!(timing.late_days.is_none_or(|days| days > 0));
                    }
                }
            }
        }
    }
    assert!(late >= 4 && safe >= 10, "{late} late, {safe} safe");
}

/// Late by so many working days: a start so many days later is the first that is safe.
#[test]
fn late_days_are_the_days_by_which_the_start_would_have_to_move() {
    let mut shop = Shop::new();
    shop.part("WINCH");
    shop.offer("CORRIE", "WINCH", 30);
    planned(&mut shop, "B-1", &[("WINCH", "Body", 1)], Some(date(2026, 9, 28)));
    let timing = of(&shop, &suggest(&shop.book, None, TODAY, 0.8, None), "WINCH").timing;
    assert!(timing.late && timing.chance.unwrap() < 0.8);
    let days = i32::try_from(timing.late_days.unwrap()).unwrap();
    let calendar = shop.book.calendar();
    let moved = calendar.add_working_days(date(2026, 9, 28), days).unwrap();
    let before = calendar.add_working_days(moved, -1).unwrap();
    assert!(brute_force(&shop, "WINCH", moved, 0.8).0.is_some());
    assert!(brute_force(&shop, "WINCH", before, 0.8).0.is_none());
}

#[test]
fn without_a_date_the_next_ordering_day() {
    let mut shop = Shop::new();
    shop.part("WINCH");
    shop.part("STEP");
    shop.offer("CORRIE", "WINCH", 30);
    planned(&mut shop, "B-1", &[("WINCH", "Body", 1), ("STEP", "Body", 2)], None);
    let found = suggest(&shop.book, None, date(2026, 9, 19), 0.8, None);
    let timing = of(&shop, &found, "WINCH").timing;
    assert_eq!(timing.basis, TimingBasis::NoDate);
    // A Saturday: the shop orders on Monday.
    assert_eq!(timing.order_by, Some(date(2026, 9, 21)));
    assert_eq!(timing.chance, None);
    // Nobody offers the step.
    let named: Vec<_> = found.unordered.iter().map(|row| (row.part, row.why)).collect();
    assert_eq!(named, [(shop.part_id("STEP"), WhyNot::NoOffer)]);
}

/// The customer's date less the days of work: 5 days that end on Friday 9 October begin on Monday.
#[test]
fn required_date_less_the_work() {
    let mut shop = Shop::new();
    shop.part("WINCH");
    shop.offer("CORRIE", "WINCH", 3);
    planned(&mut shop, "B-1", &[("WINCH", "Body", 1)], None);
    let id = shop.book.find_build(&by("B-1")).unwrap().id;
    shop.book.builds.get_mut(&id).unwrap().required_by = Some(date(2026, 10, 11));
    let timing = of(&shop, &suggest(&shop.book, None, TODAY, 0.8, None), "WINCH").timing;
    assert_eq!(timing.basis, TimingBasis::RequiredBy);
    assert_eq!(timing.needed_on, Some(date(2026, 10, 5)));
}

fn terms(shop: &mut Shop, part: &str, pack: Option<i64>, least: Option<i64>) {
    let offer = NewOffer {
        item_number: "C-17".into(),
        price: Some(crate::money::Money {
            currency: crate::money::Currency::parse("GBP").unwrap(),
            ten_thousandths: 25_000,
        }),
        pack_size: pack.map(Quantity::whole),
        minimum_quantity: least.map(Quantity::whole),
        preferred: true,
        ..offer("CORRIE", part, 5)
    };
    shop.run(Command::PutOffer { offer, etag: None });
}

/// Packs and minimum by hand; two builds share one line, which is then for neither alone.
#[test]
fn whole_packs_and_the_minimum() {
    let quantities =
        [(None, None, 7), (Some(5), None, 10), (Some(5), Some(12), 15), (None, Some(9), 9)];
    for (pack, least, expected) in quantities {
        let mut shop = Shop::new();
        shop.part("BOLT");
        terms(&mut shop, "BOLT", pack, least);
        shop.open("B-1", &[("BOLT", "Body", 3)]);
        shop.open("B-2", &[("BOLT", "Body", 4)]);
        let found = suggest(&shop.book, None, TODAY, 0.8, None);
        let line = of(&shop, &found, "BOLT");
        assert_eq!((line.needed, line.quantity), (Quantity::whole(7), Quantity::whole(expected)));
        assert_eq!(line.amount.unwrap().ten_thousandths, 25_000 * expected);
        assert_eq!(line.uses.len(), 2);
        draft(&mut shop);
        let row = shop.book.order_lines.values().next().unwrap();
        assert_eq!((row.ordered, row.for_line), (Quantity::whole(expected), None));
        assert_eq!(row.price.unwrap().ten_thousandths, 25_000);
    }
}

/// Drafted once; the second time nothing changes, and the draft is shown with its day.
#[test]
fn drafting_twice_makes_nothing_the_second_time() {
    let mut shop = Shop::new();
    for part in ["WINCH", "RAIL"] {
        shop.part(part);
    }
    shop.offer("CORRIE", "WINCH", 10);
    shop.offer("STRATH", "RAIL", 10);
    shop.stock("RAIL", 1);
    planned(
        &mut shop,
        "B-1",
        &[("WINCH", "Body", 1), ("RAIL", "Body", 3)],
        Some(date(2026, 12, 1)),
    );
    draft(&mut shop);
    assert_eq!(shop.book.orders.len(), 2);
    let before = shop.book.clone();
    let again = Command::Order(OrderCommand::DraftSuggested { supplier: None });
    let mut ids = crate::ids::CountingIds(9_000);
    let mut context = context(&mut ids, TODAY, jiff::Timestamp::UNIX_EPOCH);
    let done = crate::decide::decide(&mut shop.book, &mut context, &again).unwrap();
    assert_eq!(done.changes, []);
    assert_eq!(shop.book, before);
    let found = suggest(&shop.book, None, TODAY, 0.8, None);
    let rail = of(&shop, &found, "RAIL");
    assert_eq!(
        rail.draft.map(|line| shop.called(line)).as_deref(),
        Some("S-20260914-STRATH line 1")
    );
    assert_eq!(rail.quantity, Quantity::whole(2));
    assert!(rail.timing.order_by.unwrap() > TODAY && !rail.timing.late);
    // Placed, it is on order and nothing is left.
    for order in ["S-20260914-STRATH", "S-20260914-CORRIE"] {
        shop.run(Command::Order(OrderCommand::Place {
            order: by(order),
            occurred_on: None,
            unneeded_too: false,
        }));
    }
    assert_eq!(suggest(&shop.book, None, TODAY, 0.8, None).suppliers, []);
    // A new need on the same day takes the next number.
    shop.open("B-2", &[("RAIL", "Body", 1)]);
    draft(&mut shop);
    assert!(shop.book.find_order(&by("S-20260914-STRATH-2")).is_ok());
    assert_eq!(number("S-20260914-STRATH-2"), number("s-20260914-strath-2"));
}

/// What only one supplier is asked for leaves the other's shortage as it was.
#[test]
fn one_supplier_only() {
    let mut shop = Shop::new();
    for part in ["WINCH", "RAIL"] {
        shop.part(part);
    }
    shop.offer("CORRIE", "WINCH", 10);
    shop.offer("STRATH", "RAIL", 10);
    shop.open("B-1", &[("WINCH", "Body", 1), ("RAIL", "Body", 3)]);
    let strath = shop.book.find_supplier(&by("STRATH")).unwrap().id;
    let only = suggest(&shop.book, None, TODAY, 0.8, Some(strath));
    assert_eq!(only.suppliers.len(), 1);
    shop.run(Command::Order(OrderCommand::DraftSuggested { supplier: Some(by("STRATH")) }));
    assert_eq!(shop.book.orders.len(), 1);
    let line = shop.book.order_lines.values().next().unwrap();
    assert!(line.for_line.is_some());
}

/// One draft for two builds is no draft for either by name; `ready` said "not ordered" of it.
#[test]
fn a_common_draft_is_named_where_a_line_waits_for_it() {
    let mut shop = Shop::new();
    shop.part("WINCH");
    shop.offer("CORRIE", "WINCH", 10);
    let builds = ["B-1", "B-2"].map(|build| shop.open(build, &[("WINCH", "Body", 1)]));
    draft(&mut shop);
    let draft = shop.book.order_lines.values().next().unwrap();
    assert_eq!((draft.for_line, draft.ordered), (None, Quantity::whole(2)));
    for build in builds {
        let ready = crate::plan::readiness(&shop.book, None, build, TODAY).unwrap();
        let missing = &ready.stages[0].missing[0];
        let text = shop.words().waits_for(&missing.waits_for, &[]);
        assert!(text.starts_with("not placed: draft"), "{text}");
    }
}

/// A build on hold is not ordered for, but what is drafted for it stays its own.
#[test]
fn a_draft_for_a_build_on_hold_covers_no_other() {
    let mut shop = Shop::new();
    shop.part("WINCH");
    shop.offer("CORRIE", "WINCH", 10);
    shop.open("B-1", &[("WINCH", "Body", 1)]);
    draft(&mut shop);
    shop.build(BuildCommand::Hold { build: by("B-1"), reason: "paint".into(), occurred_on: None });
    assert_eq!(suggest(&shop.book, None, TODAY, 0.8, None).suppliers, []);
    shop.open("B-2", &[("WINCH", "Body", 1)]);
    let found = suggest(&shop.book, None, TODAY, 0.8, None);
    let line = of(&shop, &found, "WINCH");
    assert_eq!((line.draft.is_none(), line.quantity), (true, Quantity::whole(1)));
}

/// Random shops: builds open, on hold and quoted, stock, free supply, hand-made drafts, packs and
/// minimums. Once drafted nothing is left to draft, and once placed no part that can be ordered is
/// short of more than lies free.
#[test]
fn drafts_of_random_shops_leave_no_shortage_that_can_be_ordered() {
    let mut seed = 20_260_914_u64;
    let mut below = move |n: u64| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from((seed >> 33) % n).unwrap()
    };
    let parts = ["BOLT", "RAIL", "STEP", "WINCH"];
    let (mut drafted, mut held) = (0, 0);
    for _ in 0..200 {
        let mut shop = Shop::new();
        for part in parts {
            shop.part(part);
            match below(4) {
                0 => {}
                1 => shop.offer("STRATH", part, 9),
                2 => terms(&mut shop, part, None, Some(1 + below(5))),
                _ => terms(&mut shop, part, Some(1 + below(6)), None),
            }
            if below(3) == 0 {
                shop.stock(part, 1 + below(4));
            }
        }
        if below(2) == 0 {
            shop.order("P-1", "STRATH", &[(parts[usize::try_from(below(4)).unwrap()], 2, None)]);
        }
        for build in ["B-1", "B-2", "B-3"] {
            let lines: Vec<_> = parts.iter().map(|part| (*part, "Body", 1 + below(5))).collect();
            match below(4) {
                0 => drop(shop.quote(build, &lines)),
                _ => drop(shop.open(build, &lines)),
            }
            if below(3) == 0 {
                draft(&mut shop);
            }
            let open = shop.book.find_build(&by(build)).unwrap().state.binds();
            if open && below(4) == 0 {
                held += 1;
                let build = by(build);
                shop.build(BuildCommand::Hold { build, reason: "paint".into(), occurred_on: None });
            }
        }
        draft(&mut shop);
        let orders = shop.book.orders.len();
        drafted += orders;
        for need in part_needs(&shop.book) {
            assert!(need.why_not.is_some() || need.to_order().is_zero(), "{need:?}");
        }
        draft(&mut shop);
        assert_eq!(shop.book.orders.len(), orders);
        let numbers: Vec<_> = shop.book.orders.values().map(|order| order.number.clone()).collect();
        for number in numbers.into_iter().filter(|number| number.written() != "P-1") {
            let order = crate::refs::Ref::Number(number);
            shop.run(Command::Order(OrderCommand::Place {
                order,
                occurred_on: None,
                unneeded_too: false,
            }));
        }
        for line in shop.book.lines.values() {
            let binds = shop.book.builds.get(&line.build).unwrap().state.binds();
            if binds && shop.book.best_offer(line.part).is_some() {
                let short = shop.book.short_of(line);
                let supply = shop.book.order_lines.values().filter(|row| row.part == line.part);
                let free: Quantity = supply.map(|row| shop.book.free_on(row)).sum();
                assert!(short <= free + shop.book.available_of(line.part), "{line:?}");
            }
        }
    }
    assert!(drafted > 200 && held > 50, "{drafted} orders, {held} holds");
}

/// Of n lines that a build waits for, each is ordered so that it is in time with the n-th root of the
/// confidence: ordered on those days, all are in time with the confidence, by brute force over days.
#[test]
fn the_confidence_is_the_builds_not_each_lines() {
    let mut shop = Shop::new();
    let parts = ["RAIL", "LAMP", "SEAT"];
    for (part, quote) in parts.into_iter().zip([10, 20, 30]) {
        shop.part(part);
        shop.offer("CORRIE", part, quote);
    }
    shop.part("BOLT");
    shop.stock("BOLT", 1);
    let start = date(2027, 2, 9);
    let mut lines: Vec<_> = parts.iter().map(|part| (*part, "Body", 1)).collect();
    // What is here is not waited for.
    lines.push(("BOLT", "Body", 1));
    planned(&mut shop, "B-1", &lines, Some(start));
    let found = suggest(&shop.book, None, TODAY, 0.8, None);
    let view = View::new(&shop.book, None, TODAY);
    let mut all = 1.0;
    for part in parts {
        let day = of(&shop, &found, part).timing.order_by.unwrap();
        assert_eq!(Some(day), brute_force(&shop, part, start, 0.8_f64.powf(1.0 / 3.0)).0, "{part}");
        let id = shop.book.find_part(&by(part)).unwrap().id;
        let offer = shop.book.best_offer(id).unwrap();
        all *= arrivals::law_of_offer_on(&view, offer, day).unwrap().arrived_by(start);
    }
    assert!((0.8..0.83).contains(&all), "{all}");
    // Each by itself at 80 % would leave about half of the builds whole.
    let alone: Vec<_> = parts.map(|part| brute_force(&shop, part, start, 0.8).0.unwrap()).into();
    assert!(
        parts
            .iter()
            .zip(&alone)
            .all(|(part, day)| of(&shop, &found, part).timing.order_by < Some(*day))
    );
}
