//! Gauss-Legendre rules on [0, 1].

use std::sync::OnceLock;

/// Most nodes of a rule; 64 nodes are exact up to degree 127.
pub(super) const NODES_MAX: usize = 64;

/// Nodes and weights for the integral from 0 to 1.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    /// (node, weight), nodes rising.
    pub points: Vec<(f64, f64)>,
    /// The error of the rule for a function f is at most `error_factor` * max |f^(2m)|:
    /// (m!)^4 / ((2m + 1) ((2m)!)^3), the standard bound (Abramowitz and Stegun 25.4.30, memory).
    pub error_factor: f64,
}

/// The rules of 1 to [`NODES_MAX`] nodes in order; computed once.
pub(super) fn rules() -> &'static [Rule; NODES_MAX] {
    static RULES: OnceLock<[Rule; NODES_MAX]> = OnceLock::new();
    RULES.get_or_init(|| std::array::from_fn(|index| rule(index + 1)))
}

/// The rule of `nodes` >= 1 nodes: Newton's method on the Legendre polynomial, from the usual
/// cosine start.
fn rule(nodes: usize) -> Rule {
    let n = nodes as f64;
    let mut points = Vec::with_capacity(nodes);
    for i in 0..nodes {
        let mut x = -(std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        for _ in 0..8 {
            let (value, slope) = legendre(nodes, x);
            x -= value / slope;
        }
        let (_, slope) = legendre(nodes, x);
        // Weight 2 / ((1 - x^2) P'(x)^2) on [-1, 1]; half of it on [0, 1].
        let weight = 1.0 / ((1.0 - x * x) * slope * slope);
        points.push((0.5 * (1.0 + x), weight));
    }
    let mut log_factor = -(2.0 * n + 1.0).ln();
    for k in 1..=2 * nodes {
        let log_k = (k as f64).ln();
        log_factor -= 3.0 * log_k;
        if k <= nodes {
            log_factor += 4.0 * log_k;
        }
    }
    Rule { points, error_factor: log_factor.exp() }
}

/// The Legendre polynomial of degree n >= 1 and its derivative at -1 < x < 1.
fn legendre(degree: usize, x: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    for k in 2..=degree {
        let k = k as f64;
        let next = ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k;
        before = value;
        value = next;
    }
    let slope = degree as f64 * (x * value - before) / (x * x - 1.0);
    (value, slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn m_nodes_integrate_every_power_up_to_two_m_less_one() {
        for (index, rule) in rules().iter().enumerate() {
            let nodes = index + 1;
            for power in 0..2 * nodes as i32 {
                let sum: f64 = rule.points.iter().map(|(x, w)| w * x.powi(power)).sum();
                let exact = 1.0 / f64::from(power + 1);
                assert!((sum - exact).abs() < 1e-14, "{nodes} nodes, power {power}: {sum}");
            }
        }
    }

    /// Source: the three-point rule, nodes (1 ± sqrt(3/5)) / 2 and weights 5/18, 8/18 (memory).
    #[test]
    fn three_nodes_are_the_published_ones() {
        let points = &rules()[2].points;
        assert!((points[0].0 - (1.0 - 0.6_f64.sqrt()) / 2.0).abs() < 1e-15);
        assert!((points[0].1 - 5.0 / 18.0).abs() < 1e-15);
        assert!((points[1].1 - 8.0 / 18.0).abs() < 1e-15);
    }

    #[test]
    fn the_error_bound_holds_for_an_exponential_and_is_not_idle() {
        for (index, rule) in rules().iter().enumerate().take(6) {
            let r = 2.0_f64;
            let sum: f64 = rule.points.iter().map(|(x, w)| w * (-r * x).exp()).sum();
            let error = (sum - (1.0 - (-r).exp()) / r).abs();
            let bound = rule.error_factor * r.powi(2 * (index as i32 + 1));
            assert!(
                error <= bound + 1e-15 && (bound < 1e-13 || error > bound * 0.1),
                "{error} {bound}"
            );
        }
    }
}
