//! Values from outside the project; the source stands beside each.

use super::{super::*, source};

fn from_masses(masses: &[(usize, f64)], days: usize) -> Source {
    let cdf = (0..days).map(|s| masses.iter().filter(|(day, _)| *day <= s).map(|(_, p)| p).sum());
    source(0, cdf.collect())
}

/// Mean of the start in grid steps by the trapezoid rule on 1 - G.
fn mean_steps(start_cdf: &[f64]) -> f64 {
    start_cdf.iter().map(|here| 1.0 - here).sum::<f64>() - 0.5 * (1.0 - start_cdf[0])
}

/// Source: the project's list of check values, run and worked by hand.
#[test]
fn maximum_of_three_discrete_arrivals() {
    let sources = [
        from_masses(&[(10, 0.5), (12, 0.3), (20, 0.2)], 31),
        from_masses(&[(8, 0.6), (15, 0.4)], 31),
        from_masses(&[(11, 0.25), (12, 0.5), (30, 0.25)], 31),
    ];
    let forecast = forecast(&sources, 31);
    for (day, value) in [(10, 0.0), (11, 0.075), (12, 0.36), (15, 0.6), (20, 0.75), (30, 1.0)] {
        assert!((forecast.startable_by(day) - value).abs() < 1e-14, "day {day}");
    }
    let mean: f64 = forecast.start_cdf().iter().map(|here| 1.0 - here).sum();
    assert!((mean - 18.345).abs() < 1e-12, "{mean}");
    assert_eq!(forecast.quantile(0.75), Some(20));
    assert_eq!(forecast.quantile(0.8), Some(30));
    // By hand: the third is last with the .25 of day 30, and on days 11 and 12 as below.
    let third = 0.25 + 0.25 * 0.6 * 0.5 + 0.5 * 0.6 * (0.5 + 0.3 / 2.0);
    assert!((forecast.sources()[2].gating - third).abs() < 1e-14);
    // By hand: the first two reach .8 * 1 on day 15.
    assert_eq!(forecast.sources()[2].start_80_if_here, Some(15));
    // By hand: the larger of the first two is 10, 12, 15 or 20 with .3, .18, .32 and .2: 13.96 in the mean.
    assert!((forecast.sources()[2].days_gained - (18.345 - 13.96)).abs() < 1e-12);
}

/// Source: arithmetic; .8^30 = .001238.
#[test]
fn thirty_parts_each_inside_its_own_80_percent_date() {
    let sources = vec![source(0, vec![0.0, 0.8, 1.0]); 30];
    let forecast = forecast(&sources, 3);
    assert!((forecast.startable_by(1) - 0.001_237_940_039_285_380_3).abs() < 1e-16);
    assert_eq!(forecast.sources()[0].arrival_80, Some(1));
    assert_eq!(forecast.quantile(0.5), Some(2));
}

/// Source: the project's list of check values (run): mean H30 = 3.9949871309, P80 4.9048541224.
#[test]
fn maximum_of_thirty_exponentials() {
    let step = 0.01;
    let days = 5_000;
    let cdf: Vec<f64> = (0..days).map(|s| 1.0 - (-step * f64::from(s)).exp()).collect();
    let start_cdf = start_cdf(&vec![source(0, cdf); 30], days as usize);
    let mean = mean_steps(&start_cdf) * step;
    assert!((mean - 3.994_987_130_9).abs() < 1e-9, "{mean}");
    let above = first_reaching(&start_cdf, 0.8).unwrap();
    let (low, high) = (start_cdf[above - 1], start_cdf[above]);
    let p80 = step * ((above - 1) as f64 + (0.8 - low) / (high - low));
    assert!((p80 - 4.904_854_122_4).abs() < 1e-5, "{p80}");
}

/// Normal distribution function on a grid, by Simpson's rule on its density.
fn normal_cdf(mean: f64, sd: f64, first: f64, step: f64, days: usize) -> Vec<f64> {
    let density = |x: f64| {
        let z = (x - mean) / sd;
        (-0.5 * z * z).exp() / (sd * (2.0 * std::f64::consts::PI).sqrt())
    };
    let mut cdf = vec![0.0];
    for s in 1..days {
        let x = first + step * s as f64;
        let slice = density(x - step) + 4.0 * density(x - step / 2.0) + density(x);
        cdf.push(cdf[s - 1] + slice * step / 6.0);
    }
    cdf
}

/// Source: Clark 1961 by the project's list of check values (formula from memory, confirmed by 10^7
/// draws): mean 13.152194, sd 3.155315. P(first > second) = Phi(-.4) = .3445782584 (scipy 1.17.1).
#[test]
fn maximum_of_two_normals() {
    let (first, step, days) = (-25.0, 0.01, 8_000);
    let sources = [
        source(0, normal_cdf(10.0, 3.0, first, step, days)),
        source(0, normal_cdf(12.0, 4.0, first, step, days)),
    ];
    let forecast = forecast(&sources, days);
    let mean = first + step * mean_steps(forecast.start_cdf());
    assert!((mean - 13.152_194).abs() < 1e-6, "{mean}");
    let mut variance = -step * step / 12.0;
    for (s, pair) in forecast.start_cdf().windows(2).enumerate() {
        let middle = first + step * (s as f64 + 0.5);
        variance += (pair[1] - pair[0]) * (middle - mean).powi(2);
    }
    assert!((variance.sqrt() - 3.155_315).abs() < 1e-6, "{}", variance.sqrt());
    let gating = forecast.sources()[0].gating;
    assert!((gating - 0.344_578_258_4).abs() < 1e-6, "{gating}");
}
