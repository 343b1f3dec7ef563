//! One day's gating shares where groups share causes.

use super::{Grouped, Nodes, multiply, rule::RuleChoice, value};
use crate::forecast::{
    cause::{expectation, sum_of_products},
    hermite::{NODES, normal_rule},
};

/// Room for one day's shares, kept from day to day.
#[derive(Default)]
pub(super) struct Work {
    /// Unscaled shares of the day, by source.
    pub(super) shares: Vec<f64>,
    /// f_k of every source, node by node.
    came: Vec<Nodes>,
    /// Of the members of a group: H_k - v f_k, and the product of the members before, node by node.
    members: Vec<(Nodes, Nodes)>,
    /// The member shares of one v, before the other groups are multiplied in.
    partial: Vec<(usize, usize, f64)>,
    group_here: Vec<f64>,
    choice: RuleChoice,
}

impl Work {
    /// The shares of `day`, on which the build becomes startable with `startable` in all.
    pub(super) fn day(
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
        let rule = self.choice.rule_for(of, day, startable, before, now);
        self.came.resize(now.len(), [0.0; NODES]);
        for ((came, before), now) in self.came.iter_mut().zip(before).zip(now) {
            for ((came, before), now) in came.iter_mut().zip(before).zip(now) {
                *came = now - before;
            }
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
        if self.members.len() < group.len() {
            self.members.resize(group.len(), ([0.0; NODES], [0.0; NODES]));
        }
        let mut product = [1.0; NODES];
        for (k, (at_v, before_it)) in group.iter().zip(&mut self.members) {
            let (Some(n), Some(f)) = (now.get(*k), self.came.get(*k)) else {
                continue;
            };
            *before_it = product;
            let cells = at_v.iter_mut().zip(&mut product).zip(n.iter().zip(f));
            for ((at_v, product), (n, f)) in cells {
                *at_v = n - v * f;
                *product *= *at_v;
            }
        }
        self.group_here.push(expectation(&product));
        let mut after = normal_rule().weight;
        for (k, (at_v, before_it)) in group.iter().zip(&self.members).rev() {
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
