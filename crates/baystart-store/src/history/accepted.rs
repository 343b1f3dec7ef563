//! The builds that a shop has accepted, and when what each waited for was here.
//!
//! Read as it stood at a revision, so that whoever reads finds the same, whenever that is.

use crate::convert::{corrupt, own_instant};
use crate::error::{Fault, StoreError};
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::book::model::{Awaited, Build, BuildState, Line, Reservation, Stage};
use baystart_core::ids::{BuildId, LineId, ReservationId, ShopId, StageId};
use baystart_core::plan::{AcceptedBuild, AcceptedPart, AcceptedStage};
use baystart_core::quantity::Quantity;
use futures::TryStreamExt as _;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use sea_orm::prelude::DateTimeUtc;
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use serde::de::DeserializeOwned;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A shop's accepted builds as they stood at a revision.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AcceptedBuilds {
    /// The day on which the shop's first build was entered, or the last one that was under way by then; None:
    /// none was.
    pub since: Option<Date>,
    /// In the order of acceptance.
    pub builds: Vec<AcceptedBuild>,
}

const STATES: &str = "SELECT h.kind, h.id, h.revision, h.state, c.recorded_at FROM row_history h
    JOIN change_log c ON c.shop = h.shop AND c.revision = h.revision
    WHERE h.shop = $1 AND h.kind IN ('build', 'stage', 'build_line', 'awaited', 'reservation')
    AND h.revision <= $2 AND (h.revision > $3 OR h.kind IN ('build', 'stage')) ORDER BY h.revision";

#[derive(FromQueryResult)]
struct State {
    kind: String,
    id: Uuid,
    revision: i64,
    state: String,
    recorded_at: DateTimeUtc,
}

impl State {
    fn read<R: DeserializeOwned>(&self) -> Result<R, Fault> {
        let read = serde_json::from_str(&self.state);
        Ok(read.map_err(|_| corrupt("the row's state", &self.state))?)
    }
}

impl Store {
    /// The accepted builds as they stood at a revision, with the days of a time zone; what they waited for
    /// as far as it was entered after revision `from`. What was never accepted or was cancelled is left out.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn accepted_builds(
        &self,
        shop: ShopId,
        (from, revision): (i64, i64),
        zone: &TimeZone,
    ) -> Result<AcceptedBuilds, StoreError> {
        let txn = self.begin().await?;
        self.database.allow_long(&txn).await?;
        let found = read(&txn, shop, (from, revision), zone).await?;
        txn.done().await?;
        Ok(found)
    }
}

async fn read(
    txn: &Txn,
    shop: ShopId,
    (from, revision): (i64, i64),
    zone: &TimeZone,
) -> Result<AcceptedBuilds, Fault> {
    let mut past = Past::default();
    let values = [shop.0.into(), revision.into(), from.into()];
    let statement = Statement::from_sql_and_values(txn.get_database_backend(), STATES, values);
    let mut rows = State::find_by_statement(statement).stream(txn).await?;
    while let Some(row) = rows.try_next().await? {
        past.add(&row, zone)?;
    }
    past.settle();
    Ok(past.accepted(zone))
}

/// Rows as they stood after each change, up to the one that was read last.
#[derive(Default)]
struct Past {
    /// Revision and day of the last change, and the lines that it touched.
    last: Option<(i64, Date)>,
    touched: BTreeSet<LineId>,
    since: Option<Date>,
    builds: BTreeMap<BuildId, Build>,
    taken_over: BTreeSet<BuildId>,
    /// The first booking after acceptance; on the day of acceptance the last.
    booked: BTreeMap<BuildId, Date>,
    stages: BTreeMap<StageId, Stage>,
    awaited: BTreeMap<Uuid, Awaited>,
    lines: BTreeMap<LineId, Line>,
    /// What each reservation sets aside, and for which line.
    held: BTreeMap<ReservationId, (LineId, Quantity)>,
    set_aside: BTreeMap<LineId, Quantity>,
    /// The day from which on all of a line is here.
    here: BTreeMap<LineId, Date>,
}

