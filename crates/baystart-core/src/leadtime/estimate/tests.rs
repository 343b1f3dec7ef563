#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use proptest::prelude::*;

use super::{fixtures::*, *};
use crate::leadtime::DayLaw;

const ALONE: Strength = Strength { orders: 0.0, tail_exponent: 1.0 };

fn seen(entry_day: Option<u32>, day: u32, event: bool) -> Observation {
    Observation { entry_day, day, event, weight: 1.0 }
}

fn counts(observations: &[Observation]) -> Counts {
    let mut counts = Counts::default();
    for observation in observations {
        counts.add(observation);
    }
    counts
}

fn parent() -> DayLaw {
    DayLaw::log_logistic(20, 4)
}

/// S(t) of a law for t = 0, 1, ...
fn survival(law: &DayLaw, days: usize) -> Vec<f64> {
    law.conditional(0, days).iter().map(|arrived| 1.0 - arrived).collect()
}

/// On days on which nobody is at risk yet (delayed entries) the parent stands, so it is one in which
/// nothing happens.
fn kaplan_meier(counts: &Counts, days: usize) -> Vec<f64> {
    let nothing_happens = DayLaw::from_hazards(vec![0.0; 1_100], 0.1).unwrap();
    survival(&posterior_law(&nothing_happens, &counts.at_risk(None, 1.0), ALONE), days)
}

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() < tolerance, "{found} against {wanted}");
}

/// Days and censoring of the 6-MP arm of Freireich et al. 1963, + = censored.
fn freireich() -> Vec<Observation> {
    "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
        .split(' ')
        .map(|word| {
            let day = word.trim_end_matches('+').parse().unwrap();
            seen(None, day, !word.ends_with('+'))
        })
        .collect()
}

/// Source: published data; run in lifelines, statsmodels, scikit-survival and scipy (checks.md).
#[test]
fn freireich_gives_the_published_survival_and_greenwood_errors() {
    let counts = counts(&freireich());
    let survival = kaplan_meier(&counts, 36);
    let shown = greenwood(&counts.at_risk(None, 1.0));
    for (day, s, error) in [
        (6, 0.857_143, 0.076_360),
        (7, 0.806_723, 0.086_935),
        (10, 0.752_941, 0.096_350),
        (13, 0.690_196, 0.106_815),
        (16, 0.627_451, 0.114_054),
        (22, 0.537_815, 0.128_234),
        (23, 0.448_179, 0.134_591),
    ] {
        close(survival[day], s, 1e-6);
        close(shown[day].0, s, 1e-6);
        close(shown[day].1, error, 1e-6);
    }
    let reaches = |p: f64| survival.iter().position(|s| 1.0 - s >= p).unwrap();
    assert_eq!((reaches(0.5), reaches(0.25)), (23, 13), "median and lower quartile");
}

/// Source: run (checks.md), S(t) / S(10) of the same data.
#[test]
fn freireich_given_more_than_ten_days() {
    let law = posterior_law(&parent(), &counts(&freireich()).at_risk(None, 1.0), ALONE);
    let given = law.conditional(11, 20);
    for (day, s) in [(13, 0.916_667), (16, 0.833_333), (22, 0.714_286), (23, 0.595_238)] {
        close(1.0 - given[day - 11], s, 1e-6);
    }
}

/// Source: read in lifelines' tests, and run (checks.md).
#[test]
fn a_delayed_entry_is_at_risk_on_later_days_only() {
    let rows = [(Some(1), 2), (Some(2), 10), (Some(4), 5), (Some(0), 4), (Some(0), 3)];
    let rows: Vec<_> = rows.iter().map(|(entry, day)| seen(*entry, *day, true)).collect();
    let s = kaplan_meier(&counts(&rows), 11);
    for (day, wanted) in [(2, 2.0 / 3.0), (3, 4.0 / 9.0), (4, 2.0 / 9.0), (5, 1.0 / 9.0), (10, 0.0)]
    {
        close(s[day], wanted, 1e-12);
    }
}

