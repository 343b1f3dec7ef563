//! How many nodes the integral over the hours of a day needs.
//!
//! The 2m-th derivative of the day's shares together is at most `E [P r^(2m + 1)]`, with r the sum of
//! f_k / H_k over the sources and P the product of all H_k, given the causes (see `ties`). The groups
//! are independent, so the moments of r are put together group by group.

use super::{Grouped, Nodes, value};
use crate::forecast::{
    hermite::NODES,
    quadrature::{NODES_MAX, Rule, rules},
};

/// Largest quadrature error of the shares of one day, which are then scaled to their exact sum.
const DAY_ERROR_MAX: f64 = 1e-7;
/// Bad spells that weigh less than this do not choose a long rule.
const SPELL_WEIGHT_MIN: f64 = 1e-7;
/// Moments of r that are kept: rules of up to three nodes are chosen by them.
const MOMENTS: usize = 8;
/// Last nodes of the blocks in which r is taken at its worst: f_k / H_k grows with Z.
const BLOCK_ENDS: [usize; 6] = [9, 12, 14, 16, 19, NODES - 1];

const BINOMIALS: [[f64; MOMENTS]; MOMENTS] = binomials();

const fn binomials() -> [[f64; MOMENTS]; MOMENTS] {
    let mut all = [[0.0; MOMENTS]; MOMENTS];
    let mut n = 0;
    while n < MOMENTS {
        all[n][0] = 1.0;
        let mut k = 1;
        while k <= n {
            all[n][k] = all[n - 1][k - 1] + all[n - 1][k];
            k += 1;
        }
        n += 1;
    }
    all
}

type Moments = [f64; MOMENTS];

/// Room for the choice, kept from day to day.
#[derive(Default)]
pub(super) struct RuleChoice {
    /// (weight, r) of one group, block by block.
    blocks: Vec<(f64, f64)>,
}

impl RuleChoice {
    /// The smallest rule known to be good enough for the day, or exact.
    pub(super) fn rule_for(
        &mut self,
        of: &Grouped<'_>,
        day: usize,
        startable: f64,
        before: &[Nodes],
        now: &[Nodes],
    ) -> &'static Rule {
        let (arriving, worst) = at_the_worst(of, day, before, now);
        let exact_nodes = arriving.div_ceil(2);
        let mut power = startable * worst;
        let mut moments: Option<Moments> = None;
        for (index, rule) in rules().iter().enumerate() {
            power *= worst * worst;
            if index + 1 >= exact_nodes || power * rule.error_factor <= DAY_ERROR_MAX {
                return rule;
            }
            let order = 2 * (index + 1) + 1;
            if order < MOMENTS {
                let moments = moments.get_or_insert_with(|| self.moments(of, day, before, now));
                if startable * value(moments, order) * rule.error_factor <= DAY_ERROR_MAX {
                    return rule;
                }
            }
        }
        &rules()[NODES_MAX - 1]
    }

    /// Upper bounds of the moments of r, spells weighted by what they add to the start's chance.
    fn moments(
        &mut self,
        of: &Grouped<'_>,
        day: usize,
        before: &[Nodes],
        now: &[Nodes],
    ) -> Moments {
        let mut all = [0.0; MOMENTS];
        all[0] = 1.0;
        for (g, group) in of.groups.iter().enumerate() {
            self.blocks.clear();
            if let [k] = group.as_slice() {
                let (b, n) = (value(of.table.day(day - 1), *k), value(of.table.day(day), *k));
                self.blocks.push((1.0, share_today(b, n)));
            } else {
                let weighted = of.products.get(g).copied().unwrap_or([0.0; NODES]);
                let total: f64 = weighted.iter().sum();
                let mut from = 0;
                for end in BLOCK_ENDS {
                    let weight: f64 = weighted.iter().take(end + 1).skip(from).sum();
                    if weight > 0.0 {
                        self.blocks.push((weight / total, sum_today(group, end, before, now)));
                    }
                    from = end + 1;
                }
            }
            all = of_sum(&all, &moments_of(&self.blocks));
        }
        all
    }
}

fn moments_of(blocks: &[(f64, f64)]) -> Moments {
    let mut found = [0.0; MOMENTS];
    for (weight, r) in blocks {
        let mut power = *weight;
        for moment in &mut found {
            *moment += power;
            power *= r;
        }
    }
    found
}

/// The moments of a sum of two independent variables.
fn of_sum(a: &Moments, b: &Moments) -> Moments {
    let mut found = [0.0; MOMENTS];
    for (order, (found, binomials)) in found.iter_mut().zip(&BINOMIALS).enumerate() {
        let pairs = a.iter().zip(b.iter().take(order + 1).rev()).zip(binomials);
        *found = pairs.map(|((a, b), binomial)| binomial * a * b).sum();
    }
    found
}

/// f / H: the chance that what is here by the day came on it.
fn share_today(before: f64, now: f64) -> f64 {
    if now > before { (now - before) / now } else { 0.0 }
}

fn sum_today(group: &[usize], node: usize, before: &[Nodes], now: &[Nodes]) -> f64 {
    let members = group.iter().filter_map(|k| Some((before.get(*k)?, now.get(*k)?)));
    members.map(|(b, n)| share_today(value(b, node), value(n, node))).sum()
}

/// The sources that can arrive on the day, and r if every group has its worst spell that matters.
fn at_the_worst(of: &Grouped<'_>, day: usize, before: &[Nodes], now: &[Nodes]) -> (usize, f64) {
    let (mut arriving, mut r) = (0, 0.0);
    for (g, group) in of.groups.iter().enumerate() {
        if let [k] = group.as_slice() {
            let (b, n) = (value(of.table.day(day - 1), *k), value(of.table.day(day), *k));
            r += share_today(b, n);
            arriving += usize::from(n > b);
            continue;
        }
        arriving += group.len();
        let here = value(&of.here, day * of.groups.len() + g);
        let weighted = of.products.get(g).map(Nodes::as_slice).unwrap_or_default();
        let spell = weighted.iter().rposition(|w| *w > SPELL_WEIGHT_MIN * here).unwrap_or(0);
        r += sum_today(group, spell, before, now);
    }
    (arriving, r)
}
