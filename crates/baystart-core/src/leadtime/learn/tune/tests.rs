#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use jiff::civil::{Date, date};

use super::{
    power::{Exposed, fit, power},
    rows::Outcome,
    weights::Judged,
    *,
};
use crate::{
    calendar::{add_days, day_number},
    leadtime::{
        Laws as _, SupplyKeys,
        estimate::Strength,
        history::{CancelledBy, Fact, PastLine},
        learn::LearnedLaws,
    },
};

/// A landmark: a day number that 28 divides.
const LANDMARK: Date = date(2026, 6, 4);

fn day(n: i64) -> Date {
    add_days(LANDMARK, n).unwrap()
}

fn fact(n: i64) -> Fact {
    Fact { on: day(n), recorded_on: day(n) }
}

fn line(supplier: u32, placed: i64) -> PastLine {
    PastLine {
        supplier,
        offer: supplier,
        order: None,
        quoted_days: Some(30),
        placed: fact(placed),
        taken_over_on: None,
        rejected: false,
        promises: vec![],
        despatched: None,
        completed: None,
        cancelled: None,
        contacts: vec![],
    }
}

fn took(supplier: u32, placed: i64, days: i64) -> PastLine {
    PastLine { completed: Some(fact(placed + days)), ..line(supplier, placed) }
}

fn history(lines: Vec<PastLine>) -> History {
    History { lines, ..History::default() }
}

#[test]
fn landmarks_fall_on_fixed_dates() {
    assert_eq!(day_number(LANDMARK) % LANDMARK_DAYS, 0);
    for past in 0..28 {
        assert_eq!(last_landmark(day(past)), LANDMARK);
    }
    assert_eq!(last_landmark(day(28)), day(28));
}

/// By hand: two experts at three landmarks said .2 and .8, .4 and .6, .5 and .5 of lines that came,
/// came, and did not. A = (.45 .65; .65 1.25), b = (.6, 1.4), lambda = 10 * 1.7 / (2 * 3) = 2.8333.
/// With w = (x, 1 - x): x (6.5667 - 2.6 + 8.1667) = 8.1667 - 1.3 - 1.6, x = .434066.
#[test]
fn weights_of_two_experts_at_three_landmarks_by_hand() {
    let mut judged = Judged::new(2);
    judged.add(&[0.2, 0.8], true);
    judged.add(&[0.4, 0.6], true);
    judged.add(&[0.5, 0.5], false);
    let weights = judged.weights();
    assert!((weights[0] - 0.434_066).abs() < 1e-6, "{weights:?}");
    assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert_eq!(Judged::new(4).weights(), vec![0.25; 4], "nothing judged: equal");
}

/// One who is always right is believed alone once there is much to go by; the other never below 0.
#[test]
fn a_perfect_expert_is_believed_and_no_weight_is_negative() {
    let mut judged = Judged::new(3);
    for k in 0..2_000 {
        let came = k % 3 == 0;
        let right = f64::from(u8::from(came));
        judged.add(&[1.0 - right, right, 0.5], came);
    }
    let weights = judged.weights();
    assert!(weights[1] > 0.97 && weights.iter().all(|w| *w >= 0.0), "{weights:?}");
    assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
}

#[test]
fn marks_end_where_evidence_does() {
    let came = Outcome { day: 40, came: true };
    assert_eq!(
        (1..=3).map(|m| came.by_mark(m)).collect::<Vec<_>>(),
        [Some(false), Some(true), Some(true)]
    );
    // Known open to the end of day 55, the last before day 56.
    let open = Outcome { day: 55, came: false };
    assert_eq!(
        (1..=3).map(|m| open.by_mark(m)).collect::<Vec<_>>(),
        [Some(false), Some(false), None]
    );
    // Cancelled on day 40: of day 56 nothing is known.
    let cancelled = Outcome { day: 40, came: false };
    assert_eq!((1..=2).map(|m| cancelled.by_mark(m)).collect::<Vec<_>>(), [Some(false), None]);
}