/// Source: read in a numerical library's manual, and run (checks.md): failure precedes censoring.
#[test]
fn an_event_comes_before_a_censoring_of_the_same_day() {
    let rows =
        [seen(None, 5, true), seen(None, 5, false), seen(None, 5, true), seen(None, 8, true)];
    let s = kaplan_meier(&counts(&rows), 9);
    close(s[5], 0.5, 1e-12);
    close(s[8], 0.0, 1e-12);
    let nothing = counts(&[seen(None, 3, false), seen(None, 3, false)]).at_risk(None, 1.0);
    assert!(greenwood(&nothing).iter().all(|(s, _)| *s == 1.0), "no event: the median is never");
}

/// Source: formula of Walker and Muliere 1997 from memory; run, two formulas agree (checks.md).
#[test]
fn the_beta_stacy_worked_example() {
    let uniform: Vec<f64> =
        (0..=10).map(|t| if t == 0 { 0.0 } else { 1.0 / f64::from(11 - t) }).collect();
    let prior = DayLaw::from_hazards(uniform, 1.0).unwrap();
    let rows = [(3, true), (4, false), (6, true), (6, true), (8, false)];
    let rows: Vec<_> = rows.iter().map(|(day, event)| seen(None, *day, *event)).collect();
    let at_risk = counts(&rows).at_risk(None, 1.0);
    let law = posterior_law(&prior, &at_risk, Strength { orders: 5.0, tail_exponent: 1.0 });
    let s = survival(&law, 11);
    let wanted = [0.95, 0.9, 0.75, 0.7, 0.641_667, 0.35, 0.291_667, 0.233_333, 0.116_667, 0.0];
    for (found, wanted) in s[1..].iter().zip(wanted) {
        close(*found, wanted, 1e-6);
    }
    let barely = posterior_law(&prior, &at_risk, Strength { orders: 1e-13, tail_exponent: 1.0 });
    for (found, wanted) in survival(&barely, 9).iter().zip(kaplan_meier(&counts(&rows), 9)) {
        close(*found, wanted, 1e-12);
    }
}

fn rows_of(data: &[(u32, u32, u32)]) -> Vec<Observation> {
    let mut rows = Vec::new();
    for (day, events, censored) in data {
        rows.extend((0..*events).map(|_| seen(None, *day, true)));
        rows.extend((0..*censored).map(|_| seen(None, *day, false)));
    }
    rows
}

fn agrees(rows: &[Observation], wanted: &[(u32, f64, f64)]) {
    let counts = counts(rows);
    let last = wanted.iter().map(|(day, _, _)| *day as usize + 1).max().unwrap();
    let found = kaplan_meier(&counts, last);
    let shown = greenwood(&counts.at_risk(None, 1.0));
    for (day, s, error) in wanted {
        close(found[*day as usize], *s, 1e-12);
        close(shown[*day as usize].0, *s, 1e-12);
        close(shown[*day as usize].1, *error, 1e-12);
    }
}

/// Source: see fixtures; run with lifelines.
#[test]
fn three_datasets_of_a_library_agree_to_1e_12() {
    assert_eq!(rows_of(WALTONS).len(), 163);
    agrees(&rows_of(WALTONS), WALTONS_SURVIVAL);
    assert_eq!(rows_of(LUNG).len(), 228);
    agrees(&rows_of(LUNG), LUNG_SURVIVAL);
    let entered: Vec<_> =
        PSYCHIATRIC.iter().map(|(entry, exit, event)| seen(Some(*entry), *exit, *event)).collect();
    agrees(&entered, PSYCHIATRIC_SURVIVAL);
}

