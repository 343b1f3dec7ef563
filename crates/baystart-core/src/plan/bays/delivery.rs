//! The date that sales can promise: the parts, a bay, the work, work off site and the last papers.

use crate::book::model::{Build, BuildState};
use crate::plan::bays::days::BayDays;
use crate::plan::bays::holdings::Bays;
use crate::plan::frame::view::View;
use crate::plan::ground::{Dates, LEVELS};
use crate::plan::reckon::forecast::Reckoned;
use jiff::civil::Date;

/// What makes a build start as late as it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecidedBy {
    /// It can start, or go on, today.
    Nothing,
    /// No bay has to be waited for once the parts allow a start.
    Parts,
    /// The parts would allow an earlier start than the bays do.
    Bays,
}

/// Start and delivery at one confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeliveryAt {
    /// In (0, 1).
    pub probability: f64,
    /// First day in a bay: the start that the parts allow, or the first day from then on with a bay
    /// free for as long as the build needs one; from its planned start on, builds that are served
    /// after it do not count. None: not within the horizon.
    pub bay_start: Option<Date>,
    /// First day by which it can be handed over with this chance, if it starts on `bay_start`.
    pub date: Option<Date>,
    /// The start that the parts alone allow.
    pub parts_start: Option<Date>,
    /// The delivery that the parts alone would allow.
    pub parts_date: Option<Date>,
    /// None without a start.
    pub decided_by: Option<DecidedBy>,
    /// Bays decide: working days by which the start is later than the parts allow. Parts decide:
    /// working days by which a bay would be free earlier; None where bays are not recorded.
    pub decided_days: Option<usize>,
}

/// When a build can be delivered.
#[derive(Clone, Debug, PartialEq)]
pub struct Delivery {
    /// At [`LEVELS`].
    pub levels: [DeliveryAt; 3],
    /// If it starts on `planned_from`; None without a planned start, and once it has begun.
    pub at_planned_start: Option<Dates>,
    /// Its planned start (today, if that is past), or the first day from then on with a bay free: who is
    /// in a bay, or booked and served before it, has one. None: no planned start, or no bay.
    pub planned_from: Option<Date>,
    /// Bays of the shop; 0: not recorded.
    pub bays: u32,
    /// Working days on which other builds need more bays than there are.
    pub overbooked_days: usize,
    /// Working days of the work still to do, in the middle.
    pub work_days: usize,
}

impl Delivery {
    /// Delivery at 80 % as the shop has booked it: from its planned start, else from the first bay.
    #[must_use]
    pub fn at_80(&self) -> Option<Date> {
        let [_, at_80, _] = &self.levels;
        self.at_planned_start.map_or(at_80.date, |dates| dates.at_80())
    }
}

