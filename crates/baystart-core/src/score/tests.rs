#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::forecast::normal_cdf;

fn close(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() < tolerance, "{found} against {wanted}");
}

/// Source: run, scoringrules and properscoring (checks.md): 0.2336949772551 and 0.6024413576276 for
/// N(0, 1) at 0 and 1. Here on a grid of thousandths, each value at the middle of its cell.
#[test]
fn crps_of_a_normal_forecast() {
    let cdf: Vec<f64> =
        (0..20_000).map(|t| normal_cdf((f64::from(t) + 0.5) / 1_000.0 - 10.0)).collect();
    close(crps(&cdf, Some(10_000)) / 1_000.0, 0.233_694_977_255_109_13, 1e-6);
    close(crps(&cdf, Some(11_000)) / 1_000.0, 0.602_441_357_627_616_3, 1e-6);
}

/// Source: run, scoringrules (checks.md): ensemble 1 2 3 4 at 2.5 is .375; here in half days.
#[test]
fn crps_of_an_ensemble_and_of_no_date() {
    let cdf = [0.0, 0.0, 0.25, 0.25, 0.5, 0.5, 0.75, 0.75, 1.0];
    close(crps(&cdf, Some(5)) / 2.0, 0.375, 1e-15);
    assert_eq!(crps(&[0.5, 0.5], None), 0.5);
    assert_eq!(crps(&[0.0, 1.0, 1.0, 1.0], Some(3)), 2.0, "a point two days out");
}

/// Source: run (checks.md).
#[test]
fn pinball_and_interval_score() {
    let pairs = [(10.0, 12.0), (20.0, 18.0), (30.0, 33.0)];
    let mean: f64 = pairs.iter().map(|(y, q)| pinball(0.8, *q, *y)).sum::<f64>() / 3.0;
    close(mean, 0.866_666_7, 1e-7);
    assert_eq!(interval_score(0.2, 10.0, 25.0, 30.0), 65.0);
    assert_eq!(interval_score(0.2, 10.0, 25.0, 12.0), 15.0);
}

#[test]
fn a_stated_quantile_says_more_than_was_asked() {
    assert_eq!(stated_quantile(&[0.1, 0.6, 0.9], 0.5), Some((1, 0.6)));
    assert_eq!(stated_quantile(&[0.1, 0.6, 0.9], 0.95), None);
}

#[test]
fn a_calibrated_forecast_has_a_flat_histogram() {
    // Each outcome as often as it was said to come, the last past the grid.
    let cdf = [0.2, 0.2, 0.7, 0.95];
    let mut histogram = PitHistogram::default();
    let outcomes = [(Some(0), 20), (Some(2), 50), (Some(3), 25), (None, 5)];
    for (y, times) in outcomes {
        (0..times).for_each(|_| histogram.add(&cdf, y));
    }
    for share in histogram.shares() {
        close(share, 0.1, 1e-12);
    }
    close(mid_pit(&cdf, Some(2)), 0.45, 1e-15);
    let mut impossible = PitHistogram::default();
    impossible.add(&[0.0, 1.0], Some(0));
    assert_eq!(impossible.bins[0], 1.0);
}

/// Source: arithmetic by hand: clusters {1, 3}, {6}, {2, 2}; mean 2.8;
/// residual sums -1.6, 3.2, -1.6; sqrt(3/2 * 15.36) / 5 = .96.
#[test]
fn the_error_of_a_clustered_mean() {
    let mut mean = ClusteredMean::default();
    for (cluster, value) in [(1, 1.0), (1, 3.0), (2, 6.0), (3, 2.0), (3, 2.0)] {
        mean.add((cluster, 7), value);
    }
    let found = mean.estimate();
    close(found.mean, 2.8, 1e-15);
    close(found.standard_error, 0.96, 1e-12);
    assert_eq!((found.count, found.clusters), (5, 3));
    assert!(ClusteredMean::default().estimate().standard_error.is_nan());
}
