//! A vehicle's luck on every path: when its parts come and how long its work takes.

use super::draws::{CELLS, Key, uniform};
use super::fleet::{Arrival, Day, NEVER, Rules, Vehicle};
use crate::forecast::{normal_cdf, normal_quantile};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Different variables of one name.
const NEWS: u64 = 1;

/// One vehicle's luck. Days are axis indices; rows of several values a path are stored path by path.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Luck {
    pub(super) steps: usize,
    /// The first day on which each step's parts can be used; 0 where it waits for none.
    pub(super) ready: Vec<Day>,
    /// Working days that each step takes.
    pub(super) takes: Vec<Day>,
    /// The first morning on which the first step's parts were here by the day before.
    pub(super) first: Vec<Day>,
    /// The first morning on which all parts were here by the day before, and a start stalls on none.
    pub(super) all: Vec<Day>,
    /// The first day on which a start stalls on nothing of what is known.
    pub(super) known: Vec<Day>,
    pub(super) arrivals: usize,
    /// The first morning on which each arrival was here by the day before; 0 where it is known of it
    /// whether it is in time.
    pub(super) unknown: Vec<Day>,
    /// The day on which the last paper is here.
    pub(super) papers: Vec<Day>,
}

/// Suppliers' common causes, each drawn once: all builds meet the same.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Causes {
    drawn: BTreeMap<Key, Arc<Vec<f64>>>,
    /// Normal scores of the draws' cells.
    scores: Arc<Vec<f64>>,
    phi: Arc<Phi>,
}

/// The standard normal distribution function by linear interpolation, to within 1e-6.
#[derive(Debug)]
struct Phi(Vec<f64>);

const PHI_END: f64 = 8.0;
const PHI_STEPS_PER_UNIT: f64 = 256.0;

impl Phi {
    fn new() -> Self {
        let steps = (2.0 * PHI_END * PHI_STEPS_PER_UNIT) as usize;
        let at = |step: usize| step as f64 / PHI_STEPS_PER_UNIT - PHI_END;
        Self((0..=steps).map(|step| normal_cdf(at(step))).collect())
    }

    fn at(&self, score: f64) -> f64 {
        let at = (score.clamp(-PHI_END, PHI_END) + PHI_END) * PHI_STEPS_PER_UNIT;
        let step = at as usize;
        let low = self.0.get(step).copied().unwrap_or(1.0);
        let high = self.0.get(step + 1).copied().unwrap_or(low);
        low + (at - step as f64) * (high - low)
    }
}

impl Causes {
    pub(in crate::plan) fn new(paths: usize) -> Self {
        let cells = 0..u32::try_from(paths).unwrap_or(0).saturating_mul(CELLS);
        let scores = cells.map(|cell| normal_quantile(uniform(cell, paths))).collect();
        Self { drawn: BTreeMap::new(), scores: Arc::new(scores), phi: Arc::new(Phi::new()) }
    }

    fn scores(&self, key: Key, paths: usize) -> impl Iterator<Item = f64> + '_ {
        let score = |cell: u32| self.scores.get(cell as usize).copied().unwrap_or(0.0);
        key.cells(paths).into_iter().map(score)
    }

    fn of(&mut self, supplier: Key, paths: usize) -> Arc<Vec<f64>> {
        if let Some(drawn) = self.drawn.get(&supplier) {
            return Arc::clone(drawn);
        }
        let drawn: Arc<Vec<f64>> = Arc::new(self.scores(supplier, paths).collect());
        self.drawn.insert(supplier, Arc::clone(&drawn));
        drawn
    }

    /// An arrival's uniforms: normal scores sqrt(rho) Z + sqrt(1 - rho) Y, Z the supplier's.
    fn uniforms(&mut self, arrival: &Arrival, rules: &Rules) -> Vec<f64> {
        let rho = rules.cause.rho();
        let Some(supplier) = arrival.supplier.filter(|_| rho > 0.0) else {
            return arrival.key.uniforms(rules.paths);
        };
        let shared = self.of(supplier, rules.paths);
        let (load, own) = (rho.sqrt(), (1.0 - rho).sqrt());
        let scores = self.scores(arrival.key, rules.paths).zip(shared.iter());
        scores.map(|(y, z)| self.phi.at(load * z + own * y)).collect()
    }
}

/// The inverse of a distribution function on days, with a guide table (Chen and Asau 1974).
struct Inverse<'c> {
    cdf: &'c [f64],
    guide: Vec<Day>,
}

impl<'c> Inverse<'c> {
    fn of(cdf: &'c [f64]) -> Self {
        const CELLS: usize = 128;
        let mut guide = Vec::with_capacity(CELLS);
        let mut at = 0;
        for cell in 0..CELLS {
            let u = cell as f64 / CELLS as f64;
            while cdf.get(at).is_some_and(|by| *by < u) {
                at += 1;
            }
            guide.push(day(at));
        }
        Self { cdf, guide }
    }

