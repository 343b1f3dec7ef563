//! Delivery against enumeration, against seeded draws, and in small shops.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::book::model::{Stage, StartWay};
use crate::calendar::{WorkCalendar, add_days};
use crate::command::BuildCommand;
use crate::forecast::{CommonCause, Source, forecast};
use crate::ids::{BuildId, StageId};
use crate::leadtime::history::History;
use crate::leadtime::learn::{LearnSettings, LearnedLaws};
use crate::leadtime::stages::StageLengths;
use crate::plan::reckon::ends::Ends;
use crate::plan::reckon::work::{convolved, point};
use crate::plan::{Assumption, DecidedBy, Learned, chance_of_promise};
use crate::testing::{Shop, TODAY, by, number};
use jiff::civil::{Date, date};
use uuid::Uuid;

/// Points of a distribution: axis index or days, and chance.
type Points = Vec<(usize, f64)>;

fn cdf(points: &[(usize, f64)], days: usize) -> Vec<f64> {
    (0..days).map(|x| points.iter().filter(|(day, _)| *day <= x).map(|(_, p)| p).sum()).collect()
}

fn mass(points: &[(usize, f64)]) -> Vec<f64> {
    let mut mass = vec![0.0; points.iter().map(|(day, _)| day + 1).max().unwrap_or(0)];
    points.iter().for_each(|(day, p)| mass[*day] += p);
    mass
}

/// Every outcome of independent draws with its chance.
fn outcomes(parts: &[Points]) -> Vec<(Vec<usize>, f64)> {
    let mut all = vec![(Vec::new(), 1.0)];
    for points in parts {
        let mut next = Vec::new();
        for (values, chance) in &all {
            for (value, p) in points {
                let mut values: Vec<usize> = values.clone();
                values.push(*value);
                next.push((values, chance * p));
            }
        }
        all = next;
    }
    all
}

/// Start, stall and delivery of three sources, two stages and a paper by writing down all outcomes.
/// Where the first stage takes its plan: stage by stage, each begins when the one before is done and
/// its own parts are here. Where its length is uncertain: the later part at its planned offset.
#[test]
fn every_outcome_of_a_small_build() {
    every_outcome(&[(3, 1.0)], true);
    every_outcome(&[(2, 0.25), (3, 0.5), (6, 0.25)], false);
}

fn every_outcome(first_stage: &[(usize, f64)], by_stage: bool) {
    const DAYS: usize = 40;
    // Two sources for the first stage, one for the second; stage lengths in working days.
    let arrivals: Vec<Points> = vec![
        vec![(0, 0.5), (4, 0.3), (9, 0.2)],
        vec![(2, 0.6), (7, 0.4)],
        vec![(1, 0.25), (8, 0.5), (15, 0.25)],
    ];
    let offsets = [0, 0, 3];
    let lengths: Vec<Points> = vec![first_stage.to_vec(), vec![(2, 0.5), (4, 0.3), (5, 0.2)]];
    let paper: Points = vec![(3, 0.5), (13, 0.5)];
    let sources: Vec<Source> = arrivals
        .iter()
        .zip(offsets)
        .map(|(points, offset)| Source::new(offset, None, cdf(points, DAYS)).unwrap())
        .collect();
    let forecast = forecast(&sources, DAYS);
    let paper_cdf = cdf(&paper, DAYS);
    let ends = Ends {
        start_cdf: forecast.start_cdf(),
        papers: Some(vec![&paper_cdf]),
        work: convolved(&mass(&lengths[0]), &mass(&lengths[1]), DAYS),
        days: DAYS,
    };
    let mut draws = arrivals.clone();
    draws.extend(lengths.clone());
    draws.push(paper);
    let all = outcomes(&draws);
    for start in 0..20 {
        let mut stall = 0.0;
        let mut done = vec![0.0; DAYS];
        for (drawn, chance) in &all {
            let first = start.max(drawn[0]).max(drawn[1]);
            let second = (first + drawn[3]).max(drawn[2]);
            let ready = first.max(drawn[2].saturating_sub(3));
            if ready > start {
                stall += chance;
            }
            let work_done = match by_stage {
                true => second + drawn[4] - 1,
                false => ready + drawn[3] + drawn[4] - 1,
            };
            let last_day = work_done.max(drawn[5]);
            done[last_day..].iter_mut().for_each(|cell| *cell += chance);
        }
        assert!((forecast.stall(start) - stall).abs() < 1e-12, "{start}");
        for (x, expected) in done.iter().enumerate() {
            let found = ends.by(x, start, true);
            assert!((found - expected).abs() < 1e-12, "{start} {x}: {found} {expected}");
        }
        for level in [0.5, 0.8, 0.95] {
            let expected = done.iter().position(|chance| *chance >= level - 1e-9);
            assert_eq!(ends.quantile(level, start, true), expected, "{start} {level}");
        }
    }
    // Past everything there is no date.
    let none = Ends { start_cdf: forecast.start_cdf(), papers: None, work: point(5), days: DAYS };
    assert_eq!(none.quantile(0.5, 0, true), None);
}

