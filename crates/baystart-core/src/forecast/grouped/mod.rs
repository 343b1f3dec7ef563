//! The start date and the gating shares where sources of a group share a cause.
//!
//! `G(s) = prod over groups of E_Z [prod_j F_j(s + o_j | Z)]`. The shares are those of `ties` within
//! the expectation: on day s source j of group g is the last with probability
//! `integral over v of [prod over other groups of E P(v)] E_Z [f_j prod over k in g, k != j, of
//! (H_k - v f_k)]`, P(v) the group's product at v. A source that shares with nobody needs no nodes:
//! its expectation is its own distribution function.

use super::{
    QUANTILE_TOLERANCE, Source,
    cause::{CommonCause, expectation},
    combine::Table,
    gain::{self, Gains},
    hermite::{NODES, normal_rule},
    normal::normal_quantile,
};

mod rule;
mod shares;

use shares::Work;

/// Days on which a start is less likely than this share nothing out.
const STARTABLE_MIN: f64 = 1e-14;

type Nodes = [f64; NODES];

/// The sources ordered by group, and their normal scores by start day.
pub(super) struct Grouped<'a> {
    table: Table,
    cause: &'a CommonCause,
    /// Source indices; a group of one is independent of all others.
    groups: Vec<Vec<usize>>,
    /// Normal scores day by day, sources side by side; empty for sources of groups of one.
    scores: Vec<f64>,
    /// E_Z of each group's product, day by day.
    here: Vec<f64>,
    /// Of each group, weight times product by node, on the day last walked; 0 for groups of one.
    products: Vec<Nodes>,
}

impl<'a> Grouped<'a> {
    pub(super) fn new(sources: &[Source], days: usize, cause: &'a CommonCause) -> Self {
        let table = Table::new(sources, days);
        let groups = groups(sources);
        let mut shares_cause = vec![false; sources.len()];
        for k in groups.iter().filter(|group| group.len() > 1).flatten() {
            if let Some(shares) = shares_cause.get_mut(*k) {
                *shares = true;
            }
        }
        let mut scores = Vec::with_capacity(sources.len() * days);
        for day in 0..days {
            for (p, shares) in table.day(day).iter().zip(&shares_cause) {
                scores.push(if *shares { normal_quantile(*p) } else { 0.0 });
            }
        }
        Self { table, cause, groups, scores, here: Vec::new(), products: Vec::new() }
    }

    /// G(s) alone.
    pub(super) fn start_cdf(&self) -> Vec<f64> {
        let mut now = vec![[0.0; NODES]; self.table.sources()];
        let mut start_cdf = Vec::with_capacity(self.table.days());
        let mut before = 0.0_f64;
        for day in 0..self.table.days() {
            self.condition(day, &mut now);
            let groups = self.groups.iter().map(|group| self.group_here(group, day, &now).0);
            before = groups.product::<f64>().max(before);
            start_cdf.push(before);
        }
        start_cdf
    }

    /// E_Z of all groups' product on a day.
    fn startable(&self, day: usize) -> f64 {
        let mut now = vec![[0.0; NODES]; self.table.sources()];
        self.condition(day, &mut now);
        self.groups.iter().map(|group| self.group_here(group, day, &now).0).product()
    }

