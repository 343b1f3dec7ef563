//! Delivery in small shops: who holds a bay, and what decides.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::book::model::{Stage, StartWay};
use crate::calendar::{WorkCalendar, add_days};
use crate::command::BuildCommand;
use crate::forecast::CommonCause;
use crate::ids::{BuildId, StageId};
use crate::leadtime::history::History;
use crate::leadtime::learn::{LearnSettings, LearnedLaws};
use crate::leadtime::stages::StageLengths;
use crate::plan::{Assumption, DecidedBy, Delivery, Learned, chance_of_promise};
use crate::testing::{Shop, TODAY, by, number};
use jiff::civil::{Date, date};
use uuid::Uuid;

fn shop(bays: u32) -> Shop {
    let mut shop = Shop::new();
    shop.book.settings.as_mut().unwrap().bays = bays;
    shop.part("HD-1");
    shop.stock("HD-1", 9);
    shop
}

fn put_in_bay(shop: &mut Shop, build: &str) -> BuildId {
    let id = shop.open(build, &[("HD-1", "Body", 1)]);
    shop.build(BuildCommand::PutInBay { build: by(build), occurred_on: None });
    id
}

/// One bay, held for five working days from Monday the 14th: the next build comes in on the 21st.
#[test]
fn a_bay_that_is_held_decides() {
    let mut shop = shop(1);
    let first = put_in_bay(&mut shop, "B-1");
    let second = shop.open("B-2", &[("HD-1", "Body", 1)]);
    let delivery = shop.forecast(second).delivery;
    for at in &delivery.levels {
        assert_eq!((at.decided_by, at.decided_days), (Some(DecidedBy::Bays), Some(5)));
        assert_eq!((at.bay_start, at.date), (Some(date(2026, 9, 21)), Some(date(2026, 9, 25))));
        assert_eq!((at.parts_start, at.parts_date), (Some(TODAY), Some(date(2026, 9, 18))));
    }
    // What is in the bay keeps it.
    let delivery = shop.forecast(first).delivery;
    let at = delivery.levels.first().unwrap();
    assert_eq!((at.decided_by, at.date), (Some(DecidedBy::Nothing), Some(date(2026, 9, 18))));
    // One bay more, or no number at all: it starts today.
    for (bays, said) in [(2, 2), (0, 0)] {
        shop.book.settings.as_mut().unwrap().bays = bays;
        let delivery = shop.forecast(second).delivery;
        let at = delivery.levels.first().unwrap();
        assert_eq!((at.decided_by, delivery.bays), (Some(DecidedBy::Nothing), said));
        assert_eq!(at.date, Some(date(2026, 9, 18)));
    }
}

/// The part comes long after the bay is free.
#[test]
fn parts_decide_and_say_how_long_a_bay_stands_free() {
    let mut shop = shop(1);
    put_in_bay(&mut shop, "B-1");
    shop.part("HD-2");
    shop.order("P-1", "CORRIE", &[("HD-2", 1, Some(date(2026, 11, 2)))]);
    let build = shop.open("B-2", &[("HD-2", "Body", 1)]);
    let forecast = shop.forecast(build);
    let delivery = &forecast.delivery;
    for (at, start) in delivery.levels.iter().zip(forecast.start.iter()) {
        // A start is decided in the morning: the part came the working day before.
        let calendar = WorkCalendar::monday_to_friday();
        let after = |day: Option<Date>| day.and_then(|day| calendar.next_working_day(day));
        assert_eq!((at.decided_by, at.bay_start), (Some(DecidedBy::Parts), after(start.date)));
        let free = calendar.working_days_between(date(2026, 9, 21), at.bay_start.unwrap());
        assert_eq!(at.decided_days, usize::try_from(free).ok());
        assert_eq!(at.date, after(at.parts_date));
    }
    let alone: Vec<_> = delivery.levels.iter().map(|at| at.parts_date).collect();
    let handover: Vec<_> = forecast.handover.iter().map(|at| at.date).collect();
    assert_eq!(alone, handover);
}

