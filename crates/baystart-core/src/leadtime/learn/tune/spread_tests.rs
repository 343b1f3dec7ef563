#![allow(clippy::unwrap_used)]

use jiff::civil::{Date, date};

use super::{
    spread::{Spread, Waited, fit, narrowed},
    walk::ReceivingDays,
    *,
};
use crate::{
    calendar::add_days,
    leadtime::{
        Laws as _, OpenSupply, SupplyKeys,
        history::{Fact, PastLine},
        learn::LearnedLaws,
    },
};

/// A landmark, a Thursday.
const LANDMARK: Date = date(2026, 6, 4);

fn day(n: i64) -> Date {
    add_days(LANDMARK, n).unwrap()
}

fn fact(n: i64) -> Fact {
    Fact { on: day(n), recorded_on: day(n) }
}

fn took(placed: i64, days: i64) -> PastLine {
    PastLine {
        supplier: 1,
        offer: 1,
        order: None,
        quoted_days: Some(30),
        placed: fact(placed),
        taken_over_on: None,
        rejected: false,
        promises: vec![],
        despatched: None,
        completed: Some(fact(placed + days)),
        cancelled: None,
        contacts: vec![],
    }
}

/// A line every third day for three years; their times are exp(.15 z) x 30 days, z a normal score of each of 365
/// strata, against a quote of 30.
fn punctual() -> Vec<PastLine> {
    let took_days = |n: i64| {
        let stratum = (n * 97) % 365;
        let z = crate::forecast::normal_quantile((stratum as f64 + 0.5) / 365.0);
        (30.0 * (0.15 * z).exp()).round() as i64
    };
    (0..365).map(|n| took(3 * n - 1_095, took_days(n))).collect()
}

fn waited(batch: i64, from: f64, to: f64) -> Waited {
    Waited { batch: (1, batch), from, to, came: true }
}

/// g = 1, by hand: up to .05 the factor is .05, then H, from 5 on 5. At 1: .0025 + (1 - .0025) / 2 = .50125;
/// at 7: .0025 + (25 - .0025) / 2 + 2 x 5 = 22.50125.
#[test]
fn a_narrowed_hazard_by_hand() {
    for (hazard, found) in [(0.04, 0.002), (1.0, 0.501_25), (7.0, 22.501_25)] {
        assert!((narrowed(hazard, 1.0) - found).abs() < 1e-12, "{hazard}");
        assert!((narrowed(hazard, 0.0) - hazard).abs() < 1e-12);
    }
}

/// Where the factor is one and the same nothing is told of g. Four lines came after half of a hazard each, in
/// four batches: D / E = 4 / 2, no score is left, V = 1/4, .0625 / (.0625 + .25) = .2 of ln 2 is kept.
#[test]
fn a_pace_by_hand() {
    let rows: Vec<Waited> = (0..4).map(|batch| waited(batch, 5.0, 5.5)).collect();
    let Spread { pace, narrowing } = fit(&rows);
    assert_eq!(narrowing, 0.0);
    assert!((pace - (0.2 * 2.0_f64.ln()).exp()).abs() < 1e-12, "{pace}");
    assert_eq!(fit(&[]), Spread { pace: 1.0, narrowing: 0.0 });
    let open = Waited { came: false, ..waited(1, 0.0, 0.7) };
    assert_eq!(fit(&[open]), Spread { pace: 1.0, narrowing: 0.0 });
    // Of one batch alone nothing is believed.
    let together: Vec<Waited> = (0..4).map(|_| waited(1, 5.0, 5.5)).collect();
    assert_eq!(fit(&together).pace, 1.0);
}

/// 4,000 lines, some of them asked about when they had waited, whose survival is exp(-1.1 K(H)) with g = .15.
#[test]
fn the_truth_is_found_again() {
    let mut rows = Vec::new();
    for n in 0..4_000 {
        let from = if n % 3 == 0 { 0.6 } else { 0.0 };
        let left = -(1.0 - (f64::from(n) + 0.5) / 4_000.0).ln() / 1.1;
        let (mut low, mut high) = (from, from + 60.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            let over = narrowed(middle, 0.15) - narrowed(from, 0.15) > left;
            (low, high) = if over { (low, middle) } else { (middle, high) };
        }
        rows.push(waited(n.into(), from, low));
    }
    let found = fit(&rows);
    assert!((found.pace - 1.1).abs() < 0.01 && (found.narrowing - 0.15).abs() < 0.01, "{found:?}");
}

/// On a Monday comes what came since Friday, where nothing is received at weekends.
#[test]
fn goods_come_on_receiving_days() {
    let all = ReceivingDays::of(&History::default(), LANDMARK);
    assert_eq!(all.last_before(LANDMARK, 4), 3);
    // Thursday and Friday of every week, then Monday to Wednesday.
    let lines = (0..500).filter(|n| n % 7 < 2 || n % 7 > 3).map(|n| took(n - 700, 28)).collect();
    let weekdays = ReceivingDays::of(&History { lines, ..History::default() }, LANDMARK);
    assert_eq!([4, 5, 0].map(|day| weekdays.last_before(LANDMARK, day)), [1, 4, -1]);
}

/// Laws that borrow from a wide default say too often of a punctual supplier that a line takes more than 40 days,
/// as 2.3 % of them do. Their own forecasts show it, and the law becomes narrower.
#[test]
fn a_law_that_is_too_wide_becomes_narrower() {
    let history = History { lines: punctual(), ..History::default() };
    let settings = LearnSettings::default();
    let tuned = LearnedLaws::learn(&history, LANDMARK, &settings);
    let wide = Tuning { narrowing: 0.0, pace: 1.0, ..tuned.tuning().clone() };
    let wide = LearnedLaws::learn_tuned(&history, LANDMARK, &settings, wide);
    let keys = SupplyKeys { supplier: Some(1), offer: Some(1), order: None };
    let supply = OpenSupply {
        placed_on: LANDMARK,
        quoted_days: Some(30),
        promise: None,
        despatched_on: None,
    };
    let late = |laws: &LearnedLaws| {
        1.0 - laws.arrival(keys, &supply, LANDMARK, 365).unwrap().arrived_by(day(40))
    };
    // Rounded to days, more than 40 of them: 40.5 days are 2 standard deviations of the logarithm.
    let off = |laws: &LearnedLaws| late(laws) - 0.0228;
    assert!(off(&wide) > 0.01, "{}", off(&wide));
    assert!(off(&tuned).abs() < 0.5 * off(&wide), "{} {}", off(&tuned), off(&wide));
    // Not placed yet: nothing is known of what will be placed with it.
    assert_eq!(tuned.batch_power(keys, &supply), 1.0);
}

/// What is entered after a landmark moves nothing that was found at it.
#[test]
fn a_line_that_is_entered_later_moves_no_weight() {
    let settings = LearnSettings::default();
    let before = History { lines: punctual(), ..History::default() };
    let mut after = before.clone();
    // Three a day: with those of the landmark more than are asked about, so that a choice is made among them.
    for n in 0..120 {
        let mut line = took(-300 - n / 3, 60);
        for fact in [Some(&mut line.placed), line.completed.as_mut()].into_iter().flatten() {
            fact.recorded_on = day(3);
        }
        after.lines.push(line);
    }
    assert_eq!(tune(&before, day(1), &settings), tune(&after, day(1), &settings));
}
