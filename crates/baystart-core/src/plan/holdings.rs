//! Who holds a bay, and until when.

use super::bays::{BayDays, Holding};
use super::delivery::in_bay;
use super::learned::Learned;
use super::view::{View, as_if_open};
use crate::book::Book;
use crate::book::model::{Build, BuildState};
use crate::ids::BuildId;
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Confidence up to which a build in the bay is counted as in it.
const HELD_UNTIL: f64 = 0.8;

/// The claims of all builds of a book.
#[derive(Clone, Debug, Default)]
pub(super) struct Bays {
    days: BayDays,
    claims: BTreeMap<BuildId, Holding>,
}

impl Bays {
    /// Every claim but one build's own.
    pub(super) fn without(&self, build: BuildId) -> BayDays {
        let mut days = self.days.clone();
        if let Some(own) = self.claims.get(&build) {
            days.release(own);
        }
        days
    }
}

/// The claims of every build of the book, where the number of bays is recorded.
///
/// A build in the bay, also one on hold there, is in it from today until its work is done with 80 %
/// chance, stalls and overrun included, and at least today; an open build with a planned start from
/// then on (today, if that is past) for its length. While a build is away its bay is free: the work
/// off site is placed where the plan has it, what is reckoned beyond the plan follows in the bay.
///
/// # Errors
/// A build on hold that cannot go on; none for a book that keeps the rules.
pub(super) fn bays(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    view: &View<'_>,
) -> Result<Bays, Refusal> {
    let number = book.settings.as_ref().map_or(0, |settings| settings.bays);
    let mut bays = Bays { days: BayDays::new(number, view.axis.len()), ..Bays::default() };
    if number == 0 {
        return Ok(bays);
    }
    for row in book.builds.values() {
        if let Some(claim) = claim_of(book, learned, as_of, view, row)? {
            bays.days.hold(&claim);
            bays.claims.insert(row.id, claim);
        }
    }
    Ok(bays)
}

/// A build's claim; `view` is of `book`, or of one that says the same of the build.
fn claim_of(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    view: &View<'_>,
    row: &Build,
) -> Result<Option<Holding>, Refusal> {
    let held = in_bay(row).then(|| as_if_open(book, row, as_of)).transpose()?.flatten();
    Ok(match &held {
        Some(overlaid) => View::new(overlaid, learned, as_of).claim(row),
        None => view.claim(row),
    })
}

impl Bays {
    /// The same after some builds changed: their claims reckoned anew, all others' as they were.
    /// `view` says of those builds what a view of `book` says; `book` has them all, or they are gone.
    pub(super) fn renewed(
        &self,
        book: &Book,
        learned: Option<&Learned>,
        view: &View<'_>,
        changed: &BTreeSet<BuildId>,
    ) -> Result<Self, Refusal> {
        let mut bays = self.clone();
        if self.days.bays() == 0 {
            return Ok(bays);
        }
        for id in changed {
            if let Some(old) = bays.claims.remove(id) {
                bays.days.release(&old);
            }
            let Some(row) = book.builds.get(id) else { continue };
            if let Some(claim) = claim_of(book, learned, view.as_of, view, row)? {
                bays.days.hold(&claim);
                bays.claims.insert(*id, claim);
            }
        }
        Ok(bays)
    }

    /// Whether as many bays are held on each day: what other builds are told is then the same, but for
    /// those whose own claim changed.
    pub(super) fn same_days(&self, other: &Self) -> bool {
        self.days == other.days
    }
}

impl View<'_> {
    /// `row` may be its row before an overlay.
    fn claim(&self, row: &Build) -> Option<Holding> {
        if in_bay(row) {
            return Some(self.claim_in_bay(row.id));
        }
        let planned = row.planned_start.filter(|_| row.state == BuildState::Open)?;
        let from = self.axis.index_of(planned.max(self.as_of))?;
        Some(Holding { from, needs: self.bay_pattern(&super::stages::place(self, row.id).0) })
    }

    fn claim_in_bay(&self, build: BuildId) -> Holding {
        let reckoned = self.reckon(build);
        let mut needs = self.bay_pattern(&reckoned.placed);
        let end = self.ends(&reckoned, 0).quantile(HELD_UNTIL, 0, false);
        let days = end.map_or(self.axis.len(), |end| end.saturating_add(1));
        needs.resize(days.max(needs.len()), true);
        Holding { from: 0, needs }
    }
}
