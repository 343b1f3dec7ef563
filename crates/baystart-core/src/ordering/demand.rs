//! Demand during a lead time, from a shop's own days: no normal approximation.

use crate::quantity::Quantity;
use thiserror::Error;

/// Cells of the demand grid; the step grows so that the demand of the longest lead time fits.
const CELLS_MAX: usize = 4_096;
/// Lead times longer than this count as it.
const LEAD_DAYS_MAX: usize = 730;
/// Tolerance of "reaches the service level": many factors end a rounding error below it.
const TOLERANCE: f64 = 1e-9;

/// Why demand during a lead time cannot be reckoned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum DemandError {
    /// No day of demand was given.
    #[error("no day of demand is known")]
    NoDays,
    /// The chances of the lead time are below 0, or come to nothing.
    #[error("the lead time has no chances")]
    NoLeadTime,
}

/// The distribution of demand during a lead time: P(demand <= i steps), with the step.
///
/// `daily` holds the demand of each past day, days without any included; `lead_days` the chance
/// that the lead time is i days (what is left out of 1 is shared out). Days are taken as
/// independent draws from `daily`: the sum over m of P(m days) times the m-fold convolution.
/// Demand is rounded up to the step, so the answer is never too small by it.
///
/// # Errors
/// There is nothing to reckon from.
pub fn demand_in_lead_time(
    daily: &[Quantity],
    lead_days: &[f64],
) -> Result<(Vec<f64>, Quantity), DemandError> {
    let total: f64 = lead_days.iter().sum();
    if daily.is_empty() {
        return Err(DemandError::NoDays);
    }
    if lead_days.iter().any(|chance| *chance < 0.0) || total <= 0.0 {
        return Err(DemandError::NoLeadTime);
    }
    let last = lead_days.iter().rposition(|chance| *chance > 0.0).unwrap_or(0).min(LEAD_DAYS_MAX);
    let (step, day) = day_law(daily, last);
    let mut sums = vec![1.0];
    let mut mass: Vec<f64> = Vec::new();
    for (days, chance) in lead_days.iter().enumerate() {
        // The days past the last that counts all count as it.
        if days > 0 && days <= last {
            sums = convolved(&sums, &day);
        }
        if mass.len() < sums.len() {
            mass.resize(sums.len(), 0.0);
        }
        for (cell, value) in mass.iter_mut().zip(&sums) {
            *cell += chance / total * value;
        }
    }
    let mut sum = 0.0;
    for cell in &mut mass {
        sum += *cell;
        *cell = sum;
    }
    Ok((mass, step))
}

/// The least stock position that covers the demand of a lead time with a chance of `service`, a
/// probability: the quantile of [`demand_in_lead_time`].
///
/// # Errors
/// As [`demand_in_lead_time`].
pub fn reorder_point_empirical(
    daily: &[Quantity],
    lead_days: &[f64],
    service: f64,
) -> Result<Quantity, DemandError> {
    let (cdf, step) = demand_in_lead_time(daily, lead_days)?;
    let reached = cdf.partition_point(|value| *value < service - TOLERANCE);
    let steps = reached.min(cdf.len().saturating_sub(1));
    let steps = i64::try_from(steps).unwrap_or(i64::MAX);
    Ok(Quantity::from_milli(step.milli().saturating_mul(steps)))
}

/// The step, and the chance that a day takes i steps.
fn day_law(daily: &[Quantity], lead_days: usize) -> (Quantity, Vec<f64>) {
    let demands: Vec<i64> = daily.iter().map(|demand| demand.or_zero().milli()).collect();
    let exact = demands.iter().fold(0, |a, b| greatest_common_divisor(a, *b)).max(1);
    let most = demands.iter().max().copied().unwrap_or(0);
    let days = i64::try_from(lead_days).unwrap_or(i64::MAX);
    let cells = i64::try_from(CELLS_MAX).unwrap_or(i64::MAX);
    let coarse = most.saturating_mul(days) / cells;
    // A whole number of exact steps, so that only what must be rounded is.
    let step = exact.saturating_mul(coarse / exact + i64::from(coarse % exact != 0)).max(exact);
    let mut law = Vec::new();
    for demand in &demands {
        let index = usize::try_from(demand / step + i64::from(demand % step != 0)).unwrap_or(0);
        if law.len() <= index {
            law.resize(index + 1, 0.0);
        }
        if let Some(cell) = law.get_mut(index) {
            *cell += 1.0;
        }
    }
    let count = f64::from(u32::try_from(demands.len()).unwrap_or(u32::MAX));
    law.iter_mut().for_each(|cell| *cell /= count);
    (Quantity::from_milli(step), law)
}

fn convolved(sums: &[f64], day: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; (sums.len() + day.len()).saturating_sub(1)];
    for (i, a) in sums.iter().enumerate().filter(|(_, a)| **a > 0.0) {
        for (cell, b) in out.iter_mut().skip(i).zip(day) {
            *cell += a * b;
        }
    }
    out
}

fn greatest_common_divisor(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}
