//! Demand during a lead time, from a shop's own days: no normal approximation.

use crate::quantity::Quantity;
use thiserror::Error;

/// Cells of the demand grid; the step grows so that the demand of the longest lead time fits.
const CELLS_MAX: usize = 4_096;
/// Lead times longer than this count as it.
const LEAD_DAYS_MAX: usize = 730;
/// Longer gaps between two looks at the stock count as it.
const REVIEW_DAYS_MAX: usize = 30;
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
    let last = last_day(daily, lead_days)?;
    let (step, day) = day_law(daily, last);
    Ok((summed_up(lead_demand(&day, lead_days, last)), step))
}

/// The last day of the lead time that counts.
fn last_day(daily: &[Quantity], lead_days: &[f64]) -> Result<usize, DemandError> {
    if daily.is_empty() {
        return Err(DemandError::NoDays);
    }
    if lead_days.iter().any(|chance| *chance < 0.0) || lead_days.iter().sum::<f64>() <= 0.0 {
        return Err(DemandError::NoLeadTime);
    }
    Ok(lead_days.iter().rposition(|chance| *chance > 0.0).unwrap_or(0).min(LEAD_DAYS_MAX))
}

/// P(demand of a lead time = i steps).
fn lead_demand(day: &[f64], lead_days: &[f64], last: usize) -> Vec<f64> {
    let total: f64 = lead_days.iter().sum();
    let mut sums = vec![1.0];
    let mut mass: Vec<f64> = Vec::new();
    for (days, chance) in lead_days.iter().enumerate() {
        // The days past the last that counts all count as it.
        if days > 0 && days <= last {
            sums = convolved(&sums, day);
        }
        if mass.len() < sums.len() {
            mass.resize(sums.len(), 0.0);
        }
        for (cell, value) in mass.iter_mut().zip(&sums) {
            *cell += chance / total * value;
        }
    }
    mass
}

fn summed_up(mut mass: Vec<f64>) -> Vec<f64> {
    let mut sum = 0.0;
    for cell in &mut mass {
        sum += *cell;
        *cell = sum;
    }
    mass
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
    Ok(quantile(&cdf, step, service))
}

/// The least level for which stock that is ordered *below* it, looked at every `review_days` working
/// days, lasts until the order is here with a chance of `service`, a probability.
///
/// When stock is found below the level it lies under it already by what the days since the last
/// look took, see [`undershoot`]; that and the demand of the lead time have to fit into the level.
///
/// # Errors
/// As [`demand_in_lead_time`].
pub fn reorder_point_reviewed(
    daily: &[Quantity],
    lead_days: &[f64],
    review_days: usize,
    service: f64,
) -> Result<Quantity, DemandError> {
    let last = last_day(daily, lead_days)?;
    let review = review_days.clamp(1, REVIEW_DAYS_MAX);
    // Twice the review: one for the undershoot's own length, one so that a lead time of 0 fits too.
    let (step, day) = day_law(daily, last + 2 * review);
    let needed = convolved(&lead_demand(&day, lead_days, last), &undershoot(&day, review));
    Ok(quantile(&summed_up(needed), step, service))
}

/// Mean and variance of the undershoot in quantities (whole ones, not thousandths) and their squares.
pub(super) fn undershoot_moments(daily: &[Quantity], review_days: usize) -> (f64, f64) {
    let review = review_days.clamp(1, REVIEW_DAYS_MAX);
    let (step, day) = day_law(daily, review);
    #[allow(clippy::cast_precision_loss)]
    let size = step.milli() as f64 / 1000.0;
    let (mut mean, mut squares) = (0.0, 0.0);
    for (steps, chance) in (0_u32..).map(f64::from).zip(undershoot(&day, review)) {
        mean += chance * steps * size;
        squares += chance * steps * size * steps * size;
    }
    (mean, (squares - mean * mean).max(0.0))
}

/// P(stock lies j steps below the level when it is first found there), j = 0, 1, ...: for X the
/// demand between two looks, P(X >= j) / E[X] for j >= 1.
///
/// The excess over a boundary of a renewal process in equilibrium, textbook renewal theory; held by
/// cases worked by hand and a simulation in the tests. Exact where an order is large beside X: the
/// simulation holds it for orders of 30 working days of use; with orders of only two looks' use a
/// lumpy part was measured half a percentage point below the asked service.
fn undershoot(day: &[f64], review_days: usize) -> Vec<f64> {
    let mut between = vec![1.0];
    for _ in 0..review_days {
        between = convolved(&between, day);
    }
    let mean: f64 = (0_u32..).map(f64::from).zip(&between).map(|(steps, p)| steps * p).sum();
    if mean <= 0.0 {
        return vec![1.0];
    }
    let mut law = between;
    let mut at_least = 0.0;
    for cell in law.iter_mut().rev() {
        at_least += *cell;
        *cell = at_least / mean;
    }
    if let Some(none) = law.first_mut() {
        *none = 0.0;
    }
    law
}

fn quantile(cdf: &[f64], step: Quantity, service: f64) -> Quantity {
    let reached = cdf.partition_point(|value| *value < service - TOLERANCE);
    let steps = reached.min(cdf.len().saturating_sub(1));
    let steps = i64::try_from(steps).unwrap_or(i64::MAX);
    Quantity::from_milli(step.milli().saturating_mul(steps))
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
