//! Which source is the last to arrive, ties shared equally.
//!
//! Source j is the last one on day s, ties shared, with probability
//! `f_j(s) * integral over u in [0,1] of prod_{k != j} (H_k(s-1) + u f_k(s))`, where
//! f_k(s) = H_k(s) - H_k(s-1): give every source that arrives on day s a uniform time of day, and
//! let j arrive at u. With x_k = f_k(s) / H_k(s) and v = 1 - u this is
//! `G(s) * x_j * integral over v of prod_{k != j} (1 - v x_k)`, a polynomial in v of degree one less
//! than the number of sources that can arrive on day s.

use super::{
    combine::Table,
    quadrature::{NODES_MAX, Rule, rules},
};

/// Largest error of all shares of one day together.
const DAY_ERROR_MAX: f64 = 1e-13;

/// P(source j is the last and arrives on day 1 or later, within the axis), for each source.
///
/// Together with G(0) (startable today) and 1 - G(last) (no date) they sum to 1.
pub(super) fn gating_shares(table: &Table, start_cdf: &[f64]) -> Vec<f64> {
    let mut shares = vec![0.0; table.sources()];
    let mut arriving = Arriving::default();
    for day in 1..table.days() {
        let startable = start_cdf.get(day).copied().unwrap_or(0.0);
        let startable_before = start_cdf.get(day - 1).copied().unwrap_or(0.0);
        if startable <= startable_before {
            continue;
        }
        arriving.fill(table.day(day - 1), table.day(day));
        arriving.integrate(rule_for(startable, &arriving));
        for ((k, x), integral) in arriving.sources.iter().zip(&arriving.x).zip(&arriving.integrals)
        {
            if let Some(share) = shares.get_mut(*k) {
                *share += startable * x * integral;
            }
        }
    }
    shares
}

/// The sources that can arrive on one day.
#[derive(Default)]
struct Arriving {
    sources: Vec<usize>,
    /// f_k / H_k, the chance that a source that is here by the day came on that day.
    x: Vec<f64>,
    /// Integral over v of the product of all others, per source.
    integrals: Vec<f64>,
}

impl Arriving {
    fn fill(&mut self, before: &[f64], now: &[f64]) {
        self.sources.clear();
        self.x.clear();
        for (k, (before, now)) in before.iter().zip(now).enumerate() {
            if now > before {
                self.sources.push(k);
                self.x.push((now - before) / now);
            }
        }
        self.integrals.clear();
        self.integrals.resize(self.x.len(), 0.0);
    }

    fn integrate(&mut self, rule: &Rule) {
        for (v, weight) in &rule.points {
            let product: f64 = self.x.iter().map(|x| 1.0 - v * x).product();
            let weighted = weight * product;
            for (x, integral) in self.x.iter().zip(&mut self.integrals) {
                // Nodes lie inside (0, 1) and x in (0, 1], so the own factor is above 0.
                *integral += weighted / (1.0 - v * x);
            }
        }
    }
}

/// The smallest rule that is exact for the day's polynomial, or whose error is small enough.
///
/// The 2m-th derivative of a product of factors 1 - v x_k is at most r^2m with r = sum of x_k, so
/// the shares of the day together are wrong by at most G(s) r * error_factor * r^2m.
fn rule_for(startable: f64, arriving: &Arriving) -> &'static Rule {
    let r: f64 = arriving.x.iter().sum();
    let exact_nodes = arriving.x.len().div_ceil(2);
    let mut power = startable * r;
    for (index, rule) in rules().iter().enumerate() {
        power *= r * r;
        if index + 1 >= exact_nodes || power * rule.error_factor <= DAY_ERROR_MAX {
            return rule;
        }
    }
    // More than 128 sources that can all come on one day: 64 nodes still resolve them.
    &rules()[NODES_MAX - 1]
}
