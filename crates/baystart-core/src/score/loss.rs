//! Proper scores: smaller is better.

/// Tolerance of "reaches p".
const QUANTILE_TOLERANCE: f64 = 1e-12;

/// The pinball loss of the stated `p` quantile `q` against the outcome `y`, in the unit of both:
/// p (y - q) if y is beyond, (1 - p) (q - y) otherwise.
#[must_use]
pub fn pinball(p: f64, q: f64, y: f64) -> f64 {
    if y >= q { p * (y - q) } else { (1.0 - p) * (q - y) }
}

/// The continuous ranked probability score on the day grid: sum over t of (F(t) - 1{t >= y})^2, in
/// days, over the days of the grid. An outcome of `None` lies past the grid.
#[must_use]
pub fn crps(cdf: &[f64], y: Option<usize>) -> f64 {
    let mut sum = 0.0;
    for (t, f) in cdf.iter().enumerate() {
        let arrived = if y.is_some_and(|y| t >= y) { 1.0 } else { 0.0 };
        sum += (f - arrived) * (f - arrived);
    }
    sum
}

/// The interval score of a central interval [low, high] that claims to miss with probability
/// `alpha`: its width, and 2 / alpha for each unit by which the outcome lies outside (Gneiting and
/// Raftery 2007).
#[must_use]
pub fn interval_score(alpha: f64, low: f64, high: f64, y: f64) -> f64 {
    (high - low) + 2.0 / alpha * ((low - y).max(0.0) + (y - high).max(0.0))
}

/// The first day whose stated probability reaches `p`, and that probability; `None` past the grid.
///
/// On a day grid F(q) exceeds p, so a calibrated forecast is hit as often as the *stated*
/// probability says, more often than p.
#[must_use]
pub fn stated_quantile(cdf: &[f64], p: f64) -> Option<(usize, f64)> {
    let day = cdf.partition_point(|f| *f < p - QUANTILE_TOLERANCE);
    cdf.get(day).map(|stated| (day, *stated))
}