#[test]
fn past_the_last_age_at_risk_the_parent_stands() {
    let at_risk = counts(&freireich()).at_risk(None, 1.0);
    let law = posterior_law(&parent(), &at_risk, ALONE);
    for day in [36, 50, 400, 5_000] {
        assert_eq!(law.hazard(day), parent().hazard(day));
    }
    assert_eq!(at_risk.effective_number(36), 0.0);
    assert_eq!(at_risk.effective_number(35), 1.0);
    assert_eq!(at_risk.effective_number(0), 21.0);
}

#[test]
fn without_evidence_the_parent_stands_in_days_and_in_ratio() {
    let strength = Strength { orders: 8.0, tail_exponent: 0.5 };
    assert_eq!(posterior_law(&parent(), &AtRisk::default(), strength), parent());
    for quote in [0, 1, 7, 30, 120, 800] {
        let default = DayLaw::log_logistic(quote, 4);
        let law = ratio::RatioLaw::log_logistic(4).moved_by(&AtRisk::default(), strength);
        let law = law.in_days(quote);
        for day in 0..1_200 {
            close(law.hazard(day), default.hazard(day), 1e-9);
        }
    }
}

#[test]
fn ten_thousand_days_old_and_still_an_answer() {
    let all_came = counts(&[seen(None, 4, true), seen(None, 4, true)]);
    for strength in [ALONE, Strength { orders: 3.0, tail_exponent: 1.0 }] {
        let law = posterior_law(&parent(), &all_came.at_risk(None, 1.0), strength);
        let given = law.conditional(10_000, 3_000);
        assert!(given[0] > 0.0 && given[0] < 0.5 && given[2_999] > given[0]);
    }
}

#[test]
fn evidence_of_one_quote_speaks_for_another_in_ratio() {
    // A supplier who takes 1.5 times its quote of 40 days, give or take a tenth.
    let mut bins = Counts::default();
    for k in 0..200_u32 {
        ratio::add(&mut bins, 40, 54 + k % 13, true, 1.0);
    }
    let strength = Strength { orders: 1.0, tail_exponent: 0.5 };
    let law = ratio::RatioLaw::log_logistic(4).moved_by(&bins.at_risk(None, 1.0), strength);
    let quantile = |quote: u32, p: f64| {
        let cdf = law.in_days(quote).conditional(0, 400);
        cdf.iter().position(|arrived| *arrived >= p).unwrap()
    };
    assert_eq!((quantile(40, 0.5), quantile(80, 0.5), quantile(20, 0.5)), (60, 120, 30));
    assert!((54..=66).contains(&quantile(40, 0.05)) && (54..=66).contains(&quantile(40, 0.95)));
}

fn observation() -> impl Strategy<Value = Observation> {
    (prop::option::of(0_u32..40), 0_u32..60, any::<bool>(), 1_u32..8).prop_map(
        |(entry_day, day, event, eighths)| Observation {
            entry_day,
            day,
            event,
            weight: f64::from(eighths) / 8.0,
        },
    )
}

/// The same estimator by its definition: for each day, a look at each observation.
fn by_definition(rows: &[Observation], prior: &[f64], c: f64, g: f64) -> Vec<f64> {
    let mut survival_before = 1.0_f64;
    let mut hazards = Vec::new();
    let waits = |row: &&Observation, t: u32| row.entry_day.is_none_or(|e| e < t) && row.day >= t;
    let weight = |t| -> f64 { rows.iter().filter(|row| waits(row, t)).map(|row| row.weight).sum() };
    let most = (0..70).map(weight).fold(0.0, f64::max);
    for (t, h0) in (0_u32..).zip(prior) {
        let at_risk = |row: &&Observation| waits(row, t);
        let n = weight(t);
        let happened = |row: &&Observation| at_risk(row) && row.event && row.day == t;
        let d: f64 = rows.iter().filter(happened).map(|row| row.weight).sum();
        let w = c * survival_before.powf(g);
        let supported = h0 + most / (most + c);
        let mixed = if w + n > 0.0 { (w * h0 + d) / (w + n) } else { *h0 };
        hazards.push(if n > 0.0 { mixed.min(supported) } else { mixed });
        survival_before *= 1.0 - h0;
    }
    hazards
}

