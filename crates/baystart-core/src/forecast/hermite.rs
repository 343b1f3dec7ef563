//! The Gauss-Hermite rule for expectations over a standard normal variable.

use std::sync::OnceLock;

/// Nodes of the rule.
const RULE_NODES: usize = 32;

/// Nodes that are used: the four outermost on each side weigh 5e-13 together, and what is averaged
/// is a probability.
pub(super) const NODES: usize = 24;

/// Nodes and weights with `E f(Z) = sum w f(z)`: the inner nodes of the rule that is exact up to
/// degree 63.
#[derive(Debug, Clone)]
pub(super) struct NormalRule {
    /// Nodes, rising.
    pub z: [f64; NODES],
    /// Weights, summing to 1.
    pub weight: [f64; NODES],
}

/// The rule, computed once.
pub(super) fn normal_rule() -> &'static NormalRule {
    static RULE: OnceLock<NormalRule> = OnceLock::new();
    RULE.get_or_init(rule)
}

/// Newton's method from the midpoint of each change of sign: the roots lie between
/// -sqrt(4 n + 2) and sqrt(4 n + 2), no two nearer than a tenth.
fn rule() -> NormalRule {
    let mut found = NormalRule { z: [0.0; NODES], weight: [0.0; NODES] };
    let end = (4.0 * RULE_NODES as f64 + 2.0).sqrt();
    let mut places = found.z.iter_mut().zip(&mut found.weight);
    let mut outer = (RULE_NODES - NODES) / 2;
    let mut low = -end;
    while low < end {
        let high = low + 0.1;
        if polynomials(low).0 * polynomials(high).0 < 0.0 {
            let mut z = 0.5 * (low + high);
            for _ in 0..10 {
                let (value, before) = polynomials(z);
                // h_n' = sqrt(n) h_{n-1}
                z -= value / ((RULE_NODES as f64).sqrt() * before);
            }
            if outer > 0 {
                outer -= 1;
            } else if let Some((node, weight)) = places.next() {
                let before = polynomials(z).1;
                *node = z;
                *weight = 1.0 / (RULE_NODES as f64 * before * before);
            }
        }
        low = high;
    }
    found
}

/// The orthonormal Hermite polynomials of degree n and n - 1 under the standard normal weight.
fn polynomials(x: f64) -> (f64, f64) {
    let (mut before, mut value) = (0.0, 1.0);
    for k in 0..RULE_NODES {
        let k = k as f64;
        let next = (x * value - k.sqrt() * before) / (k + 1.0).sqrt();
        before = value;
        value = next;
    }
    (value, before)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The dropped nodes matter to high moments only.
    #[test]
    fn moments_are_those_of_the_normal_distribution() {
        let rule = normal_rule();
        let mut double_factorial = 1.0;
        for power in (0..10).step_by(2) {
            let sum: f64 = rule.z.iter().zip(rule.weight).map(|(z, w)| w * z.powi(power)).sum();
            assert!((sum / double_factorial - 1.0).abs() < 1e-7, "power {power}: {sum}");
            double_factorial *= f64::from(power + 1);
        }
    }

    /// Source: run with numpy 2.4.6, `hermgauss(32)`, nodes times sqrt 2, weights over sqrt pi.
    #[test]
    fn nodes_are_the_library_s() {
        let rule = normal_rule();
        for (at, z, weight) in [
            (12, 0.275_546_419_230_275_84, 0.211_705_569_880_479_37),
            (13, 0.827_284_903_779_765_2, 0.156_538_993_757_598_5),
            (15, 1.938_004_905_925_717_4, 0.034_109_847_726_092_095),
        ] {
            assert!(
                (rule.z[at] - z).abs() < 1e-12 && (rule.weight[at] / weight - 1.0).abs() < 1e-11
            );
        }
        assert!(rule.z.windows(2).all(|pair| pair[0] < pair[1]));
    }
}