impl View<'_> {
    /// The delivery of a build of this view. `bays` holds the other builds' claims; a build that is
    /// in a bay keeps it.
    ///
    /// Builds that are neither in a bay nor booked hold no bay: two of them may be shown the same
    /// free days, until one gets a planned start.
    pub(in crate::plan) fn delivery(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        bays: &Bays,
    ) -> Delivery {
        // What is ready has left it and needs none.
        let keeps_bay = row.is_in_bay() || row.state == BuildState::ReadyForHandover;
        let others = bays.without(row.id);
        let needs = self.bay_pattern(&reckoned.placed);
        // From its booked day on it gives way to fewer than somebody without a booking.
        let booked = self.booked(row).map(|day| (day, self.gives_way_to(row, bays)));
        let free_from = |start: usize| {
            if keeps_bay {
                return Some(start);
            }
            let own =
                booked.as_ref().and_then(|(day, first)| first.first_run(start.max(*day), &needs));
            others.first_run(start, &needs).into_iter().chain(own).min()
        };
        let today_free = free_from(0);
        let date = |index: usize| self.axis.date(index);
        let middle = reckoned.forecast.quantile(0.5).unwrap_or(0);
        let alone = self.ends(reckoned, middle);
        let planned = self.planned_start(row, reckoned, bays);
        let levels = LEVELS.map(|probability| {
            let parts = reckoned.forecast.quantile(probability).map(|at| at.max(self.starts_from));
            let bay = parts.and_then(free_from);
            let alone_by = parts.and_then(|start| alone.quantile(probability, start, true));
            let by = match (parts, bay) {
                (Some(parts), Some(bay)) if parts == bay => alone_by,
                (_, Some(bay)) => self.ends(reckoned, bay).quantile(probability, bay, true),
                (_, None) => None,
            };
            let (decided_by, decided_days) = match (parts, bay) {
                (Some(0), Some(0)) => (Some(DecidedBy::Nothing), None),
                (Some(parts), Some(bay)) if bay > parts => {
                    (Some(DecidedBy::Bays), Some(bay - parts))
                }
                (Some(_), None) => (Some(DecidedBy::Bays), None),
                (Some(parts), Some(_)) => {
                    let known = others.bays() > 0 && !keeps_bay;
                    let earlier = today_free.map(|free| parts.saturating_sub(free));
                    (Some(DecidedBy::Parts), earlier.filter(|_| known))
                }
                (None, _) => (None, None),
            };
            DeliveryAt {
                probability,
                bay_start: bay.and_then(date),
                date: by.and_then(date),
                parts_start: parts.and_then(date),
                parts_date: alone_by.and_then(date),
                decided_by,
                decided_days,
            }
        });
        Delivery {
            levels,
            at_planned_start: planned.map(|start| self.at_planned_start(reckoned, start)),
            planned_from: planned.and_then(date),
            bays: others.bays(),
            overbooked_days: others.overbooked_days(),
            work_days: crate::plan::reckon::work::middle(alone.work_days()),
        }
    }

    /// Chance in [0, 1] that it is handed over by the end of `day`, if work begins on its planned
    /// start or with the first bay after it, without one as soon as a bay is free; what nobody dates is left out.
    pub(in crate::plan) fn chance_of_delivery(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        bays: &Bays,
        day: Date,
    ) -> f64 {
        if day < self.as_of {
            return 0.0;
        }
        let keeps_bay = row.is_in_bay() || row.state == BuildState::ReadyForHandover;
        let start = match row.planned_start {
            _ if keeps_bay => Some(0),
            Some(_) => self.planned_start(row, reckoned, bays),
            None => bays.without(row.id).first_run(0, &self.bay_pattern(&reckoned.placed)),
        };
        let next = self.axis.index_of(day).unwrap_or(self.axis.len());
        // A day on which nobody works: what is done by then was done the working day before.
        let late_day = self.axis.date(next).is_none_or(|date| date > day);
        let last = if late_day { next.checked_sub(1) } else { Some(next) };
        let (Some(start), Some(last)) = (start, last) else { return 0.0 };
        self.ends(reckoned, start).by(last, start, true)
    }

    /// The axis index on which a booked build comes into a bay: on its planned start, where those that
    /// it gives way to leave one.
    fn planned_start(&self, row: &Build, reckoned: &Reckoned<'_>, bays: &Bays) -> Option<usize> {
        let needs = self.bay_pattern(&reckoned.placed);
        self.gives_way_to(row, bays).first_run(self.booked(row)?, &needs)
    }

    /// The axis index of the planned start of a build that has not begun; today, if that is past.
    fn booked(&self, row: &Build) -> Option<usize> {
        let planned = row.planned_start.filter(|_| !row.is_in_bay())?;
        self.axis.index_of(planned.max(self.as_of))
    }

    fn gives_way_to(&self, row: &Build, bays: &Bays) -> BayDays {
        bays.before(row, &self.book.service_key(row))
    }

    fn at_planned_start(&self, reckoned: &Reckoned<'_>, start: usize) -> Dates {
        let ends = self.ends(reckoned, start);
        Dates::of(|level| self.axis.date(ends.quantile(level, start, true)?))
    }
}
