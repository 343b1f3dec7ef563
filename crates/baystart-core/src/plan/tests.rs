//! Plans of small shops, with the arithmetic beside each expectation.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::{Verdict, forecast_build, readiness};
use crate::book::model::StartWay;
use crate::calendar::{Closures, DayAxis, HORIZON_DAYS, WorkCalendar};
use crate::command::{
    BindCommand, BuildCommand, Command, LineQuantity, NewMade, NewPart, OrderCommand,
};
use crate::leadtime::{self, OpenSupply, Promise, arrival_cdf, on_axis};
use crate::testing::{Shop, TODAY, by, number, order_line, part};
use crate::units::Unit;
use jiff::civil::{Date, date};

fn promised(on: Date) -> Vec<f64> {
    let supply = OpenSupply {
        placed_on: date(2026, 9, 1),
        quoted_days: None,
        promise: Some(Promise { date: on, known_on: date(2026, 9, 3) }),
        despatched_on: None,
    };
    let law = arrival_cdf(&supply, TODAY, &Closures::none(), HORIZON_DAYS).unwrap();
    on_axis(&law, &DayAxis::new(&WorkCalendar::monday_to_friday(), TODAY))
}

fn first_reaching(cdf: &[f64], p: f64) -> usize {
    cdf.iter().position(|value| *value >= p - 1e-12).unwrap()
}

#[test]
fn everything_here_starts_today_and_ends_after_its_planned_days() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 2);
    let build = shop.open("B-1", &[("HD-1", "Body", 2)]);
    let forecast = shop.forecast(build);
    assert_eq!(forecast.startable_today, 1.0);
    assert!(forecast.start.iter().all(|at| at.date == Some(TODAY)));
    // Five working days from Monday: the last one is Friday.
    assert!(forecast.finish.iter().all(|at| at.date == Some(date(2026, 9, 18))));
    let ready = readiness(&shop.book, None, build, TODAY).unwrap();
    assert_eq!(ready.verdict, Verdict::CanStart);
    assert_eq!(shop.words().verdict(&ready), "Can start today: every part is here.");
}

#[test]
fn a_later_stage_needs_its_part_later() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 2)))]);
    let early = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let first = shop.forecast(early);
    let cdf = promised(date(2026, 10, 2));
    let axis = DayAxis::new(&WorkCalendar::monday_to_friday(), TODAY);
    for (at, p) in first.start.iter().zip([0.5, 0.8, 0.95]) {
        assert_eq!(at.date, axis.date(first_reaching(&cdf, p)));
    }
    let first_80 = first_reaching(&cdf, 0.8);
    // The same part for the second stage: three working days later is enough.
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 2)))]);
    let late = shop.open("B-1", &[("HD-1", "Electrical", 1)]);
    let second = shop.forecast(late);
    assert_eq!(second.start.get(1).unwrap().date, axis.date(first_80 - 3));
    let source = second.sources.first().unwrap();
    assert_eq!(source.offset_days, 3);
    assert_eq!(shop.book.stage_name(source.stage.unwrap()), "Electrical");
    // A single source: all days from today to the start.
    let g: Vec<f64> = (0..cdf.len()).map(|s| *cdf.get(s + 3).or(cdf.last()).unwrap()).collect();
    let last = *g.last().unwrap();
    let mean: f64 = g.iter().map(|g| (last - g) / last).sum();
    assert!((source.days_gained - mean).abs() < 1e-9, "{} {mean}", source.days_gained);
}

#[test]
fn lines_that_hang_on_one_order_line_are_one_arrival() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 2, Some(date(2026, 10, 2)))]);
    let build = shop.open("B-1", &[("HD-1", "Electrical", 1), ("HD-1", "Body", 1)]);
    let forecast = shop.forecast(build);
    assert_eq!(forecast.sources.len(), 1);
    let source = forecast.sources.first().unwrap();
    assert_eq!(source.lines, vec![1, 2]);
    assert_eq!(source.offset_days, 0);
    assert_eq!(shop.book.stage_name(source.stage.unwrap()), "Body");
    // Were they two independent arrivals, P would be the square.
    let cdf = promised(date(2026, 10, 2));
    let at = first_reaching(&cdf, 0.5);
    let by_then = DayAxis::new(&WorkCalendar::monday_to_friday(), TODAY).date(at).unwrap();
    let stated = forecast.distribution.iter().find(|(day, _)| *day == by_then).unwrap().1;
    assert!((stated - cdf.get(at).unwrap()).abs() < 1e-12);
}