impl Past {
    fn add(&mut self, row: &State, zone: &TimeZone) -> Result<(), Fault> {
        let day = zone.to_datetime(own_instant(row.recorded_at)?).date();
        if self.last.is_some_and(|(revision, _)| revision != row.revision) {
            self.settle();
        }
        self.last = Some((row.revision, day));
        match row.kind.as_str() {
            "build" => self.build(row.read()?, day, zone),
            "stage" => {
                self.stages.insert(StageId(row.id), row.read()?);
            }
            "awaited" => {
                self.awaited.insert(row.id, row.read()?);
            }
            "build_line" => {
                self.touched.insert(LineId(row.id));
                self.lines.insert(LineId(row.id), row.read()?);
            }
            _ => {
                let now: Reservation = row.read()?;
                let before = self.held.insert(now.id, (now.line, now.held));
                if let Some((line, held)) = before {
                    *self.set_aside.entry(line).or_default() -= held;
                    self.touched.insert(line);
                }
                *self.set_aside.entry(now.line).or_default() += now.held;
                self.touched.insert(now.line);
            }
        }
        Ok(())
    }

    fn build(&mut self, row: Build, day: Date, zone: &TimeZone) {
        let accepted = row.opened_at.map(|at| zone.to_datetime(at).date());
        self.since.get_or_insert(day);
        // It came in accepted: it was under way.
        if accepted.is_some() && !self.builds.contains_key(&row.id) {
            self.taken_over.insert(row.id);
            self.since = Some(day);
        }
        if let Some(booked) = row.planned_start.filter(|_| accepted.is_some()) {
            let first = self.booked.entry(row.id).or_insert(booked);
            if accepted == Some(day) {
                *first = booked;
            }
        }
        self.builds.insert(row.id, row);
    }

    /// Notes which lines are whole after the last change, and which are no longer.
    fn settle(&mut self) {
        let Some((_, day)) = self.last else { return };
        for id in std::mem::take(&mut self.touched) {
            let Some(line) = self.lines.get(&id) else { continue };
            let has = line.issued + self.set_aside.get(&id).copied().unwrap_or_default();
            if has >= line.required {
                self.here.entry(id).or_insert(day);
            } else {
                self.here.remove(&id);
            }
        }
    }

    fn accepted(self, zone: &TimeZone) -> AcceptedBuilds {
        let mut stages: BTreeMap<BuildId, Vec<&Stage>> = BTreeMap::new();
        for stage in self.stages.values() {
            stages.entry(stage.build).or_default().push(stage);
        }
        let mut builds = BTreeMap::new();
        for row in self.builds.values() {
            if row.state == BuildState::Cancelled {
                continue;
            }
            let Some(opened_at) = row.opened_at else { continue };
            let mut stages = stages.remove(&row.id).unwrap_or_default();
            stages.sort_by_key(|stage| stage.ordinal);
            let stage = |stage: &&Stage| AcceptedStage {
                planned_days: stage.planned_days,
                begun_on: stage.begun_on,
                done_on: stage.done_on,
                away: stage.off_site.is_some(),
            };
            let has_place = row.state != BuildState::OnHold || row.is_in_bay();
            let build = AcceptedBuild {
                accepted_on: zone.to_datetime(opened_at).date(),
                taken_over: self.taken_over.contains(&row.id),
                priority: row.priority,
                booked_on: self.booked.get(&row.id).copied().filter(|_| has_place),
                required_by: row.required_by,
                stages: stages.iter().map(stage).collect(),
                parts: Vec::new(),
                delivered_on: row.delivered_on,
            };
            let places: Vec<StageId> = stages.iter().map(|stage| stage.id).collect();
            builds.insert(row.id, (opened_at, places, build));
        }
        let mut add = |build: BuildId, stage: StageId, here_on: Option<Date>| {
            let Some((_, places, build)) = builds.get_mut(&build) else { return };
            let place = places.iter().position(|id| *id == stage);
            build.parts.extend(place.map(|stage| AcceptedPart { stage, here_on }));
        };
        for (id, line) in &self.lines {
            // A kit's and a making's components stand for themselves, or for the line that they become.
            let waits = !line.exploded && line.made_for == 0 && line.required > Quantity::ZERO;
            if waits {
                add(line.build, line.stage, self.here.get(id).copied());
            }
        }
        for thing in self.awaited.values() {
            let own = thing.line.is_none() && thing.dropped_on.is_none();
            if let Some(stage) = thing.stage.filter(|_| own) {
                add(thing.build, stage, thing.received_on);
            }
        }
        let mut builds: Vec<_> = builds.into_iter().collect();
        builds.sort_by_key(|(id, (opened_at, ..))| (*opened_at, *id));
        let builds = builds.into_iter().map(|(_, (_, _, build))| build).collect();
        AcceptedBuilds { since: self.since, builds }
    }
}
