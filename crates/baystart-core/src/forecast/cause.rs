//! A supplier's common cause: its orders that are open together are late together.
//!
//! One-factor normal copula: given the factor Z of a group,
//! `F_j(x | Z) = Phi((Phi^-1(F_j(x)) - sqrt(rho) Z) / sqrt(1 - rho))`. Z > 0 is a bad spell.

use thiserror::Error;

use super::{
    hermite::{NODES, normal_rule},
    normal::{normal_cdf, normal_density},
};

/// Largest correlation: beyond it 32 nodes no longer hold 1e-4 at 60 sources of one group.
pub const RHO_MAX: f64 = 0.5;
/// Correlation where a shop's history says nothing else; .1 to .2 in real data.
pub const RHO_DEFAULT: f64 = 0.15;

/// Normal scores beyond this are taken as this: probabilities of 1e-19.
const SCORE_MAX: f64 = 9.0;
const STEPS_PER_UNIT: f64 = 32.0;
const ROWS: usize = 577;

/// A correlation that cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[error("the common cause has a correlation of {rho}; it must lie between 0 and {RHO_MAX}")]
pub struct RhoError {
    /// As given.
    pub rho: f64,
}

/// Values of one row of the table: per node, the conditional probability and its slope times the
/// step.
#[derive(Debug, Clone)]
struct Conditional {
    value: [f64; NODES],
    slope: [f64; NODES],
}

/// The correlation within a group, with its conditional probabilities tabulated: make it once for
/// many forecasts.
#[derive(Debug, Clone)]
pub struct CommonCause {
    rho: f64,
    rows: Vec<Conditional>,
}

/// The table follows from the correlation alone.
impl PartialEq for CommonCause {
    fn eq(&self, other: &Self) -> bool {
        self.rho == other.rho
    }
}

impl CommonCause {
    /// No common cause: all sources are independent.
    #[must_use]
    pub fn none() -> Self {
        Self { rho: 0.0, rows: Vec::new() }
    }

    /// A common cause of correlation `rho` between the normal scores of two sources of a group.
    ///
    /// # Errors
    /// [`RhoError`] if `rho` is not within 0 to [`RHO_MAX`].
    pub fn new(rho: f64) -> Result<Self, RhoError> {
        if !(0.0..=RHO_MAX).contains(&rho) {
            return Err(RhoError { rho });
        }
        if rho == 0.0 {
            return Ok(Self::none());
        }
        let (load, rest) = (rho.sqrt(), (1.0 - rho).sqrt());
        let mut rows = Vec::with_capacity(ROWS);
        for row in 0..ROWS {
            let x = row as f64 / STEPS_PER_UNIT - SCORE_MAX;
            let mut made = Conditional { value: [0.0; NODES], slope: [0.0; NODES] };
            let cells = made.value.iter_mut().zip(&mut made.slope).zip(normal_rule().z);
            for ((value, slope), z) in cells {
                let at = (x - load * z) / rest;
                *value = normal_cdf(at);
                *slope = normal_density(at) / (rest * STEPS_PER_UNIT);
            }
            rows.push(made);
        }
        Ok(Self { rho, rows })
    }

    /// The correlation.
    #[must_use]
    pub fn rho(&self) -> f64 {
        self.rho
    }

    /// P(arrived | Z = z) at every node, for a source whose unconditional probability has the normal
    /// score `score`; cubic interpolation in the table, good to 1e-7.
    pub(super) fn given(&self, score: f64, conditional: &mut [f64; NODES]) {
        if score.is_infinite() {
            conditional.fill(if score > 0.0 { 1.0 } else { 0.0 });
            return;
        }
        let at = (score.clamp(-SCORE_MAX, SCORE_MAX) + SCORE_MAX) * STEPS_PER_UNIT;
        // 0 to ROWS - 2, for the clamp above.
        let row = (at as usize).min(ROWS - 2);
        let t = at - row as f64;
        let u = 1.0 - t;
        let (a, b) = ((1.0 + 2.0 * t) * u * u, t * u * u);
        let (c, d) = (t * t * (3.0 - 2.0 * t), -t * t * u);
        let (Some(low), Some(high)) = (self.rows.get(row), self.rows.get(row + 1)) else {
            return;
        };
        let low = low.value.iter().zip(&low.slope);
        let high = high.value.iter().zip(&high.slope);
        for ((found, (v0, s0)), (v1, s1)) in conditional.iter_mut().zip(low).zip(high) {
            *found = a * v0 + b * s0 + c * v1 + d * s1;
        }
    }
}

/// The expectation over the factor of a value given at every node.
pub(super) fn expectation(values: &[f64; NODES]) -> f64 {
    sum_of_products(values, &normal_rule().weight)
}

/// The sum of a[i] b[i], in four interleaved sums that a processor can run side by side.
pub(super) fn sum_of_products(a: &[f64; NODES], b: &[f64; NODES]) -> f64 {
    let mut sums = [0.0; 4];
    for (a, b) in a.chunks_exact(4).zip(b.chunks_exact(4)) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3])
}
