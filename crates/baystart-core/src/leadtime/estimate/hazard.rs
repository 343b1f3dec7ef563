//! The hazard estimator: a parent's law, moved by weighted counts.

use super::AtRisk;
use crate::leadtime::DayLaw;

/// Least hazard of a tail, so that a conditional law exists however old the wait is.
pub const TAIL_HAZARD_MIN: f64 = 1e-6;

/// How strongly a parent's law holds against a level's own evidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// Prior strength c >= 0, in orders. 0: own evidence alone wherever anybody was at risk.
    pub orders: f64,
    /// Tail exponent g, 0 to 1. 1 is the Beta-Stacy posterior mean (Walker and Muliere 1997), whose
    /// prior fades in the tail; 0 the beta process of constant concentration (Hjort 1990).
    pub tail_exponent: f64,
}

impl Strength {
    /// w(t) = c * S0(t - 1)^g.
    fn weight(&self, survival_before: f64) -> f64 {
        if self.tail_exponent == 0.0 {
            self.orders
        } else if self.tail_exponent == 1.0 {
            self.orders * survival_before
        } else if self.tail_exponent == 0.5 {
            self.orders * survival_before.sqrt()
        } else {
            self.orders * survival_before.powf(self.tail_exponent)
        }
    }
}

/// Posterior hazards h(t) = (w(t) h0(t) + d(t)) / (w(t) + n(t)), w(t) = c S0(t - 1)^g, with the
/// parent's hazards h0 of days `from`, `from` + 1, ... and its survival S0 counted from `from`.
///
/// Thin evidence never looks sure: h(t) is at most h0(t) + N / (N + c), N the most that was ever at
/// risk. So whatever the age, no day holds more of what is left than the parent's share and what N
/// pieces of news support; far in the parent's tail, where w(t) is small, it would. (With g = 0 the
/// bound never binds: d <= n <= N, so (c h0 + d) / (c + n) <= h0 + N / (c + N).)
///
/// One value per parent value. Where w(t) + n(t) is 0 the parent's hazard stands. O(days).
#[must_use]
pub fn posterior(parent: &[f64], from: usize, seen: &AtRisk, strength: Strength) -> Vec<f64> {
    let mut hazards = Vec::with_capacity(parent.len());
    let mut survival_before = 1.0;
    let most = seen.at_risk.iter().copied().fold(0.0, f64::max);
    for (step, h0) in parent.iter().enumerate() {
        let t = from + step;
        let n = seen.weight(t);
        if n > 0.0 {
            let d = seen.events.get(t).copied().unwrap_or(0.0);
            let w = strength.weight(survival_before);
            let supported = h0 + most / (most + strength.orders);
            hazards.push(((w * h0 + d) / (w + n)).min(supported).clamp(0.0, 1.0));
        } else {
            hazards.push(*h0);
        }
        survival_before *= 1.0 - h0;
    }
    hazards
}

/// [`posterior`] as a proper law: past the days of both, the last hazard of the parent continues, at
/// least [`TAIL_HAZARD_MIN`].
#[must_use]
pub fn posterior_law(parent: &DayLaw, seen: &AtRisk, strength: Strength) -> DayLaw {
    let days = parent.grid_days().max(seen.at_risk.len());
    let prior: Vec<f64> = (0..days).map(|t| parent.hazard(t)).collect();
    let hazards = posterior(&prior, 0, seen, strength);
    DayLaw::proper(hazards, parent.hazard(usize::MAX).max(TAIL_HAZARD_MIN))
}

/// Survival by Kaplan and Meier and its standard error by Greenwood's formula, for each day of the
/// risk set: the evidence as it stands, nothing borrowed.
///
/// Where everybody at risk had the event, S is 0 and so is the standard error. `Var = S(t)^2 * sum
/// over u <= t of d / (n (n - d))` (Greenwood 1926, as every survival text gives it).
#[must_use]
pub fn greenwood(seen: &AtRisk) -> Vec<(f64, f64)> {
    let mut found = Vec::with_capacity(seen.at_risk.len());
    let (mut survival, mut sum) = (1.0_f64, 0.0_f64);
    for (d, n) in seen.events.iter().zip(&seen.at_risk) {
        if *n > 0.0 {
            survival *= 1.0 - d / n;
            if d < n {
                sum += d / (n * (n - d));
            }
        }
        found.push((survival, survival * sum.sqrt()));
    }
    found
}
