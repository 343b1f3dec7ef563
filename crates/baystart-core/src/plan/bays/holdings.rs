//! Who holds a bay, and until when.

use crate::book::model::{Build, BuildState};
use crate::book::{Book, ServiceKey};
use crate::ids::BuildId;
use crate::plan::bays::days::{BayDays, Holding};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::{View, as_if_open};
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Confidence up to which a build in the bay is counted as in it.
const HELD_UNTIL: f64 = 0.8;

/// The claims of all builds of a book.
#[derive(Clone, Debug, Default)]
pub(in crate::plan) struct Bays {
    days: BayDays,
    claims: BTreeMap<BuildId, Claim>,
}

/// One build's claim, and whom it gives way to.
#[derive(Clone, Debug, PartialEq)]
struct Claim {
    /// Its place in the order of service; None: it is in the bay and gives way to nobody.
    rank: Option<ServiceKey>,
    holding: Holding,
}

impl Bays {
    /// Every claim but one build's own.
    pub(in crate::plan) fn without(&self, build: BuildId) -> BayDays {
        let mut days = self.days.clone();
        if let Some(own) = self.claims.get(&build) {
            days.release(&own.holding);
        }
        days
    }

    /// The claims that a booked start has to give way to: of builds in the bay, and of booked ones that
    /// are served before it.
    pub(in crate::plan) fn before(&self, row: &Build, key: &ServiceKey) -> BayDays {
        let mut days = BayDays::new(self.days.bays(), self.days.days());
        for (id, claim) in &self.claims {
            let first = claim.rank.as_ref().is_none_or(|rank| rank < key);
            if *id != row.id && first {
                days.hold(&claim.holding);
            }
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
pub(in crate::plan) fn bays(
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
            bays.days.hold(&claim.holding);
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
) -> Result<Option<Claim>, Refusal> {
    let held = row.is_in_bay().then(|| as_if_open(book, row, as_of)).transpose()?.flatten();
    Ok(match &held {
        Some(overlaid) => View::new(overlaid, learned, as_of).claim(row),
        None => view.claim(row),
    })
}

impl Bays {
    /// The same after some builds changed: their claims reckoned anew, all others' as they were.
    /// `view` says of those builds what a view of `book` says; `book` has them all, or they are gone.
    pub(in crate::plan) fn renewed(
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
                bays.days.release(&old.holding);
            }
            let Some(row) = book.builds.get(id) else { continue };
            if let Some(claim) = claim_of(book, learned, view.as_of, view, row)? {
                bays.days.hold(&claim.holding);
                bays.claims.insert(*id, claim);
            }
        }
        Ok(bays)
    }

    /// Whether every claim is the same, so that other builds are told the same.
    pub(in crate::plan) fn same_claims(&self, other: &Self) -> bool {
        self.claims == other.claims
    }
}

impl View<'_> {
    /// `row` may be its row before an overlay.
    fn claim(&self, row: &Build) -> Option<Claim> {
        if row.is_in_bay() {
            return Some(Claim { rank: None, holding: self.claim_in_bay(row.id) });
        }
        let planned = row.planned_start.filter(|_| row.state == BuildState::Open)?;
        let from = self.axis.index_of(planned.max(self.as_of))?;
        let needs = self.bay_pattern(&crate::plan::frame::placed::place(self, row.id).0);
        Some(Claim { rank: Some(self.book.service_key(row)), holding: Holding { from, needs } })
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