#[test]
fn two_order_lines_are_independent_and_share_the_gating() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.part("HD-2");
    let on = date(2026, 10, 2);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(on))]);
    shop.order("P-2", "STRATH", &[("HD-2", 1, Some(on))]);
    let build = shop.open("B-1", &[("HD-1", "Body", 1), ("HD-2", "Body", 1)]);
    let forecast = shop.forecast(build);
    let cdf = promised(on);
    let today = *cdf.first().unwrap();
    assert!((forecast.startable_today - today * today).abs() < 1e-12);
    let shares: Vec<f64> = forecast.sources.iter().map(|source| source.gating).collect();
    assert!((shares.first().unwrap() - shares.last().unwrap()).abs() < 1e-12);
    let sum: f64 = shares.iter().sum();
    assert!((sum + forecast.startable_today + forecast.without_date - 1.0).abs() < 1e-9);
}

#[test]
fn a_shortage_counts_from_the_next_ordering_day() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 14);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let forecast = shop.forecast(build);
    let law = leadtime::not_ordered(TODAY, Some(14), TODAY, &Closures::none(), HORIZON_DAYS);
    let axis = DayAxis::new(&WorkCalendar::monday_to_friday(), TODAY);
    let cdf = on_axis(&law.unwrap(), &axis);
    assert_eq!(forecast.start.first().unwrap().date, axis.date(first_reaching(&cdf, 0.5)));
    // 14 days after Monday the 14th is Monday the 28th, the quote's median.
    assert_eq!(forecast.start.first().unwrap().date, Some(date(2026, 9, 28)));
    let waits_for = &forecast.sources.first().unwrap().waits_for;
    assert_eq!(shop.words().waits_for(waits_for, &[]), "not ordered; CORRIE quotes 14 days");
}

#[test]
fn an_undated_line_is_named_and_does_not_hide_the_rest() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.part("HD-9");
    shop.offer("CORRIE", "HD-1", 14);
    let build = shop.open("B-1", &[("HD-1", "Body", 1), ("HD-9", "Electrical", 1)]);
    let forecast = shop.forecast(build);
    assert_eq!(forecast.start.first().unwrap().date, Some(date(2026, 9, 28)));
    let undated = forecast.undated.first().unwrap();
    assert_eq!((undated.line, undated.thing.part()), (Some(2), Some(shop.part_id("HD-9"))));
    let reason = shop.words().waits_for(&undated.waits_for, &[]);
    assert_eq!(reason, "not ordered; no supplier offers it");
    assert_eq!(forecast.startable_today, 0.0);
    let ready = readiness(&shop.book, None, build, TODAY).unwrap();
    assert_eq!(ready.stall, 1.0);
}

#[test]
fn a_quoted_build_is_forecast_with_what_others_leave() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 14);
    shop.stock("HD-1", 3);
    shop.open("B-1", &[("HD-1", "Body", 2)]);
    let small = shop.quote("B-2", &[("HD-1", "Body", 1)]);
    let large = shop.quote("B-3", &[("HD-1", "Body", 2)]);
    let before = shop.book.clone();
    assert_eq!(shop.forecast(small).startable_today, 1.0);
    assert!(shop.forecast(large).startable_today < 0.01);
    assert_eq!(shop.book, before);
}

