//! Swap proposals: what builds could lend each other so that late ones come in time.

mod claims;
mod lateness;
mod problem;
#[cfg(test)]
mod problem_tests;
mod search;
#[cfg(test)]
mod tests;

use lateness::due_by;
pub use lateness::{LateAgainst, Lateness};

use crate::book::Book;
use crate::book::model::Build;
use crate::ids::{BuildId, PartId};
use crate::plan::bays::live::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::View;
use crate::quantity::Quantity;
use crate::refusal::Refusal;
use claims::{Side, claims};
use jiff::civil::Date;
use search::Search;
use std::collections::{BTreeMap, BTreeSet};

/// One loan of a proposal.
#[derive(Clone, Debug, PartialEq)]
pub struct SwapLoan {
    /// The build that gives.
    pub from_build: BuildId,
    /// Number of its line.
    pub from_line: i32,
    /// The build that gets.
    pub to_build: BuildId,
    /// Number of its line.
    pub to_line: i32,
    /// The part.
    pub part: PartId,
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
/// proposed, with the days that were found there. Nothing is changed. `go_on` is asked before each
/// build and each exchange whether somebody still waits; None: nobody does.
///
/// # Errors
/// None for a book that keeps the rules; a refusal of the overlay of a build on hold in a bay is
/// passed on.
pub fn swaps(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    cost_lower_priority: bool,
    go_on: &dyn Fn() -> bool,
) -> Result<Option<Swaps>, Refusal> {
    let view = View::new(book, learned, as_of);
    let bays = bays_if_due(&view, &ordered(book))?;
    let (mut before, mut sides) = (BTreeMap::new(), Vec::new());
    for row in ordered(book) {
        if !go_on() {
            return Ok(None);
        }
        let reckoned = view.reckon(row.id);
        let late = view.lateness(row, &reckoned, bays.as_ref());
        sides.push(Side { row, reckoned, days: late.days });
        before.insert(row.id, late);
    }
    let late: Vec<usize> =
        (0..sides.len()).filter(|at| sides.get(*at).is_some_and(|s| s.days > Some(0))).collect();
    let (view, before) = (&view, &before);
    let mut search = Search { view, before, cost_lower_priority, looked_at: 0, go_on };
    let mut proposals: Vec<SwapProposal> = Vec::new();
    // All late ones together, then each by itself: two may need the same piece, or only one be helped
    // in the forecast.
    let mut sets = vec![late.clone()];
    sets.extend(late.iter().map(|at| vec![*at]));
    for set in &sets {
        let least = set.iter().filter_map(|at| sides.get(*at)).map(|side| side.row.priority).max();
        let slips =
            |row: &Build| cost_lower_priority && least.is_some_and(|least| row.priority > least);
        let claims = claims(view, &sides, slips);
        let mut found = search.of(&claims, set)?;
        if let ([at], []) = (set.as_slice(), found.as_slice())
            && !proposals.iter().any(|other| helps(other, sides.get(*at)))
        {
            found = search.single_loans(&claims, *at)?;
        }
        if !go_on() {
            return Ok(None);
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
            .then_with(|| name(book, a).cmp(&name(book, b)))
    });
    let late = late.iter().filter_map(|at| sides.get(*at));
    let late = late.filter_map(|side| before.get(&side.row.id).cloned()).collect();
    Ok(Some(Swaps { proposals, late }))
}

fn helps(proposal: &SwapProposal, side: Option<&Side<'_>>) -> bool {
    let gains = |row: &SwapSide| row.before.days_late() > row.after.days_late();
    let is_side = |row: &SwapSide| side.is_some_and(|side| side.row.id == row.before.build);
    proposal.sides.iter().any(|row| is_side(row) && gains(row))
}

fn name<'b>(book: &'b Book, proposal: &SwapProposal) -> Vec<(&'b str, i32)> {
    let loans = proposal.loans.iter();
    loans.map(|loan| (book.build_number(loan.to_build), loan.to_line)).collect()
}

/// Builds that bind parts, in the order of service.
fn ordered(book: &Book) -> Vec<&Build> {
    let mut rows: Vec<&Build> = book.builds.values().filter(|row| row.state.binds()).collect();
    rows.sort_by_cached_key(|row| book.service_key(row));
    rows
}

fn late_of(
    view: &View<'_>,
    builds: &BTreeSet<BuildId>,
) -> Result<BTreeMap<BuildId, Lateness>, Refusal> {
    let rows: Vec<&Build> = builds.iter().filter_map(|id| view.book.builds.get(id)).collect();
    let bays = bays_if_due(view, &rows)?;
    let late = |row: &&Build| (row.id, view.lateness(row, &view.reckon(row.id), bays.as_ref()));
    Ok(rows.iter().map(late).collect())
}

/// The bays played, if one of the builds is due by a day of delivery: without, only starts are compared.
fn bays_if_due(view: &View<'_>, rows: &[&Build]) -> Result<Option<Bays>, Refusal> {
    let any = rows.iter().any(|row| due_by(row).is_some());
    any.then(|| bays(view.book, view.learned, view.as_of, view)).transpose()
}
