//! Quotes: options side by side, nobody else's stock, prices, the last day of acceptance.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::calendar::add_days;
use crate::command::{Command, NewLine, NewOffer};
use crate::money::{Currency, Money};
use crate::plan::{
    Delivery, FreeStock, PlannedSource, QuoteAsked, QuoteChoice, QuoteGroup, QuotedVariant,
    forecast_build, quote,
};
use crate::quantity::Quantity;
use crate::refusal::Reason;
use crate::testing::{Shop, TODAY, need, offer, stage};
use jiff::civil::{Date, date};

fn price(shop: &mut Shop, part: &str, text: &str, code: &str, days: u32) {
    let price = Some(Money::parse(text, Currency::parse(code).unwrap()).unwrap());
    let offer = NewOffer { price, ..offer("CORRIE", part, days) };
    shop.run(Command::PutOffer { offer, etag: None });
}

/// RP-1 is on the shelf three times, two of which another build holds; the heavy winch takes ten
/// weeks instead of three.
fn shop() -> Shop {
    let mut shop = Shop::new();
    for part in ["RP-1", "WN-1", "WN-2", "WL-1"] {
        shop.part(part);
    }
    shop.stock("RP-1", 3);
    shop.open("B-1", &[("RP-1", "Body", 2)]);
    price(&mut shop, "RP-1", "12.50", "GBP", 7);
    price(&mut shop, "WN-1", "890", "GBP", 21);
    price(&mut shop, "WN-2", "1150.25", "EUR", 70);
    shop
}

fn choice(name: &str, lines: Vec<NewLine>) -> QuoteChoice {
    QuoteChoice { name: name.to_owned(), lines }
}

fn asked() -> QuoteAsked {
    QuoteAsked {
        vehicle: "Rescue 4x4".to_owned(),
        stages: vec![stage("Body", 3), stage("Electrical", 2)],
        lines: vec![need("RP-1", 2)],
        groups: vec![
            QuoteGroup {
                name: "winch".to_owned(),
                choices: vec![
                    choice("standard", vec![need("WN-1", 1)]),
                    choice("heavy", vec![need("WN-2", 1)]),
                ],
            },
            QuoteGroup {
                name: "lights".to_owned(),
                choices: vec![choice("none", vec![]), choice("work", vec![need("WL-1", 6)])],
            },
        ],
        accepted_on: None,
        wanted_by: None,
    }
}

fn quoted(shop: &Shop, asked: &QuoteAsked) -> Vec<QuotedVariant> {
    quote(&shop.book, None, asked, TODAY, &|| true, |_, found| found).unwrap().unwrap()
}

#[test]
fn a_quote_that_nobody_waits_for_any_more_is_not_reckoned_to_its_end() {
    let shop = shop();
    let asked_for = std::cell::Cell::new(0);
    let go_on = || {
        asked_for.set(asked_for.get() + 1);
        asked_for.get() < 2
    };
    let found = quote(&shop.book, None, &asked(), TODAY, &go_on, |_, found| found);
    assert_eq!(found.unwrap(), None);
    assert_eq!(asked_for.get(), 2, "the second variant was not begun");
    assert!(quoted(&shop, &asked()).len() > 2);
}

#[test]
fn options_stand_side_by_side() {
    let shop = shop();
    let before = shop.book.clone();
    let variants = quoted(&shop, &asked());
    assert_eq!(shop.book, before, "nothing is saved");
    let differs: Vec<_> = variants.iter().map(|v| v.differs).collect();
    assert_eq!(differs, [None, Some((0, 1)), Some((1, 1))]);
    let ready = |v: &QuotedVariant| v.forecast.delivery.at_80();
    assert!(ready(&variants[1]) > ready(&variants[0]), "ten weeks are later than three");
    // 2 x 12.50 + 890; with the heavy winch 25 pounds and 1150.25 euros.
    let costs: Vec<Vec<String>> =
        variants.iter().map(|v| v.parts_cost.iter().map(ToString::to_string).collect()).collect();
    assert_eq!(costs[0], ["915.00 GBP"]);
    assert_eq!(costs[1], ["1150.25 EUR", "25.00 GBP"]);
    assert_eq!(variants[2].unpriced, [shop.part_id("WL-1")]);
    assert_eq!(variants[2].forecast.undated.len(), 1, "nobody sells WL-1");
    // One of three is free: the other build keeps its two.
    let free = |row: &FreeStock| (row.part, row.quantity);
    let free: Vec<_> = variants[0].free_stock.iter().map(free).collect();
    assert_eq!(free, [(shop.part_id("RP-1"), Quantity::whole(1))]);
    let number = |s: &PlannedSource| shop.book.part_number(s.thing.part().unwrap());
    let waits: Vec<_> = variants[0].forecast.sources.iter().map(number).collect();
    assert!(waits.contains(&"RP-1") && waits.contains(&"WN-1"), "{waits:?}");
}