#[test]
fn a_build_in_the_bay_goes_on_from_where_it_stands() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.part("HD-2");
    shop.stock("HD-1", 1);
    shop.order("P-1", "CORRIE", &[("HD-2", 1, Some(date(2026, 9, 17)))]);
    let build = shop.open("B-1", &[("HD-1", "Body", 1), ("HD-2", "Electrical", 1)]);
    shop.build(BuildCommand::PutInBay { build: by("B-1"), occurred_on: None });
    // Begun on Thursday: two of three days are worked, one is left.
    let begun = Some(date(2026, 9, 10));
    let stage = "body".to_owned();
    shop.build(BuildCommand::BeginStage { build: by("B-1"), stage, occurred_on: begun });
    shop.run(Command::Bind(BindCommand::Issue {
        build: by("B-1"),
        lines: vec![LineQuantity { line: 1, quantity: None, lot: None, bin: None }],
        stage: None,
        occurred_on: None,
    }));
    let forecast = shop.forecast(build);
    assert_eq!(forecast.remaining_days, 3);
    assert_eq!(forecast.sources.first().unwrap().offset_days, 1);
    // Electrical needs its part tomorrow: P(no stall) is P(arrived by Tuesday).
    let cdf = promised(date(2026, 9, 17));
    assert!((forecast.startable_today - cdf.get(1).unwrap()).abs() < 1e-12);
    let ready = readiness(&shop.book, None, build, TODAY).unwrap();
    assert_eq!(ready.verdict, Verdict::MayStall);
    let text = shop.words().verdict(&ready);
    assert!(text.starts_with("Can go on today, but may stall"), "{text}");
    let text = shop.words().verdict(&ready);
    assert!(text.contains("order P-1 line 1, CORRIE"), "{text}");
}

/// The rule of the forecast is the rule of the verdict. Before, `ready` knew one rule only.
#[test]
fn the_verdict_follows_the_shops_rule() {
    let mut shop = Shop::new();
    for part in ["HD-1", "HD-2"] {
        shop.part(part);
    }
    shop.stock("HD-1", 1);
    shop.order("P-1", "CORRIE", &[("HD-2", 1, Some(date(2026, 9, 17)))]);
    let booked = Some(date(2026, 9, 15));
    let lines = [("HD-1", "Body", 1), ("HD-2", "Electrical", 1)];
    let build = shop.open_served("B-1", 100, booked, &lines);
    let mut said = |start, as_of| {
        shop.starts(start);
        let ready = readiness(&shop.book, None, build, as_of).unwrap();
        (ready.verdict, shop.words().verdict(&ready))
    };
    let (verdict, _) = said(StartWay::StallTolerated, TODAY);
    assert_eq!(verdict, Verdict::MayStall);
    let (verdict, text) = said(StartWay::AllHere, TODAY);
    assert_eq!(verdict, Verdict::CannotStart);
    assert!(
        text.starts_with("Does not start today: the shop begins with all parts here"),
        "{text}"
    );
    assert!(text.contains("HD-2") && text.contains("order P-1 line 1, CORRIE"), "{text}");
    let (verdict, text) = said(StartWay::BookedDay, TODAY);
    assert_eq!(verdict, Verdict::CannotStart);
    assert!(text.contains("begins on the booked day, Tue 2026-09-15"), "{text}");
    // On the day it begins, and people are told that it may stall.
    let (verdict, text) = said(StartWay::BookedDay, date(2026, 9, 15));
    assert_eq!(verdict, Verdict::MayStall);
    assert!(text.starts_with("Can start today, but may stall"), "{text}");
}

