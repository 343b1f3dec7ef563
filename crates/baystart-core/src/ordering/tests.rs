#![allow(clippy::unwrap_used)]
use super::*;
use crate::quantity::Quantity;

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} is not {b}");
}

/// Published: textbook excerpts (checks.md, "Ordering").
#[test]
fn reorder_points_of_textbooks() {
    // Demand in the lead time N(50, 5) at z = 1.88.
    close(reorder_point_normal(50.0, 5.0, 1.0, 0.0, 1.88), 59.40);
    // 60 a week, lead time N(6, 2) weeks, z = 1.28.
    close(reorder_point_normal(60.0, 0.0, 6.0, 2.0, 1.28), 513.6);
    // 30 a day, sd 5, lead time 10, z = 1.65; rounded in the text.
    assert!((reorder_point_normal(30.0, 5.0, 10.0, 0.0, 1.65) - 326.09).abs() < 0.005);
}

/// Published: Snyder and Shen, Examples 3.1 and 4.3, at second hand (checks.md).
#[test]
fn order_quantity_and_newsvendor_of_a_textbook() {
    close(economic_order_quantity(8.0, 0.225, 1300.0), 304.046_780_026_436_8);
    close(newsvendor_normal(0.18, 0.70, 50.0, 8.0), 56.603_955_927_433_89);
}

/// By hand: two outcomes a day, lead time 1 or 2 days with even chances.
#[test]
fn demand_in_a_short_lead_time_by_hand() {
    let daily = [Quantity::ZERO, Quantity::whole(2)];
    let (cdf, step) = demand_in_lead_time(&daily, &[0.0, 0.5, 0.5]).unwrap();
    assert_eq!(step, Quantity::whole(2));
    // P(0) = .5 * .5 + .5 * .25, P(2) = .5 * .5 + .5 * .5, P(4) = .5 * .25.
    for (value, expected) in cdf.iter().zip([0.375, 0.875, 1.0]) {
        close(*value, expected);
    }
    for (service, point) in [(0.3, 0), (0.375, 0), (0.8, 2), (0.875, 2), (0.9, 4), (1.0, 4)] {
        let found = reorder_point_empirical(&daily, &[0.0, 0.5, 0.5], service).unwrap();
        assert_eq!(found, Quantity::whole(point), "{service}");
    }
}

/// Against the binomial distribution, summed term by term here: 10 days, one issue of 1 on every
/// fourth day.
#[test]
fn demand_of_independent_days_is_binomial() {
    let mut daily = vec![Quantity::ZERO; 3];
    daily.push(Quantity::whole(1));
    let mut lead = vec![0.0; 11];
    lead[10] = 1.0;
    let (cdf, _) = demand_in_lead_time(&daily, &lead).unwrap();
    let (mut sum, mut term) = (0.0, 0.75_f64.powi(10));
    for (k, value) in cdf.iter().enumerate() {
        sum += term;
        close(*value, sum);
        let k = f64::from(u32::try_from(k).unwrap());
        term *= (10.0 - k) / (k + 1.0) * 0.25 / 0.75;
    }
    assert_eq!(cdf.len(), 11);
}

/// A coarse grid never covers less than the exact one would.
#[test]
fn rounding_is_up() {
    let daily: Vec<Quantity> = (0..20).map(|i| Quantity::from_milli(i * 7_919)).collect();
    let mut lead = vec![0.0; 61];
    lead[60] = 1.0;
    let point = reorder_point_empirical(&daily, &lead, 0.95).unwrap();
    // Mean 60 * 75.2305; the sum of 60 days is nearly normal with sd sqrt(60) * 45.66.
    let normal = reorder_point_normal(75.230_5, 45.662, 60.0, 0.0, 1.644_853_6);
    let found = point.milli() as f64 / 1000.0;
    assert!(found > normal * 0.99 && found < normal * 1.02, "{found} {normal}");
}

#[test]
fn nothing_to_reckon_from() {
    assert_eq!(demand_in_lead_time(&[], &[1.0]), Err(DemandError::NoDays));
    let day = [Quantity::whole(1)];
    assert_eq!(demand_in_lead_time(&day, &[]), Err(DemandError::NoLeadTime));
    assert_eq!(demand_in_lead_time(&day, &[-0.5, 1.0]), Err(DemandError::NoLeadTime));
}
