//! The builds that each shop accepted, as they stood on a morning, kept for the day.

use crate::fault;
use crate::shared::Shared;
use baystart_core::book::Book;
use baystart_core::ids::ShopId;
use baystart_core::plan::Coming;
use baystart_store::{AcceptedBuilds, ShopHistory};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::sync::{Arc, Mutex};
use tonic::Status;

/// Mornings that are kept for a shop.
const MORNINGS_MAX: usize = 4;

/// What builds to come are drawn from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Accepted {
    /// What was entered before this day.
    pub morning: Date,
    pub builds: AcceptedBuilds,
}

impl Accepted {
    /// As plans take them, under the shop's start rule and calendar.
    pub fn coming(&self, history: &ShopHistory) -> Coming {
        let start = history.settings.start_rule();
        Coming::of(self.builds.since, &self.builds.builds, start, &history.calendar)
    }
}

/// Those of one shop; last used last.
#[derive(Default)]
pub(crate) struct KeptAccepted(Mutex<Vec<Arc<Accepted>>>);

impl KeptAccepted {
    fn of(&self, morning: Date) -> Option<Arc<Accepted>> {
        let mut kept = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let at = kept.iter().position(|accepted| accepted.morning == morning)?;
        let found = kept.remove(at);
        kept.push(Arc::clone(&found));
        Some(found)
    }

    fn keep(&self, accepted: &Arc<Accepted>) {
        let mut kept = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        kept.retain(|other| other.morning != accepted.morning);
        if kept.len() >= MORNINGS_MAX {
            kept.remove(0);
        }
        kept.push(Arc::clone(accepted));
    }

    /// Nothing is kept any more: the shop's rows may be others.
    pub fn forget(&self) {
        self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner).clear();
    }
}

impl Shared {
    /// A shop's accepted builds on the morning of the asked day, or of today where that lies before it: what
    /// is entered in the course of a day moves no answer of the day.
    pub(crate) async fn accepted(
        &self,
        shop: ShopId,
        kept: &KeptAccepted,
        book: &Book,
        as_of: Date,
    ) -> Result<Arc<Accepted>, Status> {
        let name = book.settings.as_ref().map_or("UTC", |settings| &settings.time_zone);
        let morning = as_of.min(self.clock.today(name));
        if let Some(found) = kept.of(morning) {
            return Ok(found);
        }
        let zone = TimeZone::get(name).unwrap_or(TimeZone::UTC);
        let first = zone.to_timestamp(morning.at(0, 0, 0, 0)).map_err(fault::internal)?;
        let builds = self.store.accepted_builds(shop, first, &zone).await;
        let builds = builds.map_err(|error| fault::store(&error))?;
        let found = Arc::new(Accepted { morning, builds });
        kept.keep(&found);
        Ok(found)
    }
}
