//! Forecasts of made, finished, awaited and packaged lines against values worked by hand.
//!
//! The laws are Kaplan and Meier's on a history whose every order took one of two times (prior
//! strength 0, one half-life for all), so that each chance is a fraction that can be multiplied on
//! paper. Monday 14 September 2026 is today.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod awaited;

use super::{BuildForecast, Learned, LearnedWaits, SourceKind, forecast_build, readiness};
use crate::book::model::AwaitedKind;
use crate::calendar::{Closures, add_days};
use crate::command::{
    BuildCommand, Command, MakeCommand, NewAwaited, NewMade, NewStage, OrderCommand, ReceiptLine,
};
use crate::forecast::CommonCause;
use crate::ids::BuildId;
use crate::leadtime::estimate::Strength;
use crate::leadtime::history::{Fact, History, PastLine, PastPromise};
use crate::leadtime::learn::{LearnSettings, LearnedLaws};
use crate::testing::{NewBuild, Shop, TODAY, by, need, stage};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

/// What every order was quoted: it only has to be the same.
const QUOTED: u32 = 10;

/// What each key of the history took, in days: half the orders each.
struct Past {
    history: History,
    suppliers: Vec<(&'static str, u32)>,
    offers: Vec<(&'static str, &'static str, u32)>,
    awaited: Vec<(AwaitedKind, u32)>,
    off_site: Vec<(&'static str, u32)>,
}

impl Past {
    fn new() -> Self {
        Self {
            history: History::default(),
            suppliers: Vec::new(),
            offers: Vec::new(),
            awaited: Vec::new(),
            off_site: Vec::new(),
        }
    }

    fn line(&mut self, key: u32, quoted: Option<u32>, days: i64, promised: Option<i64>) {
        let fact = |on: Date| Fact { on, recorded_on: on };
        let placed = add_days(TODAY, -200).unwrap();
        let promise = promised.map(|days| {
            let date = add_days(placed, days).unwrap();
            PastPromise { date, known_on: placed, recorded_on: placed }
        });
        self.history.lines.push(PastLine {
            supplier: key,
            offer: key,
            order: None,
            quoted_days: quoted,
            placed: fact(placed),
            taken_over_on: None,
            rejected: false,
            promises: promise.into_iter().collect(),
            despatched: None,
            completed: add_days(placed, days).map(fact),
            cancelled: None,
            contacts: Vec::new(),
        });
    }

    /// Orders of a part that took `times` from placing.
    fn offer(mut self, supplier: &'static str, part: &'static str, times: [i64; 2]) -> Self {
        let key = u32::try_from(self.suppliers.len() + self.awaited.len()).unwrap();
        for days in times {
            self.line(key, Some(QUOTED), days, None);
        }
        self.suppliers.push((supplier, key));
        self.offers.push((supplier, part, key));
        self
    }

    /// Things that were promised in 14 days and came so many days after that.
    fn slips(mut self, kind: AwaitedKind, slips: [i64; 2]) -> Self {
        let key = u32::try_from(self.suppliers.len() + self.awaited.len()).unwrap();
        for slip in slips {
            self.line(key, Some(QUOTED), 14 + slip, Some(14));
        }
        self.awaited.push((kind, key));
        self
    }

    /// Vehicles that were away so many days.
    fn off_site(mut self, firm: &'static str, times: [i64; 2]) -> Self {
        let key = 50;
        for days in times {
            self.line(key, Some(7), days, None);
        }
        self.off_site.push((firm, key));
        self
    }

    fn closed(mut self, supplier: &'static str, first: Date, last: Date) -> Self {
        let (_, key) = *self.suppliers.iter().find(|(name, _)| *name == supplier).unwrap();
        self.history.closures.insert(key, Closures::new([(first, last)]).unwrap());
        self
    }

    fn learned(&self, shop: &Shop) -> Learned {
        let supplier = |name: &str| shop.book.find_supplier(&by(name)).unwrap().id;
        let part = |name: &str| shop.book.find_part(&by(name)).unwrap().id;
        let settings = LearnSettings {
            half_life_days: None,
            drift_half_life_days: None,
            tuned: false,
            smoothed: false,
            strength: Strength { orders: 0.0, tail_exponent: 0.5 },
            ..LearnSettings::default()
        };
        let laws = LearnedLaws::learn(&self.history, TODAY, &settings);
        let waits = LearnedWaits {
            laws: laws.clone(),
            awaited: self
                .awaited
                .iter()
                .map(|(kind, key)| ((*kind, String::new()), (*key, *key)))
                .collect::<BTreeMap<_, _>>(),
            off_site: self
                .off_site
                .iter()
                .map(|(name, key)| (supplier(name), (*key, *key)))
                .collect(),
        };
        Learned {
            laws,
            cause: CommonCause::new(0.0).unwrap(),
            suppliers: self.suppliers.iter().map(|(name, key)| (supplier(name), *key)).collect(),
            offers: self
                .offers
                .iter()
                .map(|(name, number, key)| ((supplier(name), part(number)), *key))
                .collect(),
            waits: Some(waits),
            lengths: None,
            coming: None,
            lines: self.history.lines.len(),
        }
    }
}

impl Shop {
    fn await_thing(&mut self, build: &str, kind: AwaitedKind, stage: Option<&str>, on: Date) {
        let item = NewAwaited {
            kind,
            name: "from outside".into(),
            identification: String::new(),
            source: String::new(),
            stage: stage.map(str::to_owned),
            line: None,
            asked_on: Some(date(2026, 9, 10)),
            quoted_days: None,
            expected_on: Some(on),
        };
        self.build(BuildCommand::AddAwaited { build: by(build), items: vec![item] });
    }

    fn learned_forecast(&self, past: &Past, build: BuildId) -> BuildForecast {
        forecast_build(&self.book, Some(&past.learned(self)), build, TODAY, None).unwrap()
    }
}

/// P(start possible by a day).
fn chance(forecast: &BuildForecast, day: Date) -> f64 {
    let upto = forecast.distribution.iter().rev().find(|(at, _)| *at <= day);
    upto.map_or(0.0, |(_, p)| *p)
}

#[track_caller]
fn assert_chances(forecast: &BuildForecast, expected: &[(Date, f64)]) {
    for (day, p) in expected {
        let found = chance(forecast, *day);
        let first: Vec<_> = forecast.distribution.iter().take(8).collect();
        assert!((found - p).abs() < 1e-9, "{day}: {found}, not {p}: {first:?}");
    }
}

/// A raw part is ordered today and takes 3 or 4 days, half each: here on Thursday 17 or Friday 18.
/// It goes to the finisher the same day, which takes 5 or 7 of its own days, half each, and is
/// closed from Saturday 19 to Sunday 27 September.
///
/// Sent on the 17th: own day 1 is the 18th, 2 the 28th, 3 the 29th, 4 the 30th, 5 Thursday
/// 1 October, 7 Saturday the 3rd, which is Monday the 5th for the shop. Sent on the 18th: day 1 is
/// the 28th, 5 Friday 2 October, 7 Sunday the 4th: Monday the 5th.
/// So P(ready by 30 September) = 0, by 1 October 1/2 1/2 = 1/4, by the 2nd 1/4 + 1/4 = 1/2, by
/// Monday the 5th 1.
#[test]
fn finishing_is_the_compound_of_arrival_and_the_finishers_time_around_its_closure() {
    let mut shop = Shop::new();
    shop.part("RAW");
    shop.offer("CORRIE", "RAW", QUOTED);
    let strath = by("STRATH");
    shop.made(
        "COATED",
        &[("RAW", 1)],
        NewMade::AtFinisher { supplier: strath, quoted_days: Some(QUOTED) },
    );
    let build = shop.open("B-1", &[("COATED", "Body", 1)]);
    let past = Past::new().offer("CORRIE", "RAW", [3, 4]).offer("STRATH", "COATED", [5, 7]).closed(
        "STRATH",
        date(2026, 9, 19),
        date(2026, 9, 27),
    );
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[
            (date(2026, 9, 30), 0.0),
            (date(2026, 10, 1), 0.25),
            (date(2026, 10, 2), 0.5),
            (date(2026, 10, 5), 1.0),
        ],
    );
    // One source: what is ordered and what becomes of it are one chain.
    assert_eq!(forecast.sources.len(), 1);
    let source = forecast.sources.first().unwrap();
    assert_eq!(source.waits_for.kind(), SourceKind::NotOrdered);
    assert!((source.gating - 1.0).abs() < 1e-9);

    // The raw part is here: it can be sent today. Own day 5 of Monday 14 is Saturday 19, closed:
    // day 5 is Monday 28 (days 1 to 4 are the 15th to the 18th), day 7 Wednesday 30.
    shop.stock("RAW", 1);
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[(date(2026, 9, 27), 0.0), (date(2026, 9, 28), 0.5), (date(2026, 9, 30), 1.0)],
    );
    assert_eq!(forecast.sources.first().unwrap().waits_for.kind(), SourceKind::ToMake);

