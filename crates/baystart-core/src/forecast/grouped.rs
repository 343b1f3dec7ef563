//! The start date and the gating shares where sources of a group share a cause.
//!
//! `G(s) = prod over groups of E_Z [prod_j F_j(s + o_j | Z)]`. The shares are those of `ties` within
//! the expectation: on day s source j of group g is the last with probability
//! `integral over v of [prod over other groups of E P(v)] E_Z [f_j prod over k in g, k != j, of
//! (H_k - v f_k)]`, P(v) the group's product at v. A source that shares with nobody needs no nodes:
//! its expectation is its own distribution function.

use super::{
    QUANTILE_TOLERANCE, Source,
    cause::{CommonCause, expectation, sum_of_products},
    combine::Table,
    hermite::{NODES, normal_rule},
    normal::normal_quantile,
    quadrature::{NODES_MAX, Rule, rules},
};

/// Largest quadrature error of the shares of one day, which are then scaled to their exact sum.
const DAY_ERROR_MAX: f64 = 1e-7;
/// Days on which a start is less likely than this share nothing out.
const STARTABLE_MIN: f64 = 1e-14;
/// Bad spells that weigh less than this do not choose the rule.
const SPELL_WEIGHT_MIN: f64 = 1e-7;

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
        Self { table, cause, groups, scores, here: Vec::new() }
    }

    /// G(s) alone.
    pub(super) fn start_cdf(&self) -> Vec<f64> {
        let mut now = vec![[0.0; NODES]; self.table.sources()];
        let mut start_cdf = Vec::with_capacity(self.table.days());
        let mut before = 0.0_f64;
        for day in 0..self.table.days() {
            self.condition(day, &mut now);
            let groups = self.groups.iter().map(|group| self.group_here(group, day, &now));
            before = groups.product::<f64>().max(before);
            start_cdf.push(before);
        }
        start_cdf
    }

    /// G(s) and the gating shares, in one walk over the days.
    pub(super) fn walk(&mut self) -> (Vec<f64>, Vec<f64>) {
        let sources = self.table.sources();
        let mut start_cdf = Vec::with_capacity(self.table.days());
        let mut shares = vec![0.0; sources];
        let mut before = vec![[0.0; NODES]; sources];
        let mut now = before.clone();
        let mut work = Work::default();
        for day in 0..self.table.days() {
            std::mem::swap(&mut before, &mut now);
            self.condition(day, &mut now);
            let mut startable = 1.0;
            for group in &self.groups {
                let here = self.group_here(group, day, &now);
                self.here.push(here);
                startable *= here;
            }
            let startable_before = start_cdf.last().copied().unwrap_or(startable);
            // Rounding must not let the distribution fall.
            let startable = startable.max(startable_before.min(1.0));
            start_cdf.push(startable);
            if startable > startable_before && startable > STARTABLE_MIN {
                work.day(self, day, startable, &before, &now);
                let sum: f64 = work.shares.iter().sum();
                let scale = if sum > 0.0 { (startable - startable_before) / sum } else { 0.0 };
                for (share, today) in shares.iter_mut().zip(&work.shares) {
                    *share += scale * today;
                }
            }
        }
        (start_cdf, shares)
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

    fn group_here(&self, group: &[usize], day: usize, conditional: &[Nodes]) -> f64 {
        if let [alone] = group {
            return self.table.day(day).get(*alone).copied().unwrap_or(0.0);
        }
        let mut product = [1.0; NODES];
        for nodes in group.iter().filter_map(|k| conditional.get(*k)) {
            multiply(&mut product, nodes);
        }
        expectation(&product)
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

/// Room for one day's shares, kept from day to day.
#[derive(Default)]
struct Work {
    shares: Vec<f64>,
    /// f_k of every source, node by node.
    came: Vec<Nodes>,
    /// H_k - v f_k of the members of a group, node by node.
    at_v: Vec<Nodes>,
    /// The product of the members before each.
    before_it: Vec<Nodes>,
    /// The member shares of one v, before the other groups are multiplied in.
    partial: Vec<(usize, usize, f64)>,
    group_here: Vec<f64>,
}

impl Work {
    fn day(
        &mut self,
        of: &Grouped<'_>,
        day: usize,
        startable: f64,
        before: &[Nodes],
        now: &[Nodes],
    ) {
        self.shares.clear();
        self.shares.resize(of.table.sources(), 0.0);
        let (alone_before, alone_now) = (of.table.day(day - 1), of.table.day(day));
        let rule = rule_for(of, day, startable, before, now);
        self.came.clear();
        for (before, now) in before.iter().zip(now) {
            let mut came = [0.0; NODES];
            for ((came, before), now) in came.iter_mut().zip(before).zip(now) {
                *came = now - before;
            }
            self.came.push(came);
        }
        for (v, weight) in &rule.points {
            self.partial.clear();
            self.group_here.clear();
            for (g, group) in of.groups.iter().enumerate() {
                if let [k] = group.as_slice() {
                    let (b, n) = (value(alone_before, *k), value(alone_now, *k));
                    self.group_here.push(n - v * (n - b));
                    if n > b {
                        self.partial.push((g, *k, n - b));
                    }
                    continue;
                }
                self.group(g, group, *v, now);
            }
            let all: f64 = self.group_here.iter().product();
            for (g, k, partial) in &self.partial {
                let here = value(&self.group_here, *g);
                if let (Some(share), true) = (self.shares.get_mut(*k), here > 0.0) {
                    *share += weight * partial * all / here;
                }
            }
        }
    }

    /// E P(v) of one group, and for each member E [f_j * product of the other members].
    fn group(&mut self, g: usize, group: &[usize], v: f64, now: &[Nodes]) {
        self.before_it.clear();
        self.at_v.clear();
        let mut product = [1.0; NODES];
        for k in group {
            let (Some(n), Some(f)) = (now.get(*k), self.came.get(*k)) else {
                continue;
            };
            let mut at_v = [0.0; NODES];
            for ((at_v, n), f) in at_v.iter_mut().zip(n).zip(f) {
                *at_v = n - v * f;
            }
            self.before_it.push(product);
            multiply(&mut product, &at_v);
            self.at_v.push(at_v);
        }
        self.group_here.push(expectation(&product));
        let mut after = normal_rule().weight;
        let members = group.iter().zip(&self.before_it).zip(&self.at_v).rev();
        for ((k, before_it), at_v) in members {
            let Some(f) = self.came.get(*k) else {
                continue;
            };
            let mut others = after;
            multiply(&mut others, before_it);
            multiply(&mut after, at_v);
            self.partial.push((g, *k, sum_of_products(&others, f)));
        }
    }
}

fn value(values: &[f64], at: usize) -> f64 {
    values.get(at).copied().unwrap_or(0.0)
}

/// The rule for a day, by the bound of `ties` with r at the worst spell that matters: f_k / H_k
/// grows with Z.
fn rule_for(
    of: &Grouped<'_>,
    day: usize,
    startable: f64,
    before: &[Nodes],
    now: &[Nodes],
) -> &'static Rule {
    let mut r = 0.0;
    let mut arriving = 0_usize;
    for (g, group) in of.groups.iter().enumerate() {
        if let [k] = group.as_slice() {
            let (b, n) = (value(of.table.day(day - 1), *k), value(of.table.day(day), *k));
            if n > b {
                r += (n - b) / n;
                arriving += 1;
            }
            continue;
        }
        arriving += group.len();
        let here = value(&of.here, day * of.groups.len() + g);
        let spell = worst_spell(here, group, now);
        for (b, n) in group.iter().filter_map(|k| Some((before.get(*k)?, now.get(*k)?))) {
            let (b, n) = (value(b, spell), value(n, spell));
            if n > b {
                r += (n - b) / n;
            }
        }
    }
    let exact_nodes = arriving.div_ceil(2);
    let mut power = startable * r;
    for (index, rule) in rules().iter().enumerate() {
        power *= r * r;
        if index + 1 >= exact_nodes || power * rule.error_factor <= DAY_ERROR_MAX {
            return rule;
        }
    }
    &rules()[NODES_MAX - 1]
}

/// The last node whose part in the group's expectation is not negligible.
fn worst_spell(here: f64, group: &[usize], now: &[Nodes]) -> usize {
    let weights = &normal_rule().weight;
    for node in (0..NODES).rev() {
        let members = group.iter().filter_map(|k| now.get(*k));
        let product: f64 = members.map(|nodes| value(nodes, node)).product();
        if value(weights, node) * product > SPELL_WEIGHT_MIN * here {
            return node;
        }
    }
    0
}
