//! Whether the learned laws of lead times are as wide as they should be, by how their past forecasts fared.
//!
//! Laws that borrow and smooth come out too wide: little comes early, and what is late comes sooner than they
//! say. A build waits for the last of its lines, so that it is the late ends that date it. Where H(t) is the
//! cumulative hazard of a line's law from its placing on, the hazard is h(t) max(e, min(H(t), E))^g: g = 0
//! leaves it as it is, g > 0 makes it narrower about its 63rd percentile (H = 1), where nothing changes. Where
//! no bound binds, survival becomes exp(-H^(1 + g) / (1 + g)): Weibull's on the law's own scale.

use std::collections::BTreeMap;

use crate::leadtime::DayLaw;

/// Below and above these cumulative hazards (4.9 and 99.3 % have come) the factor stays as it is there.
const LEAST: f64 = 0.05;
const MOST: f64 = 5.0;
/// Spread of g before anything is seen.
const TAU: f64 = 0.25;
/// Largest g, either way.
const NARROWING_MAX: f64 = 0.5;
/// Largest logarithm of the factor c, either way: one factor for all suppliers of a shop is no place for more.
const PACE_MAX: f64 = 0.5;
const STEPS_MAX: usize = 25;
/// Below it nothing is told of g.
const INFORMATION_MIN: f64 = 1e-9;

/// One line's wait, as the law's cumulative hazards from the day of placing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Waited {
    /// Of the supplier and day of placing, so that rows of one batch are not taken for independent.
    pub batch: (u32, i64),
    /// When it was asked about; 0: from its placing on.
    pub from: f64,
    /// At arrival, or at the end of evidence.
    pub to: f64,
    pub came: bool,
}

fn bounded(hazard: f64) -> f64 {
    hazard.clamp(LEAST, MOST)
}

/// The cumulative hazard at H = `hazard` of a law narrowed by g: the integral of max(e, min(u, E))^g over u
/// from 0 to H.
#[must_use]
pub(super) fn narrowed(hazard: f64, g: f64) -> f64 {
    if g == 0.0 { hazard } else { moments(0.0, hazard, g)[0] }
}

/// The integrals from `from` to `to` of b^g, b^g ln b and b^g (ln b)^2, b = max(e, min(u, E)).
fn moments(from: f64, to: f64, g: f64) -> [f64; 3] {
    let k = 1.0 + g;
    let mut sums = [0.0; 3];
    for (edge, days) in
        [(LEAST, to.min(LEAST) - from.min(LEAST)), (MOST, to.max(MOST) - from.max(MOST))]
    {
        if days > 0.0 {
            let (factor, log) = (edge.powf(g), edge.ln());
            sums[0] += days * factor;
            sums[1] += days * factor * log;
            sums[2] += days * factor * log * log;
        }
    }
    let (a, b) = (bounded(from), bounded(to));
    if b > a {
        // The integral of u^g (ln u)^n between the bounds, by parts.
        let at = |u: f64| {
            let (power, log) = (u.powf(k), u.ln());
            let one = power / k;
            let two = (power * log - one) / k;
            [one, two, (power * log * log - 2.0 * two) / k]
        };
        for (sum, (high, low)) in sums.iter_mut().zip(at(b).into_iter().zip(at(a))) {
            *sum += high - low;
        }
    }
    sums
}

/// How the laws of lead times are moved: their hazards by a constant factor, and by their own cumulative hazard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread {
    pub pace: f64,
    pub narrowing: f64,
}

impl Spread {
    /// The law with the hazard 1 - exp(-c (K(t) - K(t - 1))) on day t, K the narrowed cumulative hazard.
    pub(super) fn moved(self, law: &DayLaw) -> DayLaw {
        let Self { pace, narrowing } = self;
        if pace == 1.0 && narrowing == 0.0 {
            return law.clone();
        }
        let (mut waited, mut before) = (0.0, 0.0);
        let mut hazards = Vec::with_capacity(law.grid_days());
        for day in 0..law.grid_days() {
            waited += cumulative(law.hazard(day));
            let now = narrowed(waited, narrowing);
            hazards.push(1.0 - (-pace * (now - before)).exp());
            before = now;
        }
        let tail = cumulative(law.hazard(usize::MAX)) * bounded(waited).powf(narrowing);
        DayLaw::proper(hazards, 1.0 - (-pace * tail).exp())
    }
}