    /// The first day by which it is at least `u` likely, u in (0, 1).
    fn at(&self, u: f64) -> Day {
        let cell = (u * self.guide.len() as f64) as usize;
        let mut at = usize::from(self.guide.get(cell).copied().unwrap_or(0));
        loop {
            match self.cdf.get(at) {
                Some(by) if *by < u => at += 1,
                Some(_) => return day(at),
                None => return NEVER,
            }
        }
    }
}

/// What does not fit has no date.
pub(super) fn day(index: usize) -> Day {
    Day::try_from(index).unwrap_or(NEVER)
}

/// Days after a day; what never comes stays so.
fn after(at: Day, days: Day) -> Day {
    at.saturating_add(days)
}

impl Luck {
    /// Draws a vehicle's luck, variable by variable.
    pub(in crate::plan) fn draw(vehicle: &Vehicle, rules: &Rules, causes: &mut Causes) -> Self {
        let (paths, steps, arrivals) = (rules.paths, vehicle.steps.len(), vehicle.arrivals.len());
        let mut luck = Self {
            steps,
            ready: vec![0; paths * steps],
            takes: vec![0; paths * steps],
            first: vec![0; paths],
            all: vec![0; paths],
            known: vec![0; paths],
            arrivals,
            unknown: vec![0; paths * arrivals],
            papers: vec![0; paths],
        };
        for (k, step) in vehicle.steps.iter().enumerate() {
            let takes = Inverse::of(&step.takes);
            let cells = luck.takes.iter_mut().skip(k).step_by(steps);
            for (cell, u) in cells.zip(step.key.uniforms(paths)) {
                *cell = takes.at(u);
            }
        }
        for (j, arrival) in vehicle.arrivals.iter().enumerate() {
            let uniforms = causes.uniforms(arrival, rules);
            luck.add(j, arrival, vehicle, rules, &uniforms);
        }
        for paper in vehicle.papers.iter().flatten() {
            let uniforms = causes.uniforms(paper, rules);
            for of in &paper.uses {
                let by = Inverse::of(&of.by);
                for (last, u) in luck.papers.iter_mut().zip(&uniforms) {
                    *last = (*last).max(by.at(*u));
                }
            }
        }
        if vehicle.papers.is_none() {
            luck.papers.fill(NEVER);
        }
        luck
    }

    fn add(&mut self, j: usize, arrival: &Arrival, v: &Vehicle, rules: &Rules, uniforms: &[f64]) {
        let mut here = vec![0; rules.paths];
        for of in &arrival.uses {
            let by = Inverse::of(&of.by);
            let ready = self.ready.iter_mut().skip(of.step).step_by(self.steps.max(1));
            for (((u, ready), here), first) in
                uniforms.iter().zip(ready).zip(&mut here).zip(&mut self.first)
            {
                let at = by.at(*u);
                *ready = (*ready).max(after(at, of.lead));
                *here = (*here).max(at);
                if of.step == 0 {
                    *first = (*first).max(after(at, of.lead.max(1)));
                }
            }
        }
        let tightest = arrival.tightest(&v.steps).map_or(0, |(_, offset)| offset);
        let in_time_from = |here: Day| match here {
            NEVER => NEVER,
            _ => Day::try_from(i32::from(here).saturating_sub(tightest).max(0)).unwrap_or(NEVER),
        };
        for (all, here) in self.all.iter_mut().zip(&here) {
            *all = (*all).max(after(*here, 1)).max(in_time_from(*here));
        }
        let news = arrival.key.and(NEWS).uniforms(rules.paths);
        let unknown = self.unknown.iter_mut().skip(j).step_by(self.arrivals.max(1));
        for (((heard, here), unknown), known) in
            news.iter().zip(&here).zip(unknown).zip(&mut self.known)
        {
            match *heard < rules.news {
                true => *known = (*known).max(in_time_from(*here)),
                false => *unknown = after(*here, 1),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_table_is_the_normal_distribution() {
        let phi = Phi::new();
        for step in -9_000..=9_000 {
            let score = f64::from(step) / 1_000.0 + 0.000_37;
            assert!((phi.at(score) - normal_cdf(score)).abs() < 1e-6, "{score}");
        }
    }

    proptest! {
        /// Against looking for the first day that reaches u, from the first day on.
        #[test]
        fn the_guide_finds_the_first_day(
            steps in prop::collection::vec(0_u32..4, 0..60),
            whole in any::<bool>(),
            u in 0.0001_f64..0.9999,
        ) {
            let all = f64::from(steps.iter().sum::<u32>().max(1) + u32::from(!whole));
            let mut sum = 0;
            let mut cdf = Vec::new();
            for step in steps {
                sum += step;
                cdf.push(f64::from(sum) / all);
            }
            let plain = cdf.iter().position(|by| *by >= u).map_or(NEVER, day);
            prop_assert_eq!(Inverse::of(&cdf).at(u), plain);
        }
    }
}