/// SplitMix64, as published by Steele, Lea and Flood (2014); the constants from memory.
struct Draw(u64);

impl Draw {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) as f64 / u64::MAX as f64
    }

    fn of(&mut self, cdf: &[f64]) -> usize {
        let u = self.uniform();
        cdf.partition_point(|value| *value < u)
    }
}

fn summed(mass: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    mass.iter()
        .map(|p| {
            sum += p;
            sum
        })
        .collect()
}

/// 30 sources and 5 stages of random length, 20,000 draws. `S*` at planned offsets, as the answer
/// counts it, must agree within 4 standard errors; what stage by stage comes out differs by the
/// approximation that is named in [`Ends`], and is printed.
#[test]
fn lengths_move_the_later_stages_needs() {
    const DAYS: usize = 400;
    const DRAWS: usize = 20_000;
    let planned = [4_usize, 6, 3, 8, 5];
    let mut draw = Draw(11);
    for (name, stretch) in [
        ("as planned in the middle", 1.0),
        ("1.3 times the plan", 1.3),
        ("0.7 times the plan", 0.7),
    ] {
        // Lengths from 60 to 200 % of the (stretched) plan, skewed to the right.
        let lengths: Vec<Vec<f64>> = planned
            .iter()
            .map(|days| {
                let at = |f: f64| (*days as f64 * stretch * f).round().max(1.0) as usize;
                mass(&[
                    (at(0.6), 0.15),
                    (at(0.8), 0.2),
                    (at(1.0), 0.3),
                    (at(1.3), 0.2),
                    (at(2.0), 0.15),
                ])
            })
            .collect();
        let mut sources = Vec::new();
        let mut stages = Vec::new();
        for k in 0..30 {
            let stage = k % planned.len();
            let offset: usize = planned[..stage].iter().sum();
            // Waits with a middle of 4 to 27 working days and a long tail.
            let middle = 4.0 + (k * 7 % 24) as f64;
            let law = |x: usize| {
                let odds = ((x as f64 + 0.5) / middle).powi(5);
                odds / (1.0 + odds)
            };
            let cdf: Vec<f64> = (0..DAYS).map(law).collect();
            sources.push(Source::new(u32::try_from(offset).unwrap(), None, cdf).unwrap());
            stages.push((stage, offset));
        }
        let forecast = forecast(&sources, DAYS);
        let work = lengths.iter().fold(point(0), |sum, length| convolved(&sum, length, DAYS));
        let ends =
            Ends { start_cdf: forecast.start_cdf(), papers: Some(Vec::new()), work, days: DAYS };
        let start = forecast.quantile(0.5).unwrap();
        let sums: Vec<Vec<f64>> = lengths.iter().map(|length| summed(length)).collect();
        let (mut as_counted, mut in_truth) = (Vec::new(), Vec::new());
        for _ in 0..DRAWS {
            let arrived: Vec<usize> = sources.iter().map(|s| draw.of(s.cdf())).collect();
            let took: Vec<usize> = sums.iter().map(|sum| draw.of(sum)).collect();
            let ready = arrived.iter().zip(&stages).map(|(a, (_, o))| a.saturating_sub(*o)).max();
            as_counted.push(start.max(ready.unwrap()) + took.iter().sum::<usize>() - 1);
            let mut day = start;
            for (stage, length) in took.iter().enumerate() {
                let parts = arrived.iter().zip(&stages).filter(|(_, (s, _))| *s == stage);
                day = parts.map(|(a, _)| *a).fold(day, usize::max) + length;
            }
            in_truth.push(day - 1);
        }
        for level in [0.5, 0.8, 0.95] {
            let date = ends.quantile(level, start, true).unwrap();
            let said = ends.by(date, start, true);
            let share = |ends: &[usize]| {
                ends.iter().filter(|end| **end <= date).count() as f64 / DRAWS as f64
            };
            let error = (said * (1.0 - said) / DRAWS as f64).sqrt();
            let found = share(&as_counted);
            assert!((found - said).abs() < 4.0 * error, "{name} {level}: {found} {said} {error}");
            let mut sorted = in_truth.clone();
            sorted.sort_unstable();
            let true_date = sorted[((level * DRAWS as f64) as usize).min(DRAWS - 1)];
            println!(
                "{name}, {level}: said {said:.3} by day {date}; counted so {found:.3}; stage by \
                 stage {:.3}, whose date is day {true_date}",
                share(&in_truth)
            );
        }
    }
}

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