proptest! {
    #[test]
    fn the_estimator_is_its_definition(
        rows in prop::collection::vec(observation(), 0..40),
        c in prop::sample::select(vec![0.0, 0.5, 4.0, 30.0]),
        g in prop::sample::select(vec![0.0, 0.3, 0.5, 1.0]),
    ) {
        let prior: Vec<f64> = (0..70).map(|t| parent().hazard(t)).collect();
        let wanted = by_definition(&rows, &prior, c, g);
        let strength = Strength { orders: c, tail_exponent: g };
        let found = posterior(&prior, 0, &counts(&rows).at_risk(None, 1.0), strength);
        for (found, wanted) in found.iter().zip(wanted) {
            prop_assert!((found - wanted).abs() < 1e-12, "{} against {}", found, wanted);
        }
    }

    #[test]
    fn a_parent_leaves_its_childs_evidence_out(
        child in prop::collection::vec(observation(), 0..20),
        others in prop::collection::vec(observation(), 0..20),
        gone in observation(),
    ) {
        let mut parent = counts(&others);
        parent.merge(&counts(&child), 1.0);
        parent.add(&gone);
        parent.remove(&gone);
        let left = parent.at_risk(Some(&counts(&child)), 1.0);
        let wanted = counts(&others).at_risk(None, 1.0);
        for t in 0..60 {
            prop_assert!((left.weight(t) - wanted.weight(t)).abs() < 1e-12);
            let events = |seen: &AtRisk| seen.events.get(t).copied().unwrap_or(0.0);
            prop_assert!((events(&left) - events(&wanted)).abs() < 1e-12);
        }
    }

    #[test]
    fn a_ratio_observation_taken_away_leaves_nothing(
        quote in 0_u32..200, day in 0_u32..900, event in any::<bool>(),
    ) {
        let mut bins = Counts::default();
        ratio::add(&mut bins, quote, day, event, 1.0);
        let whole = bins.at_risk(None, 1.0);
        // A censoring inside the first bin is at risk in a part of it.
        let first_bin = !event && 16 * (2 * day + 1) < 2 * quote;
        prop_assert!(whole.weight(0) <= 1.0 + 1e-9);
        prop_assert!(first_bin || whole.weight(0) > 1.0 - 1e-9, "{}", whole.weight(0));
        ratio::add(&mut bins, quote, day, event, -1.0);
        prop_assert!(bins.at_risk(None, 1.0).at_risk.iter().all(|n| *n == 0.0));
    }

    #[test]
    fn a_ratio_observation_is_at_risk_after_its_entry_only(
        quote in 1_u32..200, entry in 0_u32..400, more in 1_u32..400, event in any::<bool>(),
    ) {
        let mut bins = Counts::default();
        let seen = Observation { entry_day: Some(entry), day: entry + more, event, weight: 1.0 };
        ratio::add_seen(&mut bins, quote, &seen);
        let found = bins.at_risk(None, 1.0);
        let entered = ratio::bin_at_age(quote, entry as usize + 1);
        for bin in 0..entered {
            prop_assert!(found.weight(bin) < 1e-9, "{} in {}", found.weight(bin), bin);
        }
        let seen_whole = Observation { entry_day: None, ..seen };
        let mut whole = Counts::default();
        ratio::add_seen(&mut whole, quote, &seen_whole);
        let whole = whole.at_risk(None, 1.0);
        for bin in entered + 1..300 {
            prop_assert!((found.weight(bin) - whole.weight(bin)).abs() < 1e-9);
        }
        let never = Observation { day: entry, ..seen };
        let mut nothing = Counts::default();
        ratio::add_seen(&mut nothing, quote, &never);
        prop_assert!(nothing.at_risk(None, 1.0).at_risk.iter().all(|n| *n == 0.0));
    }
}

