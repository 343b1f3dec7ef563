//! What lines placed together say of each other: a Poisson regression of arrivals on exposure.

use std::collections::BTreeMap;

use super::{super::BATCH_FACTS, weights::solve};

/// Largest logarithm of the power, either way.
const LOG_POWER_MAX: f64 = 1.5;
/// Spread of the coefficients before anything is seen.
const TAU: f64 = 0.25;
/// Weight of the ridge in Newton's steps.
const RIDGE: f64 = 1.0;
const STEPS_MAX: usize = 25;

type Facts = [f64; BATCH_FACTS];
type Square = [[f64; BATCH_FACTS]; BATCH_FACTS];

/// One line from one landmark on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Exposed {
    /// Of the supplier and day of placing, so that rows of one batch are not taken for independent.
    pub batch: (u32, i64),
    pub facts: Facts,
    /// The mixed experts' cumulative hazard from the landmark to arrival or the end of evidence.
    pub exposure: f64,
    pub came: bool,
}

pub(super) fn power(beta: &Facts, facts: &Facts) -> f64 {
    dot(beta, facts).clamp(-LOG_POWER_MAX, LOG_POWER_MAX).exp()
}

fn dot(a: &Facts, b: &Facts) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The coefficients: Newton with ridge 1, then drawn to 0 by how uncertain they are:
/// beta = tau^2 (tau^2 I + V)^-1 beta_hat, V = H^-1 (sum over batches of s_b s_b') H^-1 + H^-1, s_b a
/// batch's score, H the ridged information, tau = .25. Zeros without rows.
pub(super) fn fit(rows: &[Exposed]) -> Facts {
    let mut beta = [0.0; BATCH_FACTS];
    if rows.is_empty() {
        return beta;
    }
    for _ in 0..STEPS_MAX {
        let (score, information) = at(rows, &beta);
        let Some(step) = solved(&information, &score) else {
            return [0.0; BATCH_FACTS];
        };
        let largest = step.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        // A step is cut where it would leave the region in which a power is used at all.
        let cut = if largest > LOG_POWER_MAX { LOG_POWER_MAX / largest } else { 1.0 };
        for (b, x) in beta.iter_mut().zip(&step) {
            *b += cut * x;
        }
        if largest < 1e-9 {
            break;
        }
    }
    shrunk(rows, &beta).unwrap_or([0.0; BATCH_FACTS])
}

/// The ridged score and information.
fn at(rows: &[Exposed], beta: &Facts) -> (Facts, Square) {
    let mut score: Facts = beta.map(|b| -RIDGE * b);
    let mut information = identity(RIDGE);
    for row in rows {
        let expected = row.exposure * power(beta, &row.facts);
        let left = f64::from(u8::from(row.came)) - expected;
        add(&mut score, &row.facts, left);
        for (line, f) in information.iter_mut().zip(&row.facts) {
            add(line, &row.facts, expected * f);
        }
    }
    (score, information)
}

fn shrunk(rows: &[Exposed], beta: &Facts) -> Option<Facts> {
    let (_, information) = at(rows, beta);
    let mut scores: BTreeMap<(u32, i64), Facts> = BTreeMap::new();
    for row in rows {
        let left = f64::from(u8::from(row.came)) - row.exposure * power(beta, &row.facts);
        add(scores.entry(row.batch).or_default(), &row.facts, left);
    }
    let mut middle = information;
    for score in scores.values() {
        for (line, s) in middle.iter_mut().zip(score) {
            add(line, score, *s);
        }
    }
    // V = H^-1 (S + H) H^-1, so (tau^2 I + V)^-1 beta needs H^-1 twice: column by column.
    let mut variance = [[0.0; BATCH_FACTS]; BATCH_FACTS];
    for (k, line) in identity(1.0).iter().enumerate() {
        let once = solved(&information, line)?;
        let through: Facts = middle.map(|row| dot(&row, &once));
        let column = solved(&information, &through)?;
        for (row, value) in variance.iter_mut().zip(&column) {
            *row.get_mut(k)? = *value;
        }
    }
    let mut total = identity(TAU * TAU);
    for (row, more) in total.iter_mut().zip(&variance) {
        add(row, more, 1.0);
    }
    let found = solved(&total, beta)?;
    Some(found.map(|x| TAU * TAU * x))
}

fn add(sum: &mut Facts, facts: &Facts, times: f64) {
    for (sum, x) in sum.iter_mut().zip(facts) {
        *sum += times * x;
    }
}

fn identity(times: f64) -> Square {
    std::array::from_fn(|k| std::array::from_fn(|l| if k == l { times } else { 0.0 }))
}

fn solved(a: &Square, b: &Facts) -> Option<Facts> {
    let found = solve(a.iter().map(|row| row.to_vec()).collect(), b.to_vec())?;
    found.try_into().ok()
}