    // Sent out today: the same days, from the sending on.
    shop.run(Command::Make(MakeCommand::SendOut {
        build: by("B-1"),
        line: 1,
        quantity: None,
        promised_on: None,
        occurred_on: None,
    }));
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(&forecast, &[(date(2026, 9, 28), 0.5), (date(2026, 9, 30), 1.0)]);
    assert_eq!(forecast.sources.first().unwrap().waits_for.kind(), SourceKind::AtFinisher);

    // Back: the build can start today.
    shop.run(Command::Make(MakeCommand::CameBack {
        build: by("B-1"),
        line: 1,
        quantity: None,
        bin: by("A1"),
        lot: String::new(),
        occurred_on: None,
    }));
    assert_eq!(shop.learned_forecast(&past, build).startable_today, 1.0);
}

/// An assembly of 2 working days for stage Electrical, which begins 3 working days after the start:
/// its component is needed 1 working day after the start. The component comes on Thursday 17 or
/// Friday 18: the build can start on Wednesday 16 or Thursday 17.
#[test]
fn a_component_is_needed_the_assemblys_days_earlier() {
    let mut shop = Shop::new();
    shop.part("WIRE");
    shop.offer("CORRIE", "WIRE", QUOTED);
    shop.made("LOOM", &[("WIRE", 2)], NewMade::InShop { working_days: 2 });
    let build = shop.open("B-1", &[("LOOM", "Electrical", 1)]);
    let past = Past::new().offer("CORRIE", "WIRE", [3, 4]);
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[(date(2026, 9, 15), 0.0), (date(2026, 9, 16), 0.5), (date(2026, 9, 17), 1.0)],
    );
    assert_eq!(forecast.sources.first().unwrap().offset_days, 1);
}

