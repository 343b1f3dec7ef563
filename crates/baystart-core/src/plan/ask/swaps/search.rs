//! Proposals: what the search finds on whole days, made in a copy and forecast.

use super::claims::Claims;
use super::problem::Exchange;
use super::{Lateness, SwapLoan, SwapProposal, SwapSide, late_of};
use crate::book::Book;
use crate::command::{BindCommand, Command};
use crate::ids::BuildId;
use crate::plan::ask::weight;
use crate::plan::frame::overlay::Overlay;
use crate::plan::frame::view::View;
use crate::refs::Ref;
use crate::refusal::Refusal;
use std::collections::{BTreeMap, BTreeSet};

/// Proposals that are forecast at most; what is not looked at is not proposed.
const LOOKED_AT_MAX: usize = 60;
/// Pieces of a late build for which single loans are forecast, the latest first.
const SINGLE_WANTS_MAX: usize = 3;
/// Lenders of each, the soonest piece first.
const SINGLE_GIVERS_MAX: usize = 3;

pub(super) struct Search<'v, 'a> {
    pub view: &'v View<'a>,
    pub before: &'v BTreeMap<BuildId, Lateness>,
    pub cost_lower_priority: bool,
    pub looked_at: usize,
    /// Whether somebody still waits; what is found after nobody does is of no use.
    pub go_on: &'v dyn Fn() -> bool,
}

impl Search<'_, '_> {
    /// The proposals that make the builds of `targets` less late, each forecast.
    pub(super) fn of(
        &mut self,
        claims: &Claims,
        targets: &[usize],
    ) -> Result<Vec<SwapProposal>, Refusal> {
        let problem = &claims.problem;
        let mut order = targets.to_vec();
        let slips = |at: &usize| problem.parties.get(*at).is_some_and(|party| party.may_slip);
        order.extend((0..problem.parties.len()).filter(|at| slips(at) && !targets.contains(at)));
        let Some(caps) = problem.best_caps(&order) else { return Ok(Vec::new()) };
        let (_, exchanges) = problem.exchanges(&caps);
        let mut proposals = Vec::new();
        for group in together(claims, &exchanges) {
            if self.looked_at >= LOOKED_AT_MAX || !(self.go_on)() {
                break;
            }
            self.looked_at += 1;
            proposals.extend(self.tried(claims, &group)?);
        }
        Ok(proposals)
    }

    /// Single loans to a build that the search on whole days leaves without one: a day or two may
    /// hide in its distributions. The best of them by forecast.
    pub(super) fn single_loans(
        &mut self,
        claims: &Claims,
        target: usize,
    ) -> Result<Vec<SwapProposal>, Refusal> {
        let mut wants = Vec::new();
        for (part, rows) in claims.problem.parts.iter().enumerate() {
            for (to, own) in rows.iter().enumerate().filter(|(_, claim)| claim.party == target) {
                let mut givers: Vec<usize> = (0..rows.len())
                    .filter(|from| {
                        rows.get(*from).is_some_and(|row| row.party != target && row.at < own.at)
                    })
                    .collect();
                givers.sort_by_key(|from| rows.get(*from).map(|row| row.at));
                let exchange = |from: &usize| Exchange { part, from: *from, to };
                let some = givers.iter().take(SINGLE_GIVERS_MAX).map(exchange);
                wants.push((own.at - own.offset, some.collect::<Vec<_>>()));
            }
        }
        wants.sort_by_key(|(start, _)| std::cmp::Reverse(*start));
        let mut best: Option<SwapProposal> = None;
        for exchange in wants.iter().take(SINGLE_WANTS_MAX).flat_map(|(_, some)| some) {
            if self.looked_at >= LOOKED_AT_MAX || !(self.go_on)() {
                break;
            }
            self.looked_at += 1;
            let found = self.tried(claims, std::slice::from_ref(exchange))?;
            let gained = |row: &Option<SwapProposal>| row.as_ref().map_or(0, |row| row.days_gained);
            if gained(&found) > gained(&best) {
                best = found;
            }
        }
        Ok(best.into_iter().collect())
    }