/// What a quote says is what the saved build says once it is opened.
#[test]
fn a_quote_is_the_forecast_of_the_build_that_it_becomes() {
    let mut shop = shop();
    let variants = quoted(&shop, &asked());
    let id = shop.open("B-9", &[("RP-1", "Body", 2), ("WN-1", "Body", 1)]);
    let saved = forecast_build(&shop.book, None, id, TODAY, None).unwrap();
    let first = &variants[0].forecast;
    assert_eq!(first.start, saved.start);
    // Booked for the middle of its own start; the saved build is not booked yet.
    assert_eq!(first.delivery.planned_from, first.delivery.levels[0].bay_start);
    // It draws under its own number: a mean differs by the error of sampling.
    let may_begin_days = saved.delivery.may_begin_days;
    assert!((first.delivery.may_begin_days - may_begin_days).abs() < 0.05);
    let unbooked = Delivery { planned_from: None, may_begin_days, ..first.delivery.clone() };
    assert_eq!(unbooked, saved.delivery);
    assert_eq!(first.distribution, saved.distribution);
}

#[test]
fn nothing_is_ordered_and_nothing_starts_before_it_is_accepted() {
    let shop = shop();
    let accepted_on = date(2026, 10, 19);
    let later = quoted(&shop, &QuoteAsked { accepted_on: Some(accepted_on), ..asked() });
    let now = quoted(&shop, &asked());
    assert!(later[0].forecast.delivery.at_80() > now[0].forecast.delivery.at_80());
    // All of it on the shelf: it could start today, and starts on the day of acceptance.
    let mut here = self::shop();
    here.stock("RP-1", 5);
    let only = QuoteAsked { groups: vec![], accepted_on: Some(accepted_on), ..asked() };
    let variant = &quoted(&here, &only)[0];
    assert_eq!(variant.forecast.start[1].date, Some(accepted_on));
    assert_eq!(variant.forecast.delivery.at_80(), Some(date(2026, 10, 23)), "five working days");
}

/// The last day of acceptance, against trying every day.
#[test]
fn the_last_day_of_acceptance_is_the_last_that_holds() {
    let shop = shop();
    // Delivery at 80 % of each variant by the day of acceptance; None: a part has no date.
    let mut table = Vec::new();
    for days in 0..=120 {
        let day = add_days(TODAY, days).unwrap();
        let variants = quoted(&shop, &QuoteAsked { accepted_on: Some(day), ..asked() });
        let delivery = |v: &QuotedVariant| v.forecast.delivery.at_80();
        table.push((day, variants.iter().map(delivery).collect::<Vec<_>>()));
    }
    for wanted in [date(2026, 10, 1), date(2026, 10, 30), date(2026, 12, 18)] {
        let variants = quoted(&shop, &QuoteAsked { wanted_by: Some(wanted), ..asked() });
        for (at, variant) in variants.iter().enumerate() {
            let holds = |delivery: &[Option<Date>]| delivery[at].is_some_and(|on| on <= wanted);
            let good = table.iter().filter(|(_, delivery)| holds(delivery));
            let last = good.map(|(day, _)| *day).next_back();
            assert_eq!(variant.accept_by, last, "{wanted} {:?}", variant.differs);
        }
    }
}

#[test]
fn every_fault_is_named_where_it_was_given() {
    let shop = shop();
    let mut wrong = asked();
    wrong.lines.push(need("NO-1", 1));
    wrong.groups[0].choices[1].lines[0].stage = "Paint".to_owned();
    wrong.groups[1].choices[1].lines[0].quantity = Quantity::ZERO;
    let refusal = quote(&shop.book, None, &wrong, TODAY, &|| true, |_, _| ()).unwrap_err();
    let fields: Vec<_> = refusal.faults.iter().map(|fault| fault.field.to_string()).collect();
    assert_eq!(
        fields,
        [
            "lines[1].part",
            "groups[0].choices[1].lines[0].stage_name",
            "groups[1].choices[1].lines[0].quantity"
        ]
    );
    let mut twice = asked();
    twice.groups[1].name = "Winch".to_owned();
    twice.groups[1].choices.clear();
    twice.accepted_on = Some(date(2026, 9, 1));
    let refusal = quote(&shop.book, None, &twice, TODAY, &|| true, |_, _| ()).unwrap_err();
    let told: Vec<_> = refusal.faults.iter().map(|f| (f.field.to_string(), f.reason)).collect();
    assert_eq!(
        told,
        [
            ("groups[1].choices", Reason::FieldMissing),
            ("groups[1].name", Reason::DuplicateLine),
            ("accepted_on", Reason::DateInvalid)
        ]
        .map(|(field, reason)| (field.to_owned(), reason))
    );
    // A build's number is not needed, whatever others are called.
    let mut shop = shop;
    shop.quote::<NewLine>("QUOTE 0", &[]);
    assert_eq!(quoted(&shop, &asked()).len(), 3);
}
