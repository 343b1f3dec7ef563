//! The shop's bays as they are played, with every live build in its place.

use crate::book::Book;
use crate::book::model::{Build, BuildState};
use crate::ids::BuildId;
use crate::plan::bays::play::days::{Fate, Lucky};
use crate::plan::bays::play::fleet::{Rules, Vehicle};
use crate::plan::bays::play::paths::Causes;
use crate::plan::bays::play::played::{Played, play};
use crate::plan::bays::play::to_come::ToCome;
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::{View, as_if_open};
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::sync::Arc;

/// All live builds of a book, played.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Bays {
    rules: Arc<Rules>,
    causes: Causes,
    /// In the order of service.
    fleet: Vec<Arc<Lucky>>,
    to_come: Arc<ToCome>,
    played: Arc<Played>,
}

/// A play, and one vehicle's place in it.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Told {
    played: Arc<Played>,
    at: usize,
}

impl Told {
    /// What becomes of the vehicle on every path.
    pub(in crate::plan) fn fates(&self) -> &[Fate] {
        self.played.fates.get(self.at).map_or(&[], Vec::as_slice)
    }

    /// By day: the share of paths on which a bay is left free after the morning's starts.
    pub(in crate::plan) fn a_bay_free(&self) -> &[f64] {
        &self.played.a_bay_free
    }

    /// Days on which more builds stand in bays than there are.
    pub(in crate::plan) fn overbooked_days(&self, bays: u32) -> usize {
        let limit = f64::from(bays) + 1e-9;
        self.played.bays_used.iter().filter(|used| **used > limit).count()
    }
}

/// The bays of a book: every build that is in one, also on hold there, that waits for one, or that has
/// left it and waits for papers; nobody where the number of bays is not recorded. A build on hold outside the bays, and a quote, take none from others.
///
/// # Errors
/// A build on hold that cannot go on; none for a book that keeps the rules.
pub(in crate::plan) fn bays(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    view: &View<'_>,
) -> Result<Bays, Refusal> {
    let mut rows: Vec<&Build> = book.builds.values().filter(|row| is_played(row)).collect();
    rows.sort_by_cached_key(|row| book.service_key(row));
    let rules = view.rules();
    if rules.bays == 0 {
        // Nobody waits for anybody: each build is played by itself when it is asked for.
        rows.clear();
    }
    let mut causes = Causes::new(rules.paths);
    let mut fleet = Vec::new();
    for row in rows {
        let vehicle = vehicle_of(book, learned, as_of, view, row)?;
        fleet.push(Arc::new(Lucky::new(vehicle, &rules, &mut causes)));
    }
    let to_come = Arc::new(view.to_come(&rules));
    let played = Arc::new(play_all(&fleet, &rules, &to_come));
    Ok(Bays { rules: Arc::new(rules), causes, fleet, to_come, played })
}

/// Whether others meet a build in the bays.
pub(in crate::plan) fn is_played(row: &Build) -> bool {
    row.state.on_board() && (row.state != BuildState::OnHold || row.is_in_bay())
}

/// A build as a vehicle; `view` is of `book`, or of one that says the same of the build.
fn vehicle_of(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    view: &View<'_>,
    row: &Build,
) -> Result<Vehicle, Refusal> {
    Ok(match as_if_open(book, row, as_of)? {
        Some(overlaid) => View::new(&overlaid, learned, as_of).vehicle_alone(row),
        None => view.vehicle_alone(row),
    })
}

fn play_all(fleet: &[Arc<Lucky>], rules: &Rules, to_come: &ToCome) -> Played {
    play(&fleet.iter().map(Arc::as_ref).collect::<Vec<_>>(), rules, to_come)
}

impl Bays {
    /// Bays of the shop; 0: not recorded.
    pub(in crate::plan) fn number(&self) -> u32 {
        self.rules.bays
    }

    /// What becomes of a build as it was played; None: it was not.
    pub(in crate::plan) fn as_played(&self, build: BuildId) -> Option<Told> {
        let at = self.fleet.iter().position(|lucky| lucky.vehicle.build == build)?;
        Some(Told { played: Arc::clone(&self.played), at })
    }

    /// What becomes of a build that is as `vehicle` says, all others as they are. As it was played, if
    /// it is the same; else all are played again, with it in its place.
    pub(in crate::plan) fn told(&self, vehicle: Vehicle) -> Told {
        let at = self.fleet.iter().position(|lucky| lucky.vehicle.build == vehicle.build);
        let same = at.filter(|at| self.fleet.get(*at).is_some_and(|l| l.vehicle == vehicle));
        if let Some(at) = same {
            return Told { played: Arc::clone(&self.played), at };
        }
        self.replayed(vehicle, at, &self.to_come)
    }

    /// The same if nobody else is ever accepted: what a quote is booked by, before there are others.
    pub(in crate::plan) fn told_as_last(&self, vehicle: Vehicle) -> Told {
        let at = self.fleet.iter().position(|lucky| lucky.vehicle.build == vehicle.build);
        self.replayed(vehicle, at, &ToCome::default())
    }

    fn replayed(&self, vehicle: Vehicle, at: Option<usize>, to_come: &ToCome) -> Told {
        let mut causes = self.causes.clone();
        let own = Arc::new(Lucky::new(vehicle, &self.rules, &mut causes));
        let mut fleet = self.fleet.clone();
        if let Some(at) = at {
            fleet.remove(at);
        }
        let at = fleet.partition_point(|other| other.vehicle.rank < own.vehicle.rank);
        fleet.insert(at, own);
        Told { played: Arc::new(play_all(&fleet, &self.rules, to_come)), at }
    }

    /// The same after some builds changed: these laid out and drawn anew, all others as they were.
    /// `view` says of those builds what a view of `book` says; `book` has them all, or they are gone.
    ///
    /// # Errors
    /// As [`bays`].
    pub(in crate::plan) fn renewed(
        &self,
        book: &Book,
        learned: Option<&Learned>,
        view: &View<'_>,
        changed: &BTreeSet<BuildId>,
    ) -> Result<Self, Refusal> {
        let mut bays = self.clone();
        if self.rules.bays == 0 {
            return Ok(bays);
        }
        let mut anew = false;
        for id in changed {
            let at = bays.fleet.iter().position(|lucky| lucky.vehicle.build == *id);
            let row = book.builds.get(id).filter(|row| is_played(row));
            let vehicle = match row {
                Some(row) => Some(vehicle_of(book, learned, view.as_of, view, row)?),
                None => None,
            };
            let old = at.and_then(|at| bays.fleet.get(at)).map(|lucky| &lucky.vehicle);
            if old == vehicle.as_ref() {
                continue;
            }
            anew = true;
            if let Some(at) = at {
                bays.fleet.remove(at);
            }
            if let Some(vehicle) = vehicle {
                let own = Arc::new(Lucky::new(vehicle, &bays.rules, &mut bays.causes));
                let at = bays.fleet.partition_point(|l| l.vehicle.rank < own.vehicle.rank);
                bays.fleet.insert(at, own);
            }
        }
        if anew {
            bays.played = Arc::new(play_all(&bays.fleet, &bays.rules, &bays.to_come));
        }
        Ok(bays)
    }

    /// Whether it is the same play, so that other builds are told the same.
    pub(in crate::plan) fn is_same_play(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.played, &other.played)
    }
}