/// -ln(1 - h); a day that leaves nobody counts as leaving one of a billion.
fn cumulative(hazard: f64) -> f64 {
    -(1.0 - hazard).max(1e-9).ln()
}

/// g and the factor c by the likelihood of arrivals, Poisson with the rate c b(H)^g: of g the largest with c =
/// D / sum of moments at each g; then c at the g that is left. Both are drawn to nothing by how uncertain they
/// are: x tau^2 / (tau^2 + V) for x = g and x = ln c (at most .5 either way), V = 1 / I + sum over batches of s_b^2 / I^2, s_b a
/// batch's score, I the information, tau = .25. Nothing without rows.
pub(super) fn fit(rows: &[Waited]) -> Spread {
    let nothing = Spread { pace: 1.0, narrowing: 0.0 };
    let came = rows.iter().filter(|row| row.came).count() as f64;
    if came == 0.0 {
        return nothing;
    }
    let logs: f64 = rows.iter().filter(|row| row.came).map(|row| bounded(row.to).ln()).sum();
    let mut g = 0.0_f64;
    for _ in 0..STEPS_MAX {
        let [all, once, twice] = summed(rows, g);
        if all <= 0.0 {
            return nothing;
        }
        let mean = once / all;
        let information = came * (twice / all - mean * mean);
        if information <= INFORMATION_MIN {
            g = 0.0;
            break;
        }
        let step = ((logs - came * mean) / information).clamp(-NARROWING_MAX, NARROWING_MAX);
        let before = g;
        g = (g + step).clamp(-NARROWING_MAX, NARROWING_MAX);
        if (g - before).abs() < 1e-9 {
            break;
        }
    }
    let [all, once, twice] = summed(rows, g);
    let (rate, mean) = (came / all, once / all);
    let information = (came * (twice / all - mean * mean)).max(INFORMATION_MIN);
    let narrowing = g * certain(information, rows, |row| {
        let [exposed, once, _] = moments(row.from, row.to, g);
        let event = if row.came { bounded(row.to).ln() - mean } else { 0.0 };
        event - rate * (once - mean * exposed)
    });
    let [all, ..] = summed(rows, narrowing);
    let rate = came / all;
    let log = rate.ln()
        * certain(came, rows, |row| {
            f64::from(u8::from(row.came)) - rate * moments(row.from, row.to, narrowing)[0]
        });
    Spread { pace: log.clamp(-PACE_MAX, PACE_MAX).exp(), narrowing }
}

fn summed(rows: &[Waited], g: f64) -> [f64; 3] {
    let mut sums = [0.0; 3];
    for row in rows {
        for (sum, part) in sums.iter_mut().zip(moments(row.from, row.to, g)) {
            *sum += part;
        }
    }
    sums
}

/// The share of a coefficient that is kept: tau^2 / (tau^2 + V). One batch alone says nothing of how batches
/// differ: nothing is kept; of B the sum of squares is taken times B / (B - 1).
fn certain(information: f64, rows: &[Waited], score: impl Fn(&Waited) -> f64) -> f64 {
    let mut scores: BTreeMap<(u32, i64), f64> = BTreeMap::new();
    for row in rows {
        *scores.entry(row.batch).or_default() += score(row);
    }
    let batches = scores.len() as f64;
    if batches < 2.0 {
        return 0.0;
    }
    let between: f64 = scores.values().map(|score| score * score).sum();
    let between = between * batches / (batches - 1.0);
    let variance = 1.0 / information + between / (information * information);
    TAU * TAU / (TAU * TAU + variance)
}
