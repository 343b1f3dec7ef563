//! How late a build is, at 80 %, and against what.

use crate::book::model::Build;
use crate::ids::BuildId;
use crate::plan::bays::live::Bays;
use crate::plan::frame::view::View;
use crate::plan::ground::Thing;
use crate::plan::reckon::forecast::Reckoned;
use jiff::civil::Date;

/// Confidence at which a build is late or in time.
const LEVEL: f64 = 0.8;

/// What a build is late against.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LateAgainst {
    /// The start that the shop has booked.
    PlannedStart,
    /// The delivery date that its customer was given.
    Promise,
    /// The day by which its customer wants it.
    RequiredBy,
    /// It stands in a bay: every day of waiting is late.
    Bay,
}

/// A build beside its due day.
#[derive(Clone, Debug, PartialEq)]
pub struct Lateness {
    /// Which.
    pub build: BuildId,
    /// 1 is served first.
    pub priority: i32,
    /// Which of its due days it misses most, or comes nearest to; None: it has none.
    pub against: Option<LateAgainst>,
    /// That day.
    pub due: Option<Date>,
    /// The start at 80 %, for a promise and a required day the handover; None: no date.
    pub date: Option<Date>,
    /// The start at 80 %.
    pub start: Option<Date>,
    /// Working days after the due day; 0 or less: in time. What has no date counts as so many days as the
    /// horizon has. None: it has no due day.
    pub days: Option<i64>,
    /// What has no date at all: start and date are those of the rest.
    pub undated: Vec<Thing>,
}

impl Lateness {
    /// Working days late; 0: in time.
    #[must_use]
    pub fn days_late(&self) -> i64 {
        self.days.unwrap_or(0).max(0)
    }
}

impl View<'_> {
    /// Compares a build's start and handover at 80 % with its planned start, its promise or else its
    /// required day; one in a bay should go on today. The worst counts. Without a date it is as many
    /// working days late as the horizon has.
    ///
    /// `bays`: needed where a build is due by a day of delivery, see [`due_by`].
    pub(super) fn lateness(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        bays: Option<&Bays>,
    ) -> Lateness {
        let start = reckoned.forecast.quantile(LEVEL);
        let start = start.and_then(|at| self.axis.date(at));
        let delivery = due_by(row);
        let bays = bays.filter(|_| delivery.is_some());
        let handover = bays.and_then(|bays| self.delivery(row, reckoned, bays).at_80());
        let begin = match row.is_in_bay() {
            true => Some((LateAgainst::Bay, self.as_of)),
            false => row.planned_start.map(|day| (LateAgainst::PlannedStart, day.max(self.as_of))),
        };
        let never = i64::try_from(self.axis.len()).unwrap_or(i64::MAX);
        let mut worst: Option<(i64, LateAgainst, Date, Option<Date>)> = None;
        let starts = begin.map(|(against, due)| (against, due, start));
        let ends = delivery.map(|(against, due)| (against, due, handover));
        for (against, due, date) in starts.into_iter().chain(ends) {
            let days = date.map_or(never, |date| self.calendar.working_days_between(due, date));
            if worst.is_none_or(|worst| days > worst.0) {
                worst = Some((days, against, due, date));
            }
        }
        Lateness {
            build: row.id,
            priority: row.priority,
            against: worst.map(|worst| worst.1),
            due: worst.map(|worst| worst.2),
            date: worst.and_then(|worst| worst.3),
            start,
            days: worst.map(|worst| worst.0),
            undated: reckoned.undated.iter().map(|found| found.thing.clone()).collect(),
        }
    }
}

/// The day by which a build is to be delivered: the promise to its customer, or else the required day.
pub(super) fn due_by(row: &Build) -> Option<(LateAgainst, Date)> {
    match row.customer_promises.last() {
        Some(promise) => Some((LateAgainst::Promise, promise.delivery_on)),
        None => row.required_by.map(|day| (LateAgainst::RequiredBy, day)),
    }
}