/// A shop that begins with all parts here: what comes last decides, not what its stage needs first, and the
/// start is when all is here. The forecast named the wrong part, at which the bays were played otherwise.
#[test]
fn with_all_parts_here_the_last_to_come_decides() {
    let mut shop = Shop::new();
    for part in ["HD-1", "HD-2"] {
        shop.part(part);
    }
    let build = shop.open("B-1", &[("HD-1", "Body", 1), ("HD-2", "Electrical", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 9, 22)))]);
    shop.order("P-2", "STRATH", &[("HD-2", 1, Some(date(2026, 9, 23)))]);
    let decides = |shop: &Shop| {
        let forecast = shop.forecast(build);
        let first = forecast.sources.first().unwrap().thing.part().unwrap();
        (shop.book.part_number(first).to_owned(), forecast.start.at_80())
    };
    // Electrical comes three working days in.
    let (part, earlier) = decides(&shop);
    assert_eq!(part, "HD-1");
    shop.starts(StartWay::AllHere);
    let (part, later) = decides(&shop);
    assert_eq!(part, "HD-2");
    assert!(later > earlier, "{later:?} {earlier:?}");
    let stall = forecast_build(&shop.book, None, build, TODAY, Some(date(2026, 9, 24))).unwrap();
    shop.starts(StartWay::StallTolerated);
    let plain = forecast_build(&shop.book, None, build, TODAY, Some(date(2026, 9, 24))).unwrap();
    assert_eq!(stall.stall_at_asked_start, plain.stall_at_asked_start);
}

/// What the shop makes itself of parts that are here gates no start, in the play as in the verdict.
#[test]
fn what_the_shop_makes_of_what_is_here_does_not_hold_up_a_start() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.made("BR-1", &[("HD-1", 1)], NewMade::InShop { working_days: 1 });
    shop.stock("HD-1", 1);
    let build = shop.open("B-1", &[("BR-1", "Electrical", 1)]);
    shop.starts(StartWay::AllHere);
    let ready = readiness(&shop.book, None, build, TODAY).unwrap();
    assert_eq!(ready.verdict, Verdict::CanStart, "{ready:?}");
}

/// A draft at a supplier who quotes nothing took a line's date away.
#[test]
fn a_draft_without_an_offer_leaves_the_date() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 10);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let before = shop.forecast(build).start;
    shop.run(Command::Order(OrderCommand::Create {
        number: number("P-9"),
        supplier: by("STRATH"),
        lines: vec![order_line("HD-1", 5, None)],
        placed_on: None,
    }));
    let forecast = shop.forecast(build);
    assert_eq!((forecast.undated.len(), forecast.start), (0, before));
}

#[test]
fn a_first_stage_without_its_part_cannot_start() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 9, 17)))]);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let ready = readiness(&shop.book, None, build, TODAY).unwrap();
    assert_eq!(ready.verdict, Verdict::CannotStart);
    let stage = ready.stages.first().unwrap();
    assert_eq!((stage.lines_here, stage.lines_total, stage.missing.len()), (0, 1, 1));
    assert_eq!(stage.missing.first().unwrap().needed_on, Some(TODAY));
}

#[test]
fn consumables_never_gate() {
    let mut shop = Shop::new();
    let unit = Unit::parse("MLT").unwrap();
    shop.part(NewPart { unit, consumable: true, ..part("CS-1") });
    let build = shop.open("B-1", &[("CS-1", "Body", 300)]);
    let forecast = shop.forecast(build);
    assert_eq!(forecast.startable_today, 1.0);
    assert!(forecast.undated.is_empty());
}

#[test]
fn the_planned_start_has_its_chance_of_a_stall() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 2)))]);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let asked = date(2026, 10, 5);
    let forecast = forecast_build(&shop.book, None, build, TODAY, Some(asked)).unwrap();
    let axis = DayAxis::new(&WorkCalendar::monday_to_friday(), TODAY);
    let cdf = promised(date(2026, 10, 2));
    let expected = 1.0 - cdf.get(axis.index_of(asked).unwrap()).unwrap();
    assert!((forecast.stall_at_asked_start.unwrap() - expected).abs() < 1e-12);
    assert_eq!(forecast.stall_at_planned_start, None);
}

