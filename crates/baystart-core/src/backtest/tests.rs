#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::ops::ControlFlow;

use jiff::civil::{Date, date};

use super::*;
use crate::{
    calendar::add_days,
    leadtime::{
        history::{Fact, History, PastLine},
        learn::LearnSettings,
    },
};

const FIRST: Date = date(2023, 1, 2);

fn fact(n: i64) -> Fact {
    let on = add_days(FIRST, n).unwrap();
    Fact { on, recorded_on: on }
}

/// Two suppliers, an order each every third day for 900 days; supplier 1 keeps its quote of 20
/// days give or take two, supplier 2 takes 40 days give or take six.
fn history() -> History {
    let mut lines = Vec::new();
    for k in 0..300_i64 {
        for (supplier, days) in [(1, 18 + k * 7 % 5), (2, 34 + k * 5 % 13)] {
            lines.push(PastLine {
                supplier,
                offer: supplier * 10 + u32::try_from(k % 2).unwrap(),
                order: None,
                quoted_days: Some(20),
                placed: fact(3 * k),
                taken_over_on: None,
                rejected: false,
                promises: vec![],
                despatched: None,
                completed: Some(fact(3 * k + days)),
                cancelled: None,
                contacts: vec![],
            });
        }
    }
    History { lines, ..History::default() }
}

fn plan() -> BacktestPlan {
    let end = add_days(FIRST, 1_000).unwrap();
    BacktestPlan {
        step_days: 28,
        horizon_days: 90,
        ..BacktestPlan::over(add_days(FIRST, 300).unwrap(), end)
    }
}

fn walk(history: &History, plan: &BacktestPlan) -> Report {
    run(history, plan, &LearnSettings::default(), &mut |_| ControlFlow::Continue(())).unwrap()
}

#[test]
fn learning_beats_the_baselines_where_quotes_lie() {
    let report = walk(&history(), &plan());
    let learned = report.scores(Method::Learned, Slice::All).unwrap();
    for method in Method::ALL {
        let other = report.scores(method, Slice::All).unwrap();
        // No wait here is long or grows, so that leaving out the open orders does little harm.
        // One half-life alone is the same method with less to go by; nothing changes here.
        let alike = matches!(method, Method::Learned | Method::CompletedOnly | Method::Fixed(_));
        assert!(alike || other.crps.mean > learned.crps.mean, "{method:?}");
        assert_eq!(other.orders, learned.orders);
    }
    let late = report.scores(Method::Quote, Slice::Supplier(2)).unwrap();
    // Nearly: an overdue quote says "today", which is true on the last day of waiting.
    assert!(late.hit[1].mean < 0.03, "a quote that never held: {:?}", late.hit);
    for k in 0..3 {
        assert!((learned.hit[k].mean - learned.stated[k].mean).abs() < 0.08, "{:?}", learned.hit);
        assert!((learned.gap[k].mean - learned.hit[k].mean + learned.stated[k].mean).abs() < 1e-9);
    }
    let bands: usize = (0..AGE_BANDS)
        .filter_map(|band| report.scores(Method::Learned, Slice::AgeBand(band)))
        .map(|scores| scores.orders)
        .sum();
    assert_eq!(bands, learned.orders);
    // Every order once: at least as many are said to come as the level says, and about as many do.
    let kept = report.kept;
    assert!(kept.orders > 50 && kept.orders <= learned.orders, "{kept:?}");
    for ((by, said), level) in kept.by.into_iter().zip(kept.said).zip(LEVELS) {
        let all = kept.orders as f64;
        assert!(said >= level * all && said <= all, "{kept:?}");
        assert!((by as f64 - said).abs() < 0.1 * all, "{kept:?}");
    }
    assert_eq!(report.builds.len(), BUILD_SIZES.len(), "{:?}", report.builds.len());
    assert!(report.builds[0].independent.orders > report.builds[3].independent.orders);
    assert!(report.late_together.len() > 40);
}

/// The future must not leak: whatever happens after a forecast day changes outcomes, never forecasts.
#[test]
fn a_forecast_does_not_change_with_what_is_recorded_later() {
    let stop_after = add_days(FIRST, 500).unwrap();
    let forecasts = |history: &History| {
        let mut found = Vec::new();
        run(history, &plan(), &LearnSettings::default(), &mut |event| {
            match event {
                Event::Forecasted(one) if one.as_of >= stop_after => return ControlFlow::Break(()),
                Event::Forecasted(one) => found.push((one.line, one.as_of, one.cdf.to_vec())),
                Event::Progress { .. } => {}
            }
            ControlFlow::Continue(())
        })
        .unwrap();
        found
    };
    let mut other = history();
    for line in &mut other.lines {
        if let Some(done) = line.completed.as_mut().filter(|fact| fact.on >= stop_after) {
            done.on = add_days(done.on, 15).unwrap();
            done.recorded_on = done.on;
        }
        line.completed = line.completed.filter(|_| line.placed.on < stop_after);
    }
    let found = forecasts(&history());
    assert!(found.len() > 50);
    assert_eq!(found, forecasts(&other));
}

#[test]
fn what_has_no_outcome_is_counted_and_not_scored() {
    let mut known = history();
    let scored = |history: &History| {
        walk(history, &plan()).scores(Method::Learned, Slice::All).unwrap().orders
    };
    let before = scored(&known);
    let forgotten = PastLine { completed: None, placed: fact(600), ..known.lines[0].clone() };
    let booked_late = PastLine {
        completed: Some(Fact { on: fact(501).on, recorded_on: fact(540).on }),
        placed: fact(500),
        ..known.lines[0].clone()
    };
    known.lines.extend([forgotten, booked_late]);
    let report = walk(&known, &plan());
    assert!(report.unresolved > 0 && report.were_here > 0);
    let after = report.scores(Method::Learned, Slice::All).unwrap().orders;
    assert!(after <= before + 1, "{before} {after}");
}

#[test]
fn the_last_forecast_day_leaves_a_whole_horizon() {
    let mut last = None;
    run(&history(), &plan(), &LearnSettings::default(), &mut |event| {
        if let Event::Forecasted(one) = event {
            last = last.max(Some(one.as_of));
        }
        ControlFlow::Continue(())
    })
    .unwrap();
    assert!(last.unwrap() < add_days(plan().end, -90).unwrap());
    let too_much = BacktestPlan { rho: 0.9, ..plan() };
    assert!(
        run(&history(), &too_much, &LearnSettings::default(), &mut |_| ControlFlow::Continue(()))
            .is_err()
    );
}
