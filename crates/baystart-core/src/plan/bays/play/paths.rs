//! A vehicle's luck on every path: when its parts come and how long its work takes.

use super::draws::Key;
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
#[derive(Clone, Debug, Default)]
pub(in crate::plan) struct Causes(BTreeMap<Key, Arc<Vec<f64>>>);

impl Causes {
    fn of(&mut self, supplier: Key, paths: usize) -> Arc<Vec<f64>> {
        let drawn =
            || Arc::new(supplier.uniforms(paths).into_iter().map(normal_quantile).collect());
        Arc::clone(self.0.entry(supplier).or_insert_with(drawn))
    }

    /// An arrival's uniforms: normal scores sqrt(rho) Z + sqrt(1 - rho) Y, Z the supplier's.
    fn uniforms(&mut self, arrival: &Arrival, rules: &Rules) -> Vec<f64> {
        let mut uniforms = arrival.key.uniforms(rules.paths);
        let rho = rules.cause.rho();
        let Some(supplier) = arrival.supplier.filter(|_| rho > 0.0) else { return uniforms };
        let shared = self.of(supplier, rules.paths);
        let (load, own) = (rho.sqrt(), (1.0 - rho).sqrt());
        for (u, z) in uniforms.iter_mut().zip(shared.iter()) {
            *u = normal_cdf(load * z + own * normal_quantile(*u));
        }
        uniforms
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