/// A supplier that quotes 14 days and always took 28 is dated by what it did:
/// 28 days after Monday 14 September is Monday 12 October. The prior keeps some
/// weight on the quote, so the median may miss that day by a few.
#[test]
fn a_plan_follows_what_history_taught() {
    use super::Learned;
    use crate::forecast::CommonCause;
    use crate::leadtime::history::{Fact, History, PastLine};
    use crate::leadtime::learn::{LearnSettings, LearnedLaws};
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.offer("CORRIE", "HD-1", 14);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let supplier = shop.book.find_supplier(&by("CORRIE")).unwrap().id;
    let part = shop.book.find_part(&by("HD-1")).unwrap().id;
    let fact = |on| Fact { on, recorded_on: on };
    let past = |week: i64| {
        let placed = crate::calendar::add_days(TODAY, -7 * week - 60).unwrap();
        PastLine {
            supplier: 0,
            offer: 0,
            order: None,
            quoted_days: Some(14),
            placed: fact(placed),
            taken_over_on: None,
            rejected: false,
            promises: Vec::new(),
            despatched: None,
            completed: crate::calendar::add_days(placed, 28).map(fact),
            cancelled: None,
            contacts: Vec::new(),
        }
    };
    let learned = |lines: Vec<PastLine>| Learned {
        waits: None,
        lengths: None,
        coming: None,
        lines: lines.len(),
        laws: LearnedLaws::learn(
            &History { lines, ..History::default() },
            TODAY,
            &LearnSettings::default(),
        ),
        cause: CommonCause::new(0.15).unwrap(),
        suppliers: [(supplier, 0)].into(),
        offers: [((supplier, part), 0)].into(),
    };
    let start = |learned: &Learned| {
        let forecast = forecast_build(&shop.book, Some(learned), build, TODAY, None).unwrap();
        forecast.start.first().unwrap().date.unwrap()
    };
    let taught = start(&learned((0..40).map(past).collect()));
    assert!((date(2026, 10, 8)..=date(2026, 10, 14)).contains(&taught), "{taught}");
    // Without any evidence the default around the quote stands.
    assert_eq!(start(&learned(Vec::new())), date(2026, 9, 28));
}

/// What is promised for 100 days from now has no date where the shop looks 60 days ahead.
#[test]
fn beyond_the_shops_horizon_there_is_no_date() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 12, 23)))]);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let far = shop.forecast(build);
    assert!(far.start.iter().all(|at| at.date.is_some()));
    // Friday 13 November is the last day of 60 calendar days.
    let by_then =
        far.distribution.iter().rev().find(|(day, _)| *day <= date(2026, 11, 13)).unwrap();
    shop.book.settings.as_mut().unwrap().learning.horizon_days = 60;
    let near = shop.forecast(build);
    assert!(near.start.iter().all(|at| at.date.is_none()), "{:?}", near.start);
    assert!((near.without_date - (1.0 - by_then.1)).abs() < 1e-12, "{}", near.without_date);
}

/// Seen in use: a build on hold was said to be able to start.
#[test]
fn a_build_on_hold_cannot_start_today() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let id = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let reason = "the customer thinks it over".to_owned();
    shop.build(BuildCommand::Hold { build: by("B-1"), reason, occurred_on: None });
    let ready = readiness(&shop.book, None, id, TODAY).unwrap();
    assert_eq!(ready.verdict, Verdict::CannotStart);
    let said = "The build is on hold. If it went on today: can start today: every part is here.";
    assert_eq!(shop.words().verdict(&ready), said);
}

/// Seen in use: `ready` said that a build can start while every bay was taken, and nothing of the bays.
#[test]
fn who_stands_in_the_bays_is_said() {
    let mut shop = Shop::new();
    shop.book.settings.as_mut().unwrap().bays = 2;
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let id = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let said = |shop: &Shop| {
        let ready = readiness(&shop.book, None, id, TODAY).unwrap();
        shop.words().verdict(&ready)
    };
    let free = "Can start today: every part is here.";
    for (build, then) in [
        ("B-2", free.to_owned()),
        ("B-3", format!("{free} No bay is free: B-2 and B-3 stand in them.")),
        ("B-1", "Can go on today: every part is here.".to_owned()),
    ] {
        if build != "B-1" {
            shop.open::<crate::command::NewLine>(build, &[]);
        }
        shop.build(BuildCommand::PutInBay { build: by(build), occurred_on: None });
        assert_eq!(said(&shop), then);
    }
}