/// On hold in its bay, it holds it; booked builds hold theirs; more builds than bays do no harm.
#[test]
fn who_holds_a_bay() {
    let mut shop = shop(1);
    put_in_bay(&mut shop, "B-1");
    let hold =
        BuildCommand::Hold { build: by("B-1"), reason: "customer".into(), occurred_on: None };
    shop.build(hold);
    let asked = shop.open("B-2", &[("HD-1", "Body", 1)]);
    let start = |shop: &Shop| shop.forecast(asked).delivery.levels[1].bay_start.unwrap();
    assert_eq!(start(&shop), date(2026, 9, 21));
    // Booked for Thursday the 24th, and served first: it has everything, and begins on the 21st.
    let booked = shop.open("B-3", &[("HD-1", "Body", 1)]);
    shop.book.builds.get_mut(&booked).unwrap().planned_start = Some(date(2026, 9, 24));
    assert_eq!(start(&shop), date(2026, 9, 28));
    let own = shop.forecast(booked).delivery;
    assert_eq!(own.levels[1].bay_start, Some(date(2026, 9, 21)));
    assert_eq!(own.at_planned_start.and_then(|dates| dates.at_80()), Some(date(2026, 9, 25)));
    // Where work begins on booked days: three days from the 21st are too few for the other, so after it.
    shop.starts(StartWay::BookedDay);
    assert_eq!(start(&shop), date(2026, 10, 1));
    let own = shop.forecast(booked).delivery;
    assert_eq!(own.levels[1].bay_start, Some(date(2026, 9, 24)));
    shop.starts(StartWay::StallTolerated);
    put_in_bay(&mut shop, "B-4");
    let forecast = shop.forecast(asked);
    assert_eq!(forecast.delivery.overbooked_days, 5);
    let said = Assumption::Overbooked { days: 5, bays: 1 };
    assert!(forecast.assumptions.contains(&said), "{forecast:?}");
}

/// Body three days, Electrical two at a firm: the bay is free for those two, and overrun holds a day.
#[test]
fn a_bay_is_free_while_its_vehicle_is_away() {
    let mut shop = shop(1);
    let first = put_in_bay(&mut shop, "B-1");
    let firm = shop.book.find_supplier(&by("CORRIE")).unwrap().id;
    for id in shop.book.stages_of(first).iter().map(|stage| stage.id).collect::<Vec<_>>() {
        let mut stage = shop.book.stages.get_mut(&id).unwrap();
        stage.off_site = (stage.ordinal == 2).then_some(firm);
        stage.begun_on = (stage.ordinal == 1).then_some(date(2026, 8, 3));
    }
    let second = shop.open("B-2", &[("HD-1", "Body", 1)]);
    // Body is far past its plan and takes today; then the vehicle is away.
    let start = |shop: &Shop| shop.forecast(second).delivery.levels[1].bay_start;
    assert_eq!(start(&shop), Some(date(2026, 9, 15)));
    // The work off site first: the bay is free today, and taken; who comes back waits for it.
    for id in shop.book.stages_of(first).iter().map(|stage| stage.id).collect::<Vec<_>>() {
        let mut stage = shop.book.stages.get_mut(&id).unwrap();
        stage.begun_on = None;
        stage.off_site = (stage.ordinal == 1).then_some(firm);
    }
    assert_eq!(start(&shop), Some(TODAY));
    let back = shop.forecast(first).delivery;
    assert_eq!(back.levels[1].date, Some(date(2026, 9, 22)), "five days for the other, then two");
}

