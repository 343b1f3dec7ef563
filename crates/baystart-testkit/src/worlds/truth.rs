//! The forecast of somebody who knows the truth.

use baystart_core::{calendar::days_between, forecast::normal_cdf};
use jiff::civil::Date;

use super::World;

/// P(arrived by the end of `as_of` + c | not before `as_of`), c = 0 to `days` - 1, for a line of a
/// world without closures: the rounded log-normal lead time, given its age.
#[must_use]
pub fn truth_cdf(world: &World, line: usize, as_of: Date, days: usize) -> Vec<f64> {
    let (Some((median, sigma)), Some(past)) =
        (world.truth.get(line), world.history.lines.get(line))
    else {
        return vec![0.0; days];
    };
    // 1 - F(t), from the upper tail so that old orders keep their digits.
    let survival = |t: i64| normal_cdf(-((t as f64 + 0.5) / median).ln() / sigma);
    let age = days_between(past.placed.on, as_of);
    let before = if age > 0 { survival(age - 1) } else { 1.0 };
    (0..days as i64).map(|c| 1.0 - survival(age + c) / before).collect()
}