    /// Makes the loans in a copy, and forecasts; None: one is refused, or it does not hold.
    fn tried(&self, claims: &Claims, group: &[Exchange]) -> Result<Option<SwapProposal>, Refusal> {
        let view = self.view;
        let mut lent = Overlay::of(view.book, view.as_of);
        let mut loans = Vec::new();
        for loan in loans_of(view.book, claims, group) {
            let command = Command::Bind(BindCommand::Lend {
                build: Ref::Uid(loan.from_build.0),
                line: loan.from_line,
                to_build: Ref::Uid(loan.to_build.0),
                to_line: loan.to_line,
                quantity: Some(loan.quantity),
                reason: String::new(),
                shown: None,
            });
            if lent.decide(&command).is_err() {
                return Ok(None);
            }
            loans.push(loan);
        }
        let book = lent.book;
        let parts: BTreeSet<_> = group
            .iter()
            .filter_map(|one| claims.parts.get(one.part))
            .map(|(part, ..)| *part)
            .collect();
        let touched: BTreeSet<BuildId> = book
            .lines
            .values()
            .filter(|line| parts.contains(&line.part) && self.before.contains_key(&line.build))
            .map(|line| line.build)
            .collect();
        let after = late_of(&View::new(&book, view.learned, view.as_of), &touched)?;
        Ok(self.judged(loans, &after))
    }

    fn judged(
        &self,
        loans: Vec<SwapLoan>,
        after: &BTreeMap<BuildId, Lateness>,
    ) -> Option<SwapProposal> {
        let mut sides = Vec::new();
        for (id, after) in after {
            let before = self.before.get(id)?;
            let later = before
                .start
                .zip(after.start)
                .map(|(a, b)| self.view.calendar.working_days_between(a, b));
            let lends = loans
                .iter()
                .any(|loan| loan.from_build == before.build || loan.to_build == before.build);
            if lends || before != after {
                sides.push(SwapSide { before: before.clone(), after: after.clone(), later });
            }
        }
        let gained = |side: &SwapSide| side.before.days_late() - side.after.days_late();
        let helped = sides.iter().filter(|side| gained(side) > 0);
        let last = helped.map(|side| side.before.priority).max()?;
        let weighted = |side: &SwapSide| {
            let days = i32::try_from(gained(side)).map_or(0.0, f64::from);
            days * weight::of_priority(side.before.priority)
        };
        let may_pay = |side: &SwapSide| self.cost_lower_priority && side.before.priority > last;
        let unfair = sides.iter().any(|side| gained(side) < 0 && !may_pay(side));
        if unfair || sides.iter().map(weighted).sum::<f64>() <= 0.0 {
            return None;
        }
        let number = |side: &SwapSide| self.view.book.build_number(side.before.build);
        sides.sort_by(|a, b| {
            gained(b)
                .cmp(&gained(a))
                .then(a.later.cmp(&b.later))
                .then_with(|| number(a).cmp(number(b)))
        });
        let days_gained = sides.iter().map(gained).sum();
        Some(SwapProposal { loans, sides, days_gained })
    }
}

/// Exchanges that share a build, taken together; builds in the order of the first exchange.
fn together(claims: &Claims, exchanges: &[Exchange]) -> Vec<Vec<Exchange>> {
    let parties = |one: &Exchange| {
        let claims = claims.problem.parts.get(one.part);
        let party = |at: usize| claims.and_then(|claims| claims.get(at)).map(|claim| claim.party);
        [party(one.from), party(one.to)].into_iter().flatten().collect::<BTreeSet<usize>>()
    };
    let mut groups: Vec<(BTreeSet<usize>, Vec<Exchange>)> = Vec::new();
    for one in exchanges {
        let (mut builds, mut group) = (parties(one), Vec::new());
        let mut apart = Vec::new();
        for (others, rows) in groups {
            if others.is_disjoint(&builds) {
                apart.push((others, rows));
            } else {
                builds.extend(others);
                group.extend(rows);
            }
        }
        group.push(*one);
        apart.push((builds, group));
        groups = apart;
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

/// The loans that make the exchanges; those between the same two lines taken together.
fn loans_of(book: &Book, claims: &Claims, group: &[Exchange]) -> Vec<SwapLoan> {
    let mut loans: Vec<SwapLoan> = Vec::new();
    for one in group {
        let Some((part, size, lines)) = claims.parts.get(one.part) else { continue };
        let line = |at: usize| book.lines.get(lines.get(at)?);
        let (Some(from), Some(to)) = (line(one.from), line(one.to)) else { continue };
        let loan = SwapLoan {
            from_build: from.build,
            from_line: from.number,
            to_build: to.build,
            to_line: to.number,
            part: *part,
            quantity: *size,
        };
        match loans.iter_mut().find(|other| other.between() == loan.between()) {
            Some(same) => same.quantity += *size,
            None => loans.push(loan),
        }
    }
    loans
}

impl SwapLoan {
    /// The two lines.
    const fn between(&self) -> (BuildId, i32, BuildId, i32) {
        (self.from_build, self.from_line, self.to_build, self.to_line)
    }
}
