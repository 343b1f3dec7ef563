//! Swap proposals: what builds could lend each other so that late ones come in time.

mod claims;
mod lateness;
mod problem;
#[cfg(test)]
mod problem_tests;
#[cfg(test)]
mod tests;

pub use lateness::{LateAgainst, Lateness};

use super::holdings::bays;
use super::learned::Learned;
use super::view::View;
use crate::book::Book;
use crate::book::model::{Build, BuildState};
use crate::command::{BindCommand, Command};
use crate::decide::{Context, decide};
use crate::ids::{BuildId, CountingIds};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::Refusal;
use claims::{Claims, Side, claims};
use jiff::Timestamp;
use jiff::civil::Date;
use lateness::lateness;
use problem::Exchange;
use std::collections::{BTreeMap, BTreeSet};

/// Proposals that are forecast at most; what is not looked at is not proposed.
const LOOKED_AT_MAX: usize = 60;
/// Pieces of a late build for which single loans are forecast, the latest first.
const SINGLE_WANTS_MAX: usize = 3;
/// Lenders of each, the soonest piece first.
const SINGLE_GIVERS_MAX: usize = 3;

/// One loan of a proposal.
#[derive(Clone, Debug, PartialEq)]
pub struct SwapLoan {
    /// Number of the build that gives.
    pub from_build: String,
    /// Its line.
    pub from_line: i32,
    /// Number of the build that gets.
    pub to_build: String,
    /// Its line.
    pub to_line: i32,
    /// Part number.
    pub part: String,
    /// Its description.
    pub description: String,
    /// How much, in the part's unit.
    pub quantity: Quantity,
}

/// A build that a proposal would move, before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct SwapSide {
    /// As it is.
    pub before: Lateness,
    /// As it would be.
    pub after: Lateness,
    /// Working days by which its start at 80 % comes later; negative: sooner. None: no date on a side.
    pub later: Option<i64>,
}

/// Loans that belong together: without one of them, the others may help nobody.
#[derive(Clone, Debug, PartialEq)]
pub struct SwapProposal {
    /// In the order in which they are made.
    pub loans: Vec<SwapLoan>,
    /// Every build whose lateness or start changes, what is gained most first.
    pub sides: Vec<SwapSide>,
    /// Working days of lateness that go, over all builds; what others get later is taken off.
    pub days_gained: i64,
}

/// What could be exchanged.
#[derive(Clone, Debug, PartialEq)]
pub struct Swaps {
    /// The most days gained first. Each speaks from how things stand now: once one is carried out, ask
    /// again.
    pub proposals: Vec<SwapProposal>,
    /// Builds that are late, by priority and number.
    pub late: Vec<Lateness>,
}