/// By hand: one batch of three lines, exposure .5 each, all came; only the constant tells. Newton with
/// ridge 1 solves 3 - 1.5 e^b - b = 0: b = .507714. H = 1.5 e^b + 1 = 3.492286; the batch's score is
/// s = 3 - 1.5 e^b = b, so V = (b^2 + H) / H^2 = .307481, beta = .0625 / (.0625 + V) b = .085767.
/// Were the lines of three batches, V = (b^2 / 3 + H) / H^2 = .293391 and beta = .089162.
#[test]
fn a_batch_of_three_by_hand() {
    let facts = [1.0, 0.0, 0.0, 0.0, 0.0];
    let row = |batch| Exposed { batch: (batch, 0), facts, exposure: 0.5, came: true };
    let one = fit(&[row(1), row(1), row(1)]);
    assert!((one[0] - 0.085_767).abs() < 2e-5, "{one:?}");
    let three = fit(&[row(1), row(2), row(3)]);
    assert!((three[0] - 0.089_162).abs() < 2e-5, "{three:?}");
    assert_eq!(one[1..], [0.0; 4]);
    assert!((power(&one, &facts) - one[0].exp()).abs() < 1e-12);
    assert_eq!(power(&[9.0, 0.0, 0.0, 0.0, 0.0], &facts), 1.5_f64.exp(), "clipped");
    assert_eq!(fit(&[]), [0.0; BATCH_FACTS]);
}

/// Lines that mostly come with the others of their day: one that is missing where two are here comes
/// sooner than its supplier's hazard says, and one of which nothing is here later.
#[test]
fn what_is_here_of_a_batch_speaks_for_the_rest() {
    let mut lines = Vec::new();
    for batch in 0..150_i64 {
        let placed = -1_000 + 6 * batch;
        let days = 15 + batch * 7 % 60;
        for late in [0, 0, 9] {
            lines.push(took(u32::try_from(batch % 3).unwrap(), placed, days + late));
        }
    }
    let settings = LearnSettings::default();
    let laws = LearnedLaws::learn(&history(lines), LANDMARK, &settings);
    let tuning = laws.tuning();
    let beside = |others, arrived| Beside { others, arrived, ..Beside::default() };
    assert_eq!(tuning.landmark, Some(LANDMARK));
    assert!(tuning.judged > 500, "{tuning:?}");
    assert!(tuning.power(&beside(2, 2)) > 1.3, "{tuning:?}");
    assert!(tuning.power(&beside(2, 0)) < tuning.power(&beside(2, 2)) / 1.3, "{tuning:?}");
}

#[test]
fn withdrawn_and_stale_lines_are_judged_to_their_end_only() {
    let regular = |k: i64| took(1, -1_000 + 3 * k, 20 + k * 5 % 17);
    let base: Vec<PastLine> = (0..310).map(regular).collect();
    let tuned = |more: PastLine| {
        let lines = base.iter().cloned().chain([more]).collect();
        tune(&history(lines), LANDMARK, &LearnSettings::default()).judged
    };
    let without = tune(&history(base.clone()), LANDMARK, &LearnSettings::default()).judged;
    // Placed on day -205, open at the landmarks of days -196 and -168, withdrawn on day -150: 18
    // days after the second. Of the first, marks to day -168; of the second none.
    let us = (CancelledBy::Us, fact(-150));
    let withdrawn = PastLine { cancelled: Some(us), ..line(2, -205) };
    assert_eq!(tuned(withdrawn), without + 1);
    // Never heard of again: at each landmark before it was stale it was asked about, but nothing is
    // known of it since it was placed.
    assert_eq!(tuned(line(2, -205)), without);
    // A call on day -100 said that it was still open: marks to then from four landmarks, days -196
    // (3 marks), -168 (2), -140 (1) and -112 (0).
    let called = PastLine { contacts: vec![fact(-100)], ..line(2, -205) };
    assert_eq!(tuned(called), without + 6);
    // Booked as received only after a landmark at which it had come.
    let late = Fact { on: day(-180), recorded_on: day(-150) };
    let booked_late = PastLine { completed: Some(late), ..line(2, -205) };
    // Asked about at days -196 (here by its first mark, and known at all 7 marks since) and -168.
    assert_eq!(tuned(booked_late), without + 7);
}