    /// G(s), the gating shares, and the working days gained by each source, in one walk over the days.
    pub(super) fn walk(&mut self) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let sources = self.table.sources();
        let mut start_cdf = Vec::with_capacity(self.table.days());
        let mut shares = vec![0.0; sources];
        let mut before = vec![[0.0; NODES]; sources];
        let mut now = before.clone();
        let mut work = Work::default();
        let last = self.table.days().checked_sub(1).map_or(0.0, |day| self.startable(day));
        let mut gains = Gains::new(sources, last);
        let mut without = vec![0.0; sources];
        for day in 0..self.table.days() {
            std::mem::swap(&mut before, &mut now);
            self.condition(day, &mut now);
            let mut startable = 1.0;
            self.products.clear();
            for group in &self.groups {
                let (here, mut product) = self.group_here(group, day, &now);
                multiply(&mut product, &normal_rule().weight);
                self.products.push(product);
                self.here.push(here);
                startable *= here;
            }
            let startable_before = start_cdf.last().copied().unwrap_or(startable);
            // Rounding must not let the distribution fall.
            let startable = startable.max(startable_before.min(1.0));
            start_cdf.push(startable);
            if !gains.is_settled(startable) {
                self.each_left_out(day, &now, &mut without);
                gains.add(startable, &without);
            }
            if startable > startable_before && startable > STARTABLE_MIN {
                work.day(self, day, startable, &before, &now);
                let sum: f64 = work.shares.iter().sum();
                let scale = if sum > 0.0 { (startable - startable_before) / sum } else { 0.0 };
                for (share, today) in shares.iter_mut().zip(&work.shares) {
                    *share += scale * today;
                }
            }
        }
        (start_cdf, shares, gains.finish())
    }

    /// The chance that all others are here, for each source; `conditional` of that day.
    fn each_left_out(&self, day: usize, conditional: &[Nodes], without: &mut [f64]) {
        let from = day * self.groups.len();
        let here = self.here.get(from..from + self.groups.len()).unwrap_or_default();
        let mut others = vec![1.0; self.groups.len()];
        gain::each_left_out(here, &mut others);
        let mut after: Vec<Nodes> = Vec::new();
        for (group, others) in self.groups.iter().zip(others) {
            after.clear();
            let mut product = [1.0; NODES];
            for nodes in group.iter().rev().map(|k| conditional.get(*k)) {
                after.push(product);
                if let Some(nodes) = nodes.filter(|_| group.len() > 1) {
                    multiply(&mut product, nodes);
                }
            }
            let mut before = [1.0; NODES];
            for (k, after) in group.iter().zip(after.iter().rev()) {
                let mut product = before;
                multiply(&mut product, after);
                if let Some(cell) = without.get_mut(*k) {
                    *cell = others * expectation(&product);
                }
                if let Some(nodes) = conditional.get(*k).filter(|_| group.len() > 1) {
                    multiply(&mut before, nodes);
                }
            }
        }
    }

    /// Conditional probabilities of the sources that share a cause.
    fn condition(&self, day: usize, conditional: &mut [Nodes]) {
        for k in self.groups.iter().filter(|group| group.len() > 1).flatten() {
            if let Some(nodes) = conditional.get_mut(*k) {
                self.cause.given(self.score(day, *k), nodes);
            }
        }
    }

    fn score(&self, day: usize, k: usize) -> f64 {
        self.scores.get(day * self.table.sources() + k).copied().unwrap_or(f64::NEG_INFINITY)
    }

    /// E_Z of a group's product, and the product at every node; a group of one has no nodes.
    fn group_here(&self, group: &[usize], day: usize, conditional: &[Nodes]) -> (f64, Nodes) {
        if let [alone] = group {
            return (value(self.table.day(day), *alone), [0.0; NODES]);
        }
        let mut product = [1.0; NODES];
        for nodes in group.iter().filter_map(|k| conditional.get(*k)) {
            multiply(&mut product, nodes);
        }
        (expectation(&product), product)
    }

    /// The first start day that reaches `p` if source `gone` were here already; see `gain`.
    pub(super) fn quantile_without(
        &self,
        gone: usize,
        p: f64,
        latest: Option<usize>,
    ) -> Option<usize> {
        let (mut low, mut high) = (0, latest.unwrap_or(self.table.days()));
        while low < high {
            let middle = low + (high - low) / 2;
            if self.here_without(gone, middle) >= p - QUANTILE_TOLERANCE {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        (low < self.table.days()).then_some(low)
    }

    fn here_without(&self, gone: usize, day: usize) -> f64 {
        let from = day * self.groups.len();
        let here = self.here.get(from..from + self.groups.len()).unwrap_or_default();
        let mut all = 1.0;
        for (group, here) in self.groups.iter().zip(here) {
            if !group.contains(&gone) {
                all *= here;
                continue;
            }
            let mut product = [1.0; NODES];
            let mut conditional = [0.0; NODES];
            for k in group.iter().filter(|k| **k != gone) {
                if group.len() > 1 {
                    self.cause.given(self.score(day, *k), &mut conditional);
                    multiply(&mut product, &conditional);
                }
            }
            all *= expectation(&product);
        }
        all
    }
}

/// Sources of one group together, in the order of their first; those without a group alone.
fn groups(sources: &[Source]) -> Vec<Vec<usize>> {
    let mut places: std::collections::BTreeMap<u32, usize> = std::collections::BTreeMap::new();
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (k, source) in sources.iter().enumerate() {
        let place = source.group().and_then(|group| places.get(&group)).copied();
        match place.and_then(|place| groups.get_mut(place)) {
            Some(group) => group.push(k),
            None => {
                if let Some(group) = source.group() {
                    places.insert(group, groups.len());
                }
                groups.push(vec![k]);
            }
        }
    }
    groups
}

fn multiply(product: &mut Nodes, factor: &Nodes) {
    for (product, factor) in product.iter_mut().zip(factor) {
        *product *= factor;
    }
}

fn value(values: &[f64], at: usize) -> f64 {
    values.get(at).copied().unwrap_or(0.0)
}