/// Three parts that left together and came on their ninth day are one piece of news, whatever is
/// asked: of an order that has been underway for eight days the parent says that it comes today with
/// h0(8), and one piece against c = 8 orders adds 1 / (1 + 8) = .111 at most. Three pieces add 3 / 11 =
/// .273. Without the bound the prior has faded to 8 sqrt(S0(7)) = .97 orders by then, and three events
/// of three make the hazard .79: 33 % by one day, 96 % by the next, of which three quarters were
/// said to be borrowed.
#[test]
fn thin_evidence_never_looks_sure() {
    let transit = DayLaw::log_logistic(3, 4);
    let strength = Strength { orders: 8.0, tail_exponent: 0.5 };
    let three = counts(&[seen(None, 8, true); 3]);
    let parent = transit.hazard(8);
    let hazard =
        |scale: f64| posterior_law(&transit, &three.at_risk(None, scale), strength).hazard(8);
    close(hazard(1.0), parent + 3.0 / 11.0, 1e-12);
    close(hazard(1.0 / 3.0), parent + 1.0 / 9.0, 1e-12);
    let prior: f64 = 8.0 * (1.0 - transit.conditional(0, 8)[7]).sqrt();
    assert!((prior * parent + 3.0) / (prior + 3.0) > 0.75, "what was said before: {prior}");
}

proptest! {
    #[test]
    fn no_age_holds_more_mass_than_the_parent_and_what_the_evidence_supports(
        rows in prop::collection::vec(observation(), 0..40),
        c in prop::sample::select(vec![0.5, 4.0, 30.0]),
        g in prop::sample::select(vec![0.0, 0.5, 1.0]),
    ) {
        let seen = counts(&rows).at_risk(None, 1.0);
        let most = seen.at_risk.iter().copied().fold(0.0, f64::max);
        let law = posterior_law(&parent(), &seen, Strength { orders: c, tail_exponent: g });
        for age in 0..70 {
            let mut before = 0.0;
            for (ahead, arrived) in law.conditional(age, 5).iter().enumerate() {
                let supported = parent().hazard(age + ahead) + most / (most + c);
                prop_assert!(arrived - before <= supported + 1e-12);
                before = *arrived;
            }
        }
    }
}

/// Sources: Waltons, lung and psychiatric data, as lifelines carries them (checks.md). Smoothing moves
/// no mass between what came and what did not, and moves the curve by little.
#[test]
fn smoothing_keeps_what_came_and_stays_near_the_published_curves() {
    for (name, rows, near) in [
        ("6-MP", freireich(), 0.07),
        ("waltons", rows_of(WALTONS), 0.07),
        ("lung", rows_of(LUNG), 0.03),
    ] {
        let counts = counts(&rows);
        let days = rows.iter().map(|row| row.day).max().unwrap() as usize;
        let seeing = Seeing { scale: Scale::Days, smoothed: true, growth: 0.0 };
        let (plain, smooth) = (counts.at_risk(None, 1.0), counts.seen(0, None, 1.0, seeing));
        let sum = |seen: &AtRisk| seen.events.iter().sum::<f64>();
        close(sum(&plain), sum(&smooth), 1e-9);
        let nothing = DayLaw::from_hazards(vec![0.0; 2_000], 0.1).unwrap();
        let curve = |seen: &AtRisk| survival(&posterior_law(&nothing, seen, ALONE), days);
        let (plain, smooth) = (curve(&plain), curve(&smooth));
        let apart: f64 = plain.iter().zip(&smooth).map(|(a, b)| (a - b).abs()).sum();
        println!("{name}: {:.4} apart on a mean day of {days}", apart / days as f64);
        assert!(apart / (days as f64) < near, "{name}: {}", apart / days as f64);
    }
}