/// Source: Freireich et al. 1963, published survival (checks.md). All orders of one day, so that all
/// experts weigh them alike; nothing smoothed, nothing borrowed.
#[test]
fn alike_experts_without_batches_are_kaplan_meier() {
    let words = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+";
    let lines = words.split(' ').map(|word| {
        let days: i64 = word.trim_end_matches('+').parse().unwrap();
        let line = PastLine { quoted_days: None, ..line(1, -300) };
        match word.ends_with('+') {
            true => {
                let us = (CancelledBy::Us, fact(-300 + days));
                PastLine { cancelled: Some(us), ..line }
            }
            false => PastLine { completed: Some(fact(-300 + days)), ..line },
        }
    });
    let settings = LearnSettings {
        strength: Strength { orders: 0.0, tail_exponent: 1.0 },
        smoothed: false,
        ..LearnSettings::default()
    };
    let laws = LearnedLaws::learn(&history(lines.collect()), LANDMARK, &settings);
    let keys = SupplyKeys { supplier: Some(1), offer: Some(1), order: None };
    let law = laws.lead_time(keys, None).unwrap();
    // On the days before the first event nobody leaves, as in the data.
    let arrived = law.conditional(0, 36);
    // The fractions of the data: 18/21, times 16/17, 14/15, 11/12, 10/11, 6/7, 5/6.
    let mut survival = 1.0;
    for (day, left) in [
        (6, 18.0 / 21.0),
        (7, 16.0 / 17.0),
        (10, 14.0 / 15.0),
        (13, 11.0 / 12.0),
        (16, 10.0 / 11.0),
        (22, 6.0 / 7.0),
        (23, 5.0 / 6.0),
    ] {
        survival *= left;
        let found: f64 = 1.0 - arrived[day];
        assert!((found - survival).abs() < 1e-12, "day {day}: {found} against {survival}");
    }
    assert!((1.0 - arrived[23] - 0.448_179).abs() < 1e-6);
}

/// A walk that goes from landmark to landmark says what learning on each day says.
#[test]
fn a_walk_is_as_learning_anew() {
    let mut lines = Vec::new();
    for k in 0..400_i64 {
        let (supplier, placed) = (u32::try_from(k % 5).unwrap(), -1_500 + 4 * k - k % 3);
        let days = 12 + k * 11 % 37;
        let mut line = PastLine { order: Some(k as u64 / 3), ..line(supplier, placed) };
        if placed + days < 0 {
            match k % 11 {
                0 => line.cancelled = Some((CancelledBy::Us, fact(placed + days))),
                _ => line.completed = Some(fact(placed + days)),
            }
        }
        if k % 2 == 0 {
            let known_on = day(placed + 3);
            line.promises.push(crate::leadtime::history::PastPromise {
                date: day(placed + days - k % 7 + 3),
                known_on,
                recorded_on: known_on,
            });
        }
        if k % 3 == 0 && placed + days - 4 < 0 {
            line.despatched = Some(fact(placed + days - 4));
        }
        lines.push(line);
    }
    let known = history(lines);
    let settings = LearnSettings::default();
    let mut walk = Walk::new(&known, &settings, day(-300), LANDMARK);
    for as_of in [-300, -299, -290, -222, -100, 0].map(day) {
        let walked = walk.to(as_of);
        let fresh = LearnedLaws::learn(&known, as_of, &settings);
        for (a, b) in walked.tuning().lead.iter().zip(&fresh.tuning().lead) {
            assert!(
                (a - b).abs() < 1e-6,
                "{as_of}: {:?} against {:?}",
                walked.tuning(),
                fresh.tuning()
            );
        }
        let settled = LearnedLaws::learn_tuned(&known, as_of, &settings, walked.tuning().clone());
        for supplier in 0..6 {
            let keys =
                SupplyKeys { supplier: Some(supplier), offer: Some(supplier), order: Some(3) };
            let promise = |notice: i64| crate::leadtime::Promise {
                date: add_days(as_of, notice - 2).unwrap(),
                known_on: add_days(as_of, -2).unwrap(),
            };
            for (promise, sent) in [(None, None), (Some(promise(20)), None), (None, Some(-1))] {
                let supply = crate::leadtime::OpenSupply {
                    placed_on: add_days(as_of, -6).unwrap(),
                    quoted_days: Some(30),
                    promise,
                    despatched_on: sent.map(|days| add_days(as_of, days).unwrap()),
                };
                let a = walked.arrival(keys, &supply, as_of, 300).unwrap();
                let b = settled.arrival(keys, &supply, as_of, 300).unwrap();
                for (a, b) in a.cdf().iter().zip(b.cdf()) {
                    assert!((a - b).abs() < 1e-9, "{as_of} supplier {supplier}: {a} against {b}");
                }
            }
        }
    }
}
