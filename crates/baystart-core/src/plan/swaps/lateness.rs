//! How late a build is, at 80 %, and against what.

use super::super::build::{BuildForecast, DateAt};
use super::super::delivery::in_bay;
use crate::book::model::Build;
use crate::calendar::WorkCalendar;
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
    /// Build number.
    pub build: String,
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
}

impl Lateness {
    /// Working days late; 0: in time.
    #[must_use]
    pub fn days_late(&self) -> i64 {
        self.days.unwrap_or(0).max(0)
    }
}

fn at_80(dates: &[DateAt]) -> Option<Date> {
    dates.iter().find(|at| (at.probability - LEVEL).abs() < 1e-9).and_then(|at| at.date)
}

/// Compares a build's start and handover at 80 % with its planned start, its promise or else its
/// required day; one in a bay should go on today. The worst counts. `never` working days stand for
/// no date.
pub(super) fn lateness(
    row: &Build,
    forecast: &BuildForecast,
    calendar: &WorkCalendar,
    never: i64,
) -> Lateness {
    let dated = forecast.undated.is_empty();
    let start = at_80(&forecast.start).filter(|_| dated);
    let handover = forecast.delivery.at_80().filter(|_| dated);
    let promised = row.customer_promises.last().map(|promise| promise.delivery_on);
    let delivery = match promised {
        Some(day) => Some((LateAgainst::Promise, day)),
        None => row.required_by.map(|day| (LateAgainst::RequiredBy, day)),
    };
    let begin = match in_bay(row) {
        true => Some((LateAgainst::Bay, forecast.as_of)),
        false => {
            let booked = row.planned_start.map(|day| day.max(forecast.as_of));
            booked.map(|day| (LateAgainst::PlannedStart, day))
        }
    };
    let mut worst: Option<(i64, LateAgainst, Date, Option<Date>)> = None;
    let starts = begin.map(|(against, due)| (against, due, start));
    let ends = delivery.map(|(against, due)| (against, due, handover));
    for (against, due, date) in starts.into_iter().chain(ends) {
        let days = date.map_or(never, |date| calendar.working_days_between(due, date));
        if worst.is_none_or(|worst| days > worst.0) {
            worst = Some((days, against, due, date));
        }
    }
    Lateness {
        build: forecast.build.clone(),
        priority: forecast.priority,
        against: worst.map(|worst| worst.1),
        due: worst.map(|worst| worst.2),
        date: worst.and_then(|worst| worst.3),
        start,
        days: worst.map(|worst| worst.0),
    }
}
