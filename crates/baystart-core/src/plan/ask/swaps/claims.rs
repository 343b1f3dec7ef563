//! The pieces that builds could exchange, read from a shop's book.

use super::problem::{Claim, Party, Problem};
use crate::book::model::{Build, Line, StageState};
use crate::ids::{LineId, PartId};
use crate::plan::ask::weight;
use crate::plan::frame::placed::find;
use crate::plan::frame::view::View;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::sources::{Key, waits};
use crate::quantity::Quantity;
use std::collections::{BTreeMap, BTreeSet};

/// Pieces of one part that are looked at; a part of more is left out.
const PIECES_MAX: usize = 400;
/// Of a source's arrival, in place of its distribution: between the 80 % of the whole and what its
/// worst sources must then have. Only the search uses it; what it finds is forecast anew.
const QUANTILE: f64 = 0.9;

/// A build of the search.
pub(super) struct Side<'a> {
    pub row: &'a Build,
    pub reckoned: Reckoned<'a>,
    /// Working days late at 80 %; None: it has no due day.
    pub days: Option<i64>,
}

/// The problem, and what its indices stand for.
pub(super) struct Claims {
    pub problem: Problem,
    /// Part, size of a piece, and the line of each claim.
    pub parts: Vec<(PartId, Quantity, Vec<LineId>)>,
}

/// What a line has of its part: so much, on that axis index.
struct Share<'a> {
    line: &'a Line,
    party: usize,
    offset: i64,
    at: i64,
    quantity: Quantity,
}

/// The parts of which a late build and another one have lines, with all who have some. `slips` says
/// whether a build may become later than it is.
pub(super) fn claims(
    view: &View<'_>,
    sides: &[Side<'_>],
    slips: impl Fn(&Build) -> bool,
) -> Claims {
    let mut held: BTreeMap<PartId, Vec<Share<'_>>> = BTreeMap::new();
    for (party, side) in sides.iter().enumerate() {
        for one in shares(view, party, side) {
            held.entry(one.line.part).or_default().push(one);
        }
    }
    held.retain(|_, shares| {
        let parties: BTreeSet<usize> = shares.iter().map(|one| one.party).collect();
        let late = |party: &usize| sides.get(*party).is_some_and(|side| side.days > Some(0));
        parties.len() > 1 && parties.iter().any(late)
    });
    let mut parts = Vec::new();
    let mut rows: Vec<Vec<Claim>> = Vec::new();
    for (part, shares) in &held {
        let size = shares.iter().fold(0, |size, one| common(size, one.quantity.milli()));
        let pieces: i64 = shares.iter().map(|one| one.quantity.milli() / size.max(1)).sum();
        if size <= 0 || usize::try_from(pieces).is_ok_and(|pieces| pieces > PIECES_MAX) {
            continue;
        }
        let (mut lines, mut claims) = (Vec::new(), Vec::new());
        for one in shares {
            for _ in 0..one.quantity.milli() / size {
                lines.push(one.line.id);
                claims.push(Claim { party: one.party, offset: one.offset, at: one.at });
            }
        }
        parts.push((*part, Quantity::from_milli(size), lines));
        rows.push(claims);
    }
    let moving: BTreeSet<PartId> = parts.iter().map(|(part, ..)| *part).collect();
    let mut problem = Problem { parties: Vec::new(), parts: rows };
    for side in sides {
        problem.parties.push(party(view, side, &moving, slips(side.row)));
    }
    // In days of the search, each is as late as its forecast says.
    let starts = problem.starts();
    for ((party, start), side) in problem.parties.iter_mut().zip(starts).zip(sides) {
        party.due = match side.days {
            Some(days) => start - days,
            None => i64::MAX / 4,
        };
    }
    Claims { problem, parts }
}

fn party(view: &View<'_>, side: &Side<'_>, moving: &BTreeSet<PartId>, may_slip: bool) -> Party {
    let mut floor = 0;
    for (source, here) in side.reckoned.dated.iter().zip(&side.reckoned.here) {
        let lendable = source.thing.part().is_some_and(|part| moving.contains(&part))
            && source.waits.iter().all(|wait| lends(view, wait.line));
        if !lendable {
            floor = floor.max(quantile(here) - i64::from(source.offset_days()));
        }
    }
    Party { due: 0, floor, weight: weight::of_priority(side.row.priority), may_slip }
}

fn shares<'a>(view: &View<'a>, party: usize, side: &Side<'a>) -> Vec<Share<'a>> {
    let mut arrivals: BTreeMap<Key, i64> = BTreeMap::new();
    for (source, here) in side.reckoned.dated.iter().zip(&side.reckoned.here) {
        for wait in &source.waits {
            arrivals.insert(wait.key, quantile(here));
        }
    }
    let mut rows = Vec::new();
    for line in view.book.lines_of(side.row.id) {
        if !lends(view, line) {
            continue;
        }
        let Some(stage) = find(&side.reckoned.placed, line.stage) else { continue };
        if stage.state == StageState::Done {
            continue;
        }
        let offset = i64::from(stage.offset_days);
        let holding = |at, quantity| Share { line, party, offset, at, quantity };
        // What is fitted or handed out stays where it is.
        let here = (view.here(line) - line.issued).or_zero();
        if here.is_positive() {
            rows.push(holding(0, here));
        }
        for wait in waits(view, line) {
            // What nobody dates moves no date: it is no claim.
            rows.extend(arrivals.get(&wait.key).map(|at| holding(*at, wait.quantity)));
        }
    }
    rows
}

/// Whether `decide::lend` would let a line take part.
fn lends(view: &View<'_>, line: &Line) -> bool {
    let to_order = view.book.parts.get(&line.part).is_some_and(|part| part.made_to_order);
    let own = line.customer_supplied || line.making.is_some() || line.made_for != 0;
    view.book.gates(line) && !own && !to_order
}

fn quantile(here: &[f64]) -> i64 {
    let at = here.partition_point(|by| *by < QUANTILE - 1e-9);
    i64::try_from(at).unwrap_or(i64::MAX)
}

fn common(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}