/// Everything of an assembly of 2 working days for the first stage is here: it can be ready on
/// Wednesday, two working days from Monday morning. Made, it waits in its bin.
#[test]
fn an_assembly_whose_parts_are_here_takes_its_days() {
    let mut shop = Shop::new();
    shop.part("WIRE");
    shop.made("LOOM", &[("WIRE", 2)], NewMade::InShop { working_days: 2 });
    shop.stock("WIRE", 2);
    let build = shop.open("B-1", &[("LOOM", "Body", 1)]);
    let forecast = shop.learned_forecast(&Past::new(), build);
    assert_chances(&forecast, &[(date(2026, 9, 15), 0.0), (date(2026, 9, 16), 1.0)]);
    let ready = readiness(&shop.book, None, build, TODAY).unwrap();
    let text = shop.words().verdict(&ready);
    assert!(text.contains("LOOM"), "{text}");
    shop.run(Command::Make(MakeCommand::RecordMade {
        build: by("B-1"),
        line: 1,
        quantity: None,
        bin: by("A1"),
        lot: String::new(),
        occurred_on: None,
    }));
    assert_eq!(shop.learned_forecast(&Past::new(), build).startable_today, 1.0);
}

/// The component of an assembly, of a kit and of a line of its own hang on one order: one arrival.
/// It comes on Thursday 17 or Friday 18 and is needed at the start by the line and the kit, and, for
/// the assembly (3 days before stage Electrical), at the start as well: the build can start on
/// Thursday with chance 1/2. As independent arrivals it would be 1/8.
#[test]
fn shared_components_are_one_arrival() {
    let mut shop = Shop::new();
    shop.part("WIRE");
    shop.offer("CORRIE", "WIRE", QUOTED);
    shop.made("LOOM", &[("WIRE", 2)], NewMade::InShop { working_days: 3 });
    shop.made("KIT", &[("WIRE", 1)], NewMade::Listed);
    let lines = [("LOOM", "Electrical", 1), ("KIT", "Body", 1), ("WIRE", "Body", 1)];
    let build = shop.open("B-1", &lines);
    let past = Past::new().offer("CORRIE", "WIRE", [3, 4]);
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[(date(2026, 9, 16), 0.0), (date(2026, 9, 17), 0.5), (date(2026, 9, 18), 1.0)],
    );
    assert_eq!(forecast.sources.len(), 1);
}