/// Stages named Body that took twice their plan of three days: the delivery is later, the work's end
/// beside it is not.
#[test]
fn lengths_are_learned_from_finished_stages() {
    let mut shop = shop(0);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let mut stages = Vec::new();
    for n in 1..=40_u32 {
        // Monday to the next Monday: six working days.
        let begun: Date = add_days(TODAY, -14 * i64::from(n)).unwrap();
        stages.push(Stage {
            id: StageId(Uuid::from_u128(n.into())),
            build: BuildId(Uuid::from_u128(n.into())),
            ordinal: 1,
            name: number("Body"),
            planned_days: 3,
            begun_on: Some(begun),
            done_on: add_days(begun, 7),
            off_site: None,
        });
    }
    let learn = |stages: &[Stage]| {
        let settings = LearnSettings::default();
        let calendar = WorkCalendar::monday_to_friday();
        let lengths = StageLengths::learn(stages, &[].into(), &calendar, TODAY, &settings);
        Learned {
            laws: LearnedLaws::learn(&History::default(), TODAY, &settings),
            cause: CommonCause::new(0.0).unwrap(),
            suppliers: [].into(),
            offers: [].into(),
            waits: None,
            lengths: Some(lengths),
            coming: None,
            lines: 0,
        }
    };
    let told = |stages: &[Stage]| {
        let learned = learn(stages);
        crate::plan::forecast_build(&shop.book, Some(&learned), build, TODAY, None).unwrap()
    };
    let few = told(&stages[..4]);
    assert_eq!(few.delivery.levels[1].date, Some(date(2026, 9, 18)));
    assert!(few.assumptions.contains(&Assumption::WorkAsPlanned));
    let many = told(&stages);
    assert_eq!(many.finish[1].date, Some(date(2026, 9, 18)));
    // Body about six days instead of three; Electrical was never seen and borrows the ratio, both
    // held back by a prior of eight stages around the plan.
    assert!((9..=11).contains(&many.delivery.work_days), "{}", many.delivery.work_days);
    assert!(many.delivery.levels[1].date >= Some(date(2026, 9, 25)), "{:?}", many.delivery);
    let said = Assumption::WorkAsLearned { finished: 40, middle_ratio: 2.0 };
    assert!(many.assumptions.contains(&said), "{:?}", many.assumptions);
}

/// FC-2: an arrival that is likelier on every day makes no delivery later, bays counted in.
#[test]
fn likelier_arrivals_make_no_delivery_later() {
    let mut shop = shop(1);
    put_in_bay(&mut shop, "B-1");
    shop.part("HD-2");
    shop.order("P-1", "CORRIE", &[("HD-2", 1, Some(date(2026, 9, 16)))]);
    let build = shop.open("B-2", &[("HD-2", "Electrical", 1)]);
    let mut before: Vec<Option<Date>> = vec![None; 3];
    for days in 16..30 {
        let promised = date(2026, 9, days);
        shop.book.order_lines.change_all(|line| {
            line.promises.iter_mut().for_each(|promise| promise.promised_on = promised);
        });
        let found: Vec<_> = shop.forecast(build).delivery.levels.iter().map(|at| at.date).collect();
        for (earlier, later) in before.iter().zip(&found) {
            assert!(earlier.is_none() || earlier <= later, "{promised}: {before:?} {found:?}");
        }
        before = found;
    }
}

/// Two builds are booked on one day into one bay: the first in line gets it, the second waits for its five
/// working days; its promise is reckoned from then on. By hand.
#[test]
fn two_bookings_of_one_bay_are_told_one_after_the_other() {
    let mut shop = Shop::new();
    shop.book.settings.as_mut().unwrap().bays = 1;
    shop.starts(StartWay::BookedDay);
    let day = date(2026, 9, 21);
    let ids = ["B-1", "B-2"].map(|build| shop.open::<crate::command::NewLine>(build, &[]));
    for id in ids {
        shop.book.builds.get_mut(&id).unwrap().planned_start = Some(day);
    }
    let [first, second] = ids.map(|id| shop.forecast(id).delivery);
    assert_eq!((first.planned_from, second.planned_from), (Some(day), Some(date(2026, 9, 28))));
    // Seen in use: parts that were all here were said to decide the booked day.
    let by = |delivery: &Delivery| delivery.levels[1].decided_by;
    assert_eq!((by(&first), by(&second)), (Some(DecidedBy::Booking), Some(DecidedBy::Bays)));
    // Five planned days: Monday to Friday.
    assert_eq!(first.at_80(), Some(date(2026, 9, 25)));
    assert_eq!(second.at_80(), Some(date(2026, 10, 2)));
    assert_eq!((second.bay_wait_share, second.bay_wait_days), (1.0, 5.0));
    let chance = |id, day| chance_of_promise(&shop.book, None, id, TODAY, day).unwrap();
    assert_eq!(chance(ids[0], date(2026, 9, 25)), 1.0);
    assert_eq!(chance(ids[1], date(2026, 10, 1)), 0.0, "no bay before the first one is done");
    assert_eq!(chance(ids[1], date(2026, 10, 2)), 1.0);
    // Where work begins as soon as a stall is unlikely: today, whatever is booked.
    shop.starts(StartWay::StallTolerated);
    let [first, second] = ids.map(|id| shop.forecast(id).delivery);
    assert_eq!(first.at_80(), Some(date(2026, 9, 18)));
    assert_eq!(second.at_80(), Some(date(2026, 9, 25)));
}
