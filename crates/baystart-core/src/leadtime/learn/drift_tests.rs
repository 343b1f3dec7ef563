#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use jiff::civil::{Date, date};

use super::*;
use crate::{
    calendar::{HORIZON_DAYS, add_days},
    leadtime::{
        OpenSupply, SupplyKeys,
        history::{Fact, History, PastLine},
    },
};

const AS_OF: Date = date(2026, 6, 1);
const YEARS: f64 = 3.0;

fn day(n: i64) -> Date {
    add_days(AS_OF, n).unwrap()
}

fn fact(n: i64) -> Fact {
    Fact { on: day(n), recorded_on: day(n) }
}

/// Ten suppliers, an order each a week for three years, 24 to 36 days at the as-of date's pace;
/// `slowness(supplier, years ago)` multiplies. Known to be open where they have not come.
fn history(slowness: impl Fn(u32, f64) -> f64) -> History {
    let mut lines = Vec::new();
    for supplier in 0..10 {
        for week in 1..(YEARS * 52.0) as i64 {
            let placed = -7 * week + i64::from(supplier % 7);
            let years_ago = -placed as f64 / 365.25;
            let base = 24.0 + ((week * 5 + i64::from(supplier) * 3) % 13) as f64;
            let done = placed + (base * slowness(supplier, years_ago)).round() as i64;
            lines.push(PastLine {
                supplier,
                offer: supplier,
                order: None,
                quoted_days: Some(20),
                placed: fact(placed),
                taken_over_on: None,
                rejected: false,
                promises: vec![],
                despatched: None,
                completed: (done < 0).then(|| fact(done)),
                cancelled: None,
                contacts: vec![],
            });
        }
    }
    History { lines, ..History::default() }
}

fn learn(history: &History, drift_half_life_days: Option<f64>) -> LearnedLaws {
    let settings = LearnSettings {
        half_life_days: Some(730.0),
        drift_half_life_days,
        tuned: false,
        ..LearnSettings::default()
    };
    LearnedLaws::learn(history, AS_OF, &settings)
}

fn quantile(laws: &LearnedLaws, supplier: u32, p: f64) -> i64 {
    let keys = SupplyKeys { supplier: Some(supplier), offer: Some(supplier), order: None };
    let supply =
        OpenSupply { placed_on: AS_OF, quoted_days: Some(20), promise: None, despatched_on: None };
    let law = laws.arrival(keys, &supply, AS_OF, HORIZON_DAYS).unwrap();
    crate::calendar::days_between(AS_OF, law.quantile(p).unwrap())
}

#[test]
fn a_shop_whose_suppliers_all_slow_down_is_followed_without_lagging() {
    let slower = history(|_, years_ago| (-0.2 * years_ago).exp());
    let laws = learn(&slower, Some(120.0));
    let growth = laws.growth_per_year();
    assert!((0.15..0.3).contains(&growth), "22 % a year: {growth}");
    assert!(laws.drifting().is_empty(), "nobody beyond that: {:?}", laws.drifting());
    // True: 30 at 50 %, 34 at 80 %.
    assert!((29..=31).contains(&quantile(&laws, 3, 0.5)), "{}", quantile(&laws, 3, 0.5));
    assert!((33..=36).contains(&quantile(&laws, 3, 0.8)), "{}", quantile(&laws, 3, 0.8));
    let blind = learn(&slower, None);
    assert_eq!(blind.growth_per_year(), 0.0);
    assert!(quantile(&blind, 3, 0.5) < 28, "{}", quantile(&blind, 3, 0.5));

    let faster = learn(&history(|_, years_ago| (0.2 * years_ago).exp()), Some(120.0));
    let growth = faster.growth_per_year();
    assert!((-0.25..-0.1).contains(&growth), "18 % less a year: {growth}");
}

#[test]
fn one_supplier_that_goes_bad_makes_no_trend() {
    let bad = |supplier, years_ago| if supplier == 0 && years_ago < 1.0 { 2.0 } else { 1.0 };
    let known = history(bad);
    let laws = learn(&known, Some(120.0));
    assert_eq!(laws.growth_per_year(), 0.0);
    assert_eq!(laws.drifting().keys().collect::<Vec<_>>(), [&0]);
    // True: 60 at 50 %, 68 at 80 %; the other suppliers' 30 days still pull.
    let blind = learn(&known, None);
    for p in [0.5, 0.8] {
        let (found, unwatched) = (quantile(&laws, 0, p), quantile(&blind, 0, p));
        assert!(found > unwatched && found <= 72, "{p}: {found}, unwatched {unwatched}");
    }
    assert!((29..=31).contains(&quantile(&laws, 3, 0.5)), "{}", quantile(&laws, 3, 0.5));
}

#[test]
fn nothing_is_found_where_nothing_changed() {
    let laws = learn(&history(|_, _| 1.0), Some(120.0));
    assert_eq!(laws.growth_per_year(), 0.0);
    assert!(laws.drifting().is_empty());
}

#[test]
fn a_receipt_in_a_shop_that_slows_down_counts_as_in_a_fresh_fit() {
    let mut slower = history(|_, years_ago| (-0.2 * years_ago).exp());
    let mut laws = learn(&slower, Some(120.0));
    let at = slower.lines.iter().position(|line| line.completed.is_none()).unwrap();
    let before = slower.lines[at].clone();
    let after = PastLine { completed: Some(fact(-1)), ..before.clone() };
    assert!(laws.renew(Some(&before), Some(&after)));
    slower.lines[at] = after;
    let fresh = learn(&slower, Some(120.0));
    assert_eq!(laws.growth_per_year(), fresh.growth_per_year());
    for supplier in [before.supplier, (before.supplier + 1) % 10] {
        let keys = SupplyKeys { supplier: Some(supplier), offer: Some(supplier), order: None };
        let supply = OpenSupply {
            placed_on: AS_OF,
            quoted_days: Some(20),
            promise: None,
            despatched_on: None,
        };
        let found = laws.arrival(keys, &supply, AS_OF, HORIZON_DAYS).unwrap();
        let wanted = fresh.arrival(keys, &supply, AS_OF, HORIZON_DAYS).unwrap();
        for (found, wanted) in found.cdf().iter().zip(wanted.cdf()) {
            assert!((found - wanted).abs() < 1e-9, "{found} against {wanted}");
        }
    }
}