/// Raw stock that one line needs bare and another finished: the build can start when the raw part is
/// here for the first *and* back for the second. Raw on the 17th or 18th, the finisher takes 5 or 7
/// days, no closure: sent on Thursday 17, back on Tuesday 22 or Thursday 24; sent on Friday 18, back
/// on Wednesday 23 or Friday 25: 1/4 each.
#[test]
fn a_raw_part_that_is_used_bare_and_finished_is_one_arrival() {
    let mut shop = Shop::new();
    shop.part("RAW");
    shop.offer("CORRIE", "RAW", QUOTED);
    let strath = by("STRATH");
    shop.made(
        "COATED",
        &[("RAW", 1)],
        NewMade::AtFinisher { supplier: strath, quoted_days: Some(QUOTED) },
    );
    let build = shop.open("B-1", &[("COATED", "Body", 1), ("RAW", "Body", 1)]);
    let past = Past::new().offer("CORRIE", "RAW", [3, 4]).offer("STRATH", "COATED", [5, 7]);
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[
            (date(2026, 9, 21), 0.0),
            (date(2026, 9, 22), 0.25),
            (date(2026, 9, 23), 0.5),
            (date(2026, 9, 24), 0.75),
            (date(2026, 9, 25), 1.0),
        ],
    );
}

/// A package of two pieces is one order line; its pieces come apart. Placed on 1 September with
/// times of 15 or 17 days: each piece on Wednesday 16 or Friday 18, both by Wednesday with 1/4.
/// When one piece is here, the other's 1/2 is left; when both are, the package is complete.
#[test]
fn a_package_arrives_in_pieces() {
    let mut shop = Shop::new();
    shop.part("ARM");
    shop.part("SPRING");
    shop.made("SET", &[("ARM", 2), ("SPRING", 1)], NewMade::Listed);
    let build = shop.open("B-1", &[("SET", "Body", 1)]);
    shop.offer("CORRIE", "SET", QUOTED);
    shop.order("P-1", "CORRIE", &[("SET", 1, None)]);
    let mut past = Past::new().offer("CORRIE", "ARM", [15, 17]);
    past.offers.push(("CORRIE", "SPRING", 0));
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[(date(2026, 9, 15), 0.0), (date(2026, 9, 16), 0.25), (date(2026, 9, 18), 1.0)],
    );
    let receive = |line| {
        Command::Order(OrderCommand::Receive {
            order: by("P-1"),
            lines: vec![ReceiptLine {
                line,
                quantity: None,
                bin: by("A1"),
                lot: String::new(),
                expires_on: None,
                over_accepted_by: None,
            }],
            occurred_on: None,
        })
    };
    let order = shop.book.find_order(&by("P-1")).unwrap().clone();
    let state = |shop: &Shop| shop.book.find_order_line(&order, 1).unwrap().state().text();
    shop.run(receive(2));
    assert_eq!(state(&shop), "placed");
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(&forecast, &[(date(2026, 9, 16), 0.5), (date(2026, 9, 18), 1.0)]);
    shop.run(receive(3));
    assert_eq!(state(&shop), "received");
    assert_eq!(shop.learned_forecast(&past, build).startable_today, 1.0);
}