/// Loans between builds that are open or in a bay, that make late ones less late at 80 %.
///
/// Late is: the start at 80 % after the planned start, the handover at 80 % after the day that the
/// customer was given (without one: the required day), or any wait in a bay. A proposal makes no
/// other build late or later; with `cost_lower_priority` it may, if that build has a lower priority
/// than all that gain and the weighted sum of days late falls, with weight 200 / (100 + priority).
///
/// The search works on one day per arrival (see [`problem`]); each of its proposals is then made in
/// a copy of the book by the commands that would make it, and forecast: only what holds there is
/// proposed, with the days that were found there. Nothing is changed.
///
/// # Errors
/// None for a book that keeps the rules; a refusal of the overlay of a build on hold in a bay is
/// passed on.
pub fn swaps(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    cost_lower_priority: bool,
) -> Result<Swaps, Refusal> {
    let view = View::new(book, learned, as_of);
    let before = all_late(&view)?;
    let mut sides = Vec::new();
    for row in ordered(book) {
        let days = before.get(&row.id).and_then(|late| late.days);
        sides.push(Side { row, reckoned: view.reckon(row.id), days });
    }
    let late: Vec<usize> =
        (0..sides.len()).filter(|at| sides.get(*at).is_some_and(|s| s.days > Some(0))).collect();
    let mut search = Search { view: &view, before: &before, cost_lower_priority, looked_at: 0 };
    let mut proposals: Vec<SwapProposal> = Vec::new();
    // All late ones together, then each by itself: two may need the same piece, or only one be helped
    // in the forecast.
    let mut sets = vec![late.clone()];
    sets.extend(late.iter().map(|at| vec![*at]));
    for set in &sets {
        let least = set.iter().filter_map(|at| sides.get(*at)).map(|side| side.row.priority).max();
        let slips =
            |row: &Build| cost_lower_priority && least.is_some_and(|least| row.priority > least);
        let claims = claims(&view, &sides, slips);
        let mut found = search.of(&claims, set)?;
        if let ([at], []) = (set.as_slice(), found.as_slice())
            && !proposals.iter().any(|other| helps(other, sides.get(*at)))
        {
            found = search.single_loans(&claims, *at)?;
        }
        for proposal in found {
            if !proposals.iter().any(|other| other.loans == proposal.loans) {
                proposals.push(proposal);
            }
        }
    }
    proposals.sort_by(|a, b| {
        let lost = |row: &SwapProposal| {
            row.sides.iter().filter_map(|s| s.later).filter(|d| *d > 0).sum::<i64>()
        };
        b.days_gained
            .cmp(&a.days_gained)
            .then(a.loans.len().cmp(&b.loans.len()))
            .then(lost(a).cmp(&lost(b)))
            .then_with(|| name(a).cmp(&name(b)))
    });
    let late = late.iter().filter_map(|at| sides.get(*at));
    let late = late.filter_map(|side| before.get(&side.row.id).cloned()).collect();
    Ok(Swaps { proposals, late })
}

fn helps(proposal: &SwapProposal, side: Option<&Side<'_>>) -> bool {
    let number = side.map_or("", |side| side.row.number.written());
    let gains = |row: &SwapSide| row.before.days_late() > row.after.days_late();
    proposal.sides.iter().any(|row| row.before.build == number && gains(row))
}

fn name(proposal: &SwapProposal) -> Vec<(&str, i32)> {
    proposal.loans.iter().map(|loan| (loan.to_build.as_str(), loan.to_line)).collect()
}

/// Builds that bind parts, in the order of service.
fn ordered(book: &Book) -> Vec<&Build> {
    let binds = |row: &&Build| matches!(row.state, BuildState::Open | BuildState::InBay);
    let mut rows: Vec<&Build> = book.builds.values().filter(binds).collect();
    rows.sort_by_cached_key(|row| book.service_key(row));
    rows
}

fn all_late(view: &View<'_>) -> Result<BTreeMap<BuildId, Lateness>, Refusal> {
    let rows: Vec<BuildId> = ordered(view.book).iter().map(|row| row.id).collect();
    late_of(view, &rows.into_iter().collect())
}

fn late_of(
    view: &View<'_>,
    builds: &BTreeSet<BuildId>,
) -> Result<BTreeMap<BuildId, Lateness>, Refusal> {
    let bays = bays(view.book, view.learned, view.as_of, view)?;
    let never = i64::try_from(view.axis.len()).unwrap_or(i64::MAX);
    let mut rows = BTreeMap::new();
    for row in builds.iter().filter_map(|id| view.book.builds.get(id)) {
        let forecast = view.forecast(row, None, &bays);
        rows.insert(row.id, lateness(row, &forecast, &view.calendar, never));
    }
    Ok(rows)
}

struct Search<'v, 'a> {
    view: &'v View<'a>,
    before: &'v BTreeMap<BuildId, Lateness>,
    cost_lower_priority: bool,
    looked_at: usize,
}

