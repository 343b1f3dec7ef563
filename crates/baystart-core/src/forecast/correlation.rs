//! How late together a supplier's orders are, from a shop's own history.

use std::collections::BTreeMap;

use super::RHO_MAX;

/// How one past order came out: the normal score of its lead time under the law that was forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LateTogether {
    /// The supplier.
    pub supplier: u32,
    /// Which spell it belongs to: orders of one supplier and one spell (say, the month in which they
    /// were placed) were open together.
    pub spell: u32,
    /// `Phi^-1` of the mid-distribution value F(T - 1) + (F(T) - F(T - 1)) / 2; positive: late.
    pub score: f64,
}

/// Scores beyond this are cut: one wild order must not make a correlation.
const SCORE_MAX: f64 = 3.0;

/// The correlation between orders of one supplier that are open together, shrunk to `default`.
///
/// In each spell of m >= 2 orders the mean product of two scores counts as m - 1 comparisons; the
/// supplier's own mean is taken off first, so that a supplier who is always late does not look like
/// one who is late together. The estimate is the mean over all comparisons and `prior_comparisons`
/// of the default, within 0 to [`RHO_MAX`].
#[must_use]
pub fn estimate_rho(orders: &[LateTogether], default: f64, prior_comparisons: f64) -> f64 {
    let mut means: BTreeMap<u32, (f64, f64)> = BTreeMap::new();
    for order in orders {
        let (sum, count) = means.entry(order.supplier).or_default();
        *sum += order.score.clamp(-SCORE_MAX, SCORE_MAX);
        *count += 1.0;
    }
    let mut spells: BTreeMap<(u32, u32), (f64, f64, f64)> = BTreeMap::new();
    for order in orders {
        let (sum, count) = means.get(&order.supplier).copied().unwrap_or((0.0, 1.0));
        let score = order.score.clamp(-SCORE_MAX, SCORE_MAX) - sum / count;
        let (sum, squares, m) = spells.entry((order.supplier, order.spell)).or_default();
        *sum += score;
        *squares += score * score;
        *m += 1.0;
    }
    let (mut total, mut comparisons) = (prior_comparisons * default, prior_comparisons);
    for (sum, squares, m) in spells.values().filter(|(_, _, m)| *m >= 2.0) {
        total += (sum * sum - squares) / m;
        comparisons += m - 1.0;
    }
    if comparisons > 0.0 { (total / comparisons).clamp(0.0, RHO_MAX) } else { default }
}
