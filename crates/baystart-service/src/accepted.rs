//! The builds that each shop accepted, as they stood on a morning, kept for the day.

use crate::fault;
use crate::shared::Shared;
use baystart_core::calendar::add_days;
use baystart_core::ids::ShopId;
use baystart_core::plan::Coming;
use baystart_store::{AcceptedBuilds, ShopHistory, Snapshot};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::sync::Arc;
use tokio::sync::Mutex;
use tonic::Status;

/// Readings, and mornings of which the revision is known, that are kept for a shop.
const KEPT_MAX: usize = 4;
/// What builds waited for is read from so many days before the morning on: two years of builds, which were
/// quoted before they were accepted.
const READ_DAYS: i64 = 3 * 365;

/// What builds to come are drawn from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Accepted {
    /// The last revision before the morning, and the zone whose morning it is.
    pub at: (i64, String),
    pub builds: AcceptedBuilds,
}

impl Accepted {
    /// As plans take them, under the shop's start rule and calendar.
    pub fn coming(&self, history: &ShopHistory) -> Coming {
        let start = history.settings.start_rule();
        Coming::of(self.builds.since, &self.builds.builds, start, &history.calendar)
    }
}

/// Those of one shop. Its lock is held while they are read: of many calls at once one reads.
#[derive(Default)]
pub(crate) struct KeptAccepted(Mutex<Kept>);

#[derive(Default)]
struct Kept {
    /// Last used last.
    readings: Vec<Arc<Accepted>>,
    /// The last revision before a morning, as a snapshot's revision knows it.
    mornings: Vec<((Date, String, i64), i64)>,
}

impl KeptAccepted {
    /// Nothing is kept any more: the shop's rows may be others.
    pub async fn forget(&self) {
        *self.0.lock().await = Kept::default();
    }
}

/// Puts one at the end, and drops the first of too many.
fn push<T>(kept: &mut Vec<T>, one: T) {
    if kept.len() >= KEPT_MAX {
        kept.remove(0);
    }
    kept.push(one);
}

impl Shared {
    /// A shop's accepted builds as they stood when the asked day began, by the log as a snapshot knows it: what is
    /// entered in the course of a day moves no answer of the day, and what is entered late moves all.
    pub(crate) async fn accepted(
        &self,
        shop: ShopId,
        kept: &KeptAccepted,
        snapshot: &Snapshot,
        as_of: Date,
    ) -> Result<Arc<Accepted>, Status> {
        let settings = snapshot.book.settings.as_ref();
        let name = settings.map_or("UTC", |settings| &settings.time_zone);
        let zone = TimeZone::get(name).unwrap_or(TimeZone::UTC);
        let start = |day: Date| zone.to_timestamp(day.at(0, 0, 0, 0)).map_err(fault::internal);
        let morning = (as_of, name.to_owned(), snapshot.revision);
        let mut kept = kept.0.lock().await;
        let revision = match kept.mornings.iter().find(|(known, _)| *known == morning) {
            Some((_, revision)) => *revision,
            None => {
                let first = start(as_of)?;
                let last = self.store.revision_before(shop, first, snapshot.revision);
                let last = self.kept(last).await?;
                push(&mut kept.mornings, (morning, last));
                last
            }
        };
        let at = (revision, name.to_owned());
        if let Some(place) = kept.readings.iter().position(|reading| reading.at == at) {
            let found = kept.readings.remove(place);
            kept.readings.push(Arc::clone(&found));
            return Ok(found);
        }
        let first = start(add_days(as_of, -READ_DAYS).unwrap_or(Date::MIN))?;
        let from = self.kept(self.store.revision_before(shop, first, revision)).await?;
        let builds = self.store.accepted_builds(shop, (from, revision), &zone);
        let found = Arc::new(Accepted { at, builds: self.kept(builds).await? });
        push(&mut kept.readings, Arc::clone(&found));
        Ok(found)
    }
}