impl Search<'_, '_> {
    /// The proposals that make the builds of `targets` less late, each forecast.
    fn of(&mut self, claims: &Claims, targets: &[usize]) -> Result<Vec<SwapProposal>, Refusal> {
        let problem = &claims.problem;
        let mut order = targets.to_vec();
        let slips = |at: &usize| problem.parties.get(*at).is_some_and(|party| party.may_slip);
        order.extend((0..problem.parties.len()).filter(|at| slips(at) && !targets.contains(at)));
        let Some(caps) = problem.best_caps(&order) else { return Ok(Vec::new()) };
        let (_, exchanges) = problem.exchanges(&caps);
        let mut proposals = Vec::new();
        for group in together(claims, &exchanges) {
            if self.looked_at >= LOOKED_AT_MAX {
                break;
            }
            self.looked_at += 1;
            proposals.extend(self.tried(claims, &group)?);
        }
        Ok(proposals)
    }

    /// Single loans to a build that the search on whole days leaves without one: a day or two may
    /// hide in its distributions. The best of them by forecast.
    fn single_loans(
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
            if self.looked_at >= LOOKED_AT_MAX {
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
        let mut book = view.book.clone();
        // Ids that no database gives: version 7 ids never have this high half.
        let mut ids = CountingIds(u128::MAX << 64);
        let mut loans = Vec::new();
        for loan in loans_of(view.book, claims, group) {
            let mut context = Context {
                ids: &mut ids,
                today: view.as_of,
                recorded_at: Timestamp::MAX,
                by: "",
                secret_hash: None,
                stated_chance: None,
                stock_points: &[],
                revision: 0,
            };
            let (from, to) = (self.find(&loan.from_build)?, self.find(&loan.to_build)?);
            let command = Command::Bind(BindCommand::Lend {
                build: Ref::Uid(from.0),
                line: loan.from_line,
                to_build: Ref::Uid(to.0),
                to_line: loan.to_line,
                quantity: Some(loan.quantity),
                reason: String::new(),
                shown: None,
            });
            if decide(&mut book, &mut context, &command).is_err() {
                return Ok(None);
            }
            loans.push(loan);
        }
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

    fn find(&self, number: &str) -> Result<BuildId, Refusal> {
        use crate::refusal::Reason;
        let row = self.view.book.builds.values().find(|row| row.number.written() == number);
        row.map(|row| row.id).ok_or_else(|| Refusal::new(Reason::BuildUnknown, number))
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
            days * 200.0 / (100.0 + f64::from(side.before.priority))
        };
        let may_pay = |side: &SwapSide| self.cost_lower_priority && side.before.priority > last;
        let unfair = sides.iter().any(|side| gained(side) < 0 && !may_pay(side));
        if unfair || sides.iter().map(weighted).sum::<f64>() <= 0.0 {
            return None;
        }
        sides.sort_by(|a, b| {
            gained(b)
                .cmp(&gained(a))
                .then(a.later.cmp(&b.later))
                .then_with(|| a.before.build.cmp(&b.before.build))
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

/// The loans that make the exchanges, those between the same two lines taken together.
fn loans_of(book: &Book, claims: &Claims, group: &[Exchange]) -> Vec<SwapLoan> {
    let mut loans: Vec<SwapLoan> = Vec::new();
    for one in group {
        let Some((part, size, lines)) = claims.parts.get(one.part) else { continue };
        let line = |at: usize| book.lines.get(lines.get(at)?);
        let number = |build: BuildId| book.builds.get(&build).map(|row| row.number.written());
        let (Some(from), Some(to)) = (line(one.from), line(one.to)) else { continue };
        let (Some(lender), Some(taker)) = (number(from.build), number(to.build)) else { continue };
        let same = loans.iter_mut().find(|loan| {
            let (giver, getter) = (loan.from_build.as_str(), loan.to_build.as_str());
            (giver, loan.from_line) == (lender, from.number)
                && (getter, loan.to_line) == (taker, to.number)
        });
        if let Some(loan) = same {
            loan.quantity += *size;
            continue;
        }
        let row = book.parts.get(part);
        loans.push(SwapLoan {
            from_build: lender.to_owned(),
            from_line: from.number,
            to_build: taker.to_owned(),
            to_line: to.number,
            part: row.map_or(String::new(), |row| row.number.written().to_owned()),
            description: row.map_or(String::new(), |row| row.description.clone()),
            quantity: *size,
        });
    }
    loans
}
