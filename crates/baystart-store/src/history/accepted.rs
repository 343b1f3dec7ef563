//! The builds that a shop has accepted, and when what each waited for was here.
//!
//! Read as it stood on a morning: what has been entered since is passed over, so that all forecasts of a day
//! rest on one reading, whenever it was taken.

use crate::convert::{corrupt, instant, own_instant};
use crate::error::{Fault, StoreError};
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::book::model::{Awaited, Build, BuildState, Line, Reservation, Stage};
use baystart_core::ids::{BuildId, LineId, ReservationId, ShopId, StageId};
use baystart_core::plan::{AcceptedBuild, AcceptedPart};
use baystart_core::quantity::Quantity;
use futures::TryStreamExt as _;
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use sea_orm::prelude::DateTimeUtc;
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use serde::de::DeserializeOwned;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A shop's accepted builds as they stood on a morning.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AcceptedBuilds {
    /// The day on which the shop's first build was entered; None: none was.
    pub since: Option<Date>,
    /// In the order of acceptance; those of the first day too, which may have been under way before.
    pub builds: Vec<AcceptedBuild>,
}

const STATES: &str = "SELECT h.kind, h.id, h.revision, h.state, c.recorded_at FROM row_history h
    JOIN change_log c ON c.shop = h.shop AND c.revision = h.revision
    WHERE h.shop = $1 AND h.kind IN ('build', 'stage', 'build_line', 'awaited', 'reservation')
    AND c.recorded_at < $2 ORDER BY h.revision";

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
    /// The accepted builds as they stood before an instant; days are those of a time zone. What makes stock,
    /// was never accepted or was cancelled is left out.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn accepted_builds(
        &self,
        shop: ShopId,
        before: Timestamp,
        zone: &TimeZone,
    ) -> Result<AcceptedBuilds, StoreError> {
        let txn = self.begin().await?;
        self.database.allow_long(&txn).await?;
        let found = read(&txn, shop, before, zone).await?;
        txn.done().await?;
        Ok(found)
    }
}

async fn read(
    txn: &Txn,
    shop: ShopId,
    before: Timestamp,
    zone: &TimeZone,
) -> Result<AcceptedBuilds, Fault> {
    let mut past = Past::default();
    let values = [shop.0.into(), instant(before).into()];
    let statement = Statement::from_sql_and_values(txn.get_database_backend(), STATES, values);
    let mut rows = State::find_by_statement(statement).stream(txn).await?;
    while let Some(row) = rows.try_next().await? {
        past.add(&row, zone.to_datetime(own_instant(row.recorded_at)?).date())?;
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
    fn add(&mut self, row: &State, day: Date) -> Result<(), Fault> {
        if self.last.is_some_and(|(revision, _)| revision != row.revision) {
            self.settle();
        }
        self.last = Some((row.revision, day));
        match row.kind.as_str() {
            "build" => {
                self.since.get_or_insert(day);
                self.builds.insert(BuildId(row.id), row.read()?);
            }
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
            let counts = !row.for_stock && row.state != BuildState::Cancelled;
            let Some(opened_at) = row.opened_at.filter(|_| counts) else { continue };
            let mut stages = stages.remove(&row.id).unwrap_or_default();
            stages.sort_by_key(|stage| stage.ordinal);
            let done = stages.iter().all(|stage| stage.done_on.is_some());
            let last = stages.iter().filter_map(|stage| stage.done_on).max();
            let build = AcceptedBuild {
                accepted_on: zone.to_datetime(opened_at).date(),
                priority: row.priority,
                booked_on: row.planned_start,
                stages: stages.iter().map(|stage| stage.planned_days).collect(),
                parts: Vec::new(),
                begun_on: stages.iter().filter_map(|stage| stage.begun_on).min(),
                done_on: last.filter(|_| done).or(row.delivered_on),
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
