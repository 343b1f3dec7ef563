#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;

mod common_cause;
mod enumeration;
mod published;

fn source(offset_days: u32, cdf: Vec<f64>) -> Source {
    Source::new(offset_days, None, cdf).unwrap()
}

fn sum_of_parts(forecast: &Forecast) -> f64 {
    let gating: f64 = forecast.sources().iter().map(|source| source.gating).sum();
    gating + forecast.startable_today() + forecast.mass_without_date()
}

#[test]
fn nothing_to_wait_for_starts_today() {
    let forecast = forecast(&[], 5);
    assert_eq!(forecast.quantile(0.95), Some(0));
    assert_eq!(forecast.startable_today(), 1.0);
    assert_eq!(forecast.mass_without_date(), 0.0);
    assert_eq!(forecast.finish_quantile(0.8, 2, 10), Some(12));
}

#[test]
fn an_empty_axis_has_no_date() {
    let forecast = forecast(&[source(0, vec![])], 0);
    assert_eq!(forecast.quantile(0.5), None);
    assert_eq!(forecast.mass_without_date(), 1.0);
    assert_eq!(forecast.sources()[0].arrival_50, None);
    assert_eq!(sum_of_parts(&forecast), 1.0);
}

#[test]
fn a_source_without_a_date_is_named_by_what_it_costs() {
    let soon = source(0, vec![0.0, 1.0, 1.0]);
    let never = source(0, vec![0.0, 0.1, 0.2]);
    let forecast = forecast(&[soon, never], 3);
    assert_eq!(forecast.quantile(0.8), None);
    // Half of what has a date has it on day 1, half on day 2; without it all would on day 1.
    assert!((forecast.sources()[1].days_gained - 0.5).abs() < 1e-12);
    assert_eq!(forecast.sources()[1].start_80_if_here, Some(1));
    assert_eq!(forecast.sources()[0].start_80_if_here, None);
    assert!((forecast.mass_without_date() - 0.8).abs() < 1e-15);
    assert!((sum_of_parts(&forecast) - 1.0).abs() < 1e-15);
}

#[test]
fn a_late_stage_needs_its_parts_later() {
    let bumper = source(3, vec![0.0, 0.0, 0.0, 0.5, 1.0]);
    assert_eq!(bumper.here_when_needed(0), 0.5);
    assert_eq!(bumper.here_when_needed(9), 1.0);
    let far = source(u32::MAX, vec![0.0, 0.7]);
    assert_eq!(far.here_when_needed(0), 0.7, "past the end the last value stays");
    let forecast = forecast(&[bumper, far], 5);
    assert!((forecast.startable_today() - 0.35).abs() < 1e-15);
    assert!((forecast.stall(0) - 0.65).abs() < 1e-15);
    assert!((forecast.sources()[0].gating - 0.35).abs() < 1e-15);
    assert_eq!(forecast.sources()[1].gating, 0.0);
}

#[test]
fn values_that_are_no_distribution_are_refused() {
    let refused = |cdf: Vec<f64>| Source::new(0, None, cdf).unwrap_err().to_string();
    assert!(refused(vec![0.2, 1.1]).contains("day 1 is 1.1"));
    assert!(refused(vec![f64::NAN]).contains("day 0 is NaN"));
    assert!(refused(vec![0.5, 0.4]).contains("falls from 0.5 to 0.4 on day 1"));
    assert_eq!(source(0, vec![0.5, 0.5 - 1e-15, 1.0 + 1e-15]).cdf(), [0.5, 0.5, 1.0]);
}

/// More sources on one day than the largest rule is exact for.
#[test]
fn three_hundred_equal_sources_share_equally() {
    let sources = vec![source(0, vec![0.0, 1.0 - 1e-4, 1.0]); 300];
    let forecast = forecast(&sources, 3);
    for one in forecast.sources() {
        assert!((one.gating - 1.0 / 300.0).abs() < 1e-12, "{}", one.gating);
    }
    assert!((sum_of_parts(&forecast) - 1.0).abs() < 1e-10);
}

/// The shares against the defining integral, written out and done with the largest rule.
#[test]
fn the_chosen_rules_are_as_good_as_the_largest() {
    let days = 60;
    let sources: Vec<Source> = (0..40)
        .map(|k| {
            let scale = 2.0 + f64::from(k % 7) * 3.0;
            let cdf = (0..days).map(|s| 1.0 - (1.0 + f64::from(s)).powf(-8.0 / scale)).collect();
            source(k % 5, cdf)
        })
        .collect();
    let forecast = forecast(&sources, days as usize);
    let here = |k: usize, s: usize| sources[k].here_when_needed(s);
    for (j, one) in forecast.sources().iter().enumerate() {
        let mut share = 0.0;
        for s in 1..days as usize {
            for (u, weight) in &quadrature::rules()[63].points {
                let mut others = 1.0;
                for k in (0..sources.len()).filter(|k| *k != j) {
                    others *= here(k, s - 1) + u * (here(k, s) - here(k, s - 1));
                }
                share += weight * others * (here(j, s) - here(j, s - 1));
            }
        }
        assert!((one.gating - share).abs() < 1e-11, "source {j}: {} against {share}", one.gating);
    }
}
