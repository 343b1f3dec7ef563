//! The date that sales can promise: the parts, a bay, the work, work off site and the last papers.

use crate::book::model::{Build, BuildState, OrderingWay, StartRule};
use crate::plan::bays::live::{Bays, Told};
use crate::plan::bays::play::days::Fate;
use crate::plan::bays::play::played::{Spread, chance_by, quantile, waited};
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
    /// Parts and bays would allow an earlier start than the day that is booked, on which the shop begins.
    Booking,
}

/// Start and delivery at one confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeliveryAt {
    /// In (0, 1).
    pub probability: f64,
    /// First day by which it is in a bay with this chance; None: not within the horizon.
    pub bay_start: Option<Date>,
    /// First day by which it can be handed over with this chance.
    pub date: Option<Date>,
    /// The start that the parts alone allow.
    pub parts_start: Option<Date>,
    /// The delivery that the parts alone would allow.
    pub parts_date: Option<Date>,
    /// None without a start.
    pub decided_by: Option<DecidedBy>,
    /// Bays decide: working days by which the start at this chance is later than it would be with a
    /// bay always free. Parts decide: working days by which a bay is free earlier on half of the paths;
    /// None where bays are not recorded.
    pub decided_days: Option<usize>,
}

/// When a build can be delivered.
#[derive(Clone, Debug, PartialEq)]
pub struct Delivery {
    /// At [`LEVELS`].
    pub levels: [DeliveryAt; 3],
    /// The same dates, where it is booked; None without a planned start, and once it has begun.
    pub at_planned_start: Option<Dates>,
    /// Where it is booked, its start in the middle; in a quote, the day to be booked. None: no planned
    /// start, or no bay.
    pub planned_from: Option<Date>,
    /// Share of all ways the future may go in which it waits for a bay after it might have begun.
    pub bay_wait_share: f64,
    /// Working days of that wait, mean over the ways in which it begins.
    pub bay_wait_days: f64,
    /// Working days in a bay without the parts to go on, mean over the same.
    pub stalled_days: f64,
    /// Builds accepted later that begin before it, mean over the same.
    pub overtaken: f64,
    /// Working days from today to the first morning on which it might begin with a bay free, mean over the
    /// same.
    pub may_begin_days: f64,
    /// Bays of the shop; 0: not recorded.
    pub bays: u32,
    /// Working days on which more builds stand in bays than there are.
    pub overbooked_days: usize,
    /// Working days of the work still to do, in the middle.
    pub work_days: usize,
}

impl Delivery {
    /// Delivery at 80 %.
    #[must_use]
    pub fn at_80(&self) -> Option<Date> {
        let [_, at_80, _] = &self.levels;
        at_80.date
    }
}

/// The priority of a build, once it is booked, unless somebody says otherwise.
const PRIORITY_BOOKED: i32 = 100;

/// What the parts alone would allow, at [`LEVELS`].
struct PartsAlone {
    starts: [Option<Date>; 3],
    dates: [Option<Date>; 3],
    work_days: usize,
}

impl View<'_> {
    /// The delivery of a build of this view, the bays played forward with all other builds as `bays` has
    /// them. `row` says how it is booked and served.
    pub(in crate::plan) fn delivery(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        bays: &Bays,
    ) -> Delivery {
        let told = bays.told(self.vehicle(row, reckoned));
        let middle = reckoned.forecast.quantile(0.5).unwrap_or(0);
        let ends = self.ends(reckoned, middle);
        let parts = LEVELS.map(|probability| {
            let start = reckoned.forecast.quantile(probability)?.max(self.starts_from);
            let by = ends.quantile(probability, start, true);
            Some((self.axis.date(start)?, by.and_then(|by| self.axis.date(by))))
        });
        let alone = PartsAlone {
            starts: parts.map(|at| at.map(|at| at.0)),
            dates: parts.map(|at| at.and_then(|at| at.1)),
            work_days: crate::plan::reckon::work::middle(ends.work_days()),
        };
        self.delivery_as(row, &alone, &told, bays)
    }

    /// The delivery of a build of which nothing differs, in another play.
    pub(in crate::plan) fn delivery_again(
        &self,
        row: &Build,
        before: &Delivery,
        bays: &Bays,
    ) -> Option<Delivery> {
        let alone = PartsAlone {
            starts: before.levels.map(|at| at.parts_start),
            dates: before.levels.map(|at| at.parts_date),
            work_days: before.work_days,
        };
        Some(self.delivery_as(row, &alone, &bays.as_played(row.id)?, bays))
    }

    fn delivery_as(&self, row: &Build, alone: &PartsAlone, told: &Told, bays: &Bays) -> Delivery {
        let fates = told.fates();
        // What is ready has left its bay and needs none.
        let keeps_bay = row.is_in_bay() || row.state == BuildState::ReadyForHandover;
        let free = told.a_bay_free().iter().position(|share| *share >= 0.5);
        let date = |index: usize| self.axis.date(index);
        let spread = |of: fn(&Fate) -> u16| Spread::of(fates.iter().map(of));
        let (starts, delivered) = (spread(|fate| fate.start), spread(|fate| fate.delivered));
        let eligibles = spread(|fate| fate.eligible);
        let mut parts = alone.starts.into_iter().zip(alone.dates);
        let on_booked_day = matches!(self.book.start_rule(), StartRule::OnBookedDay(_));
        let booked_day = row.planned_start.filter(|day| on_booked_day && *day > self.as_of);
        let booked_day = booked_day.and_then(|day| self.axis.index_of(day));
        let levels = LEVELS.map(|probability| {
            let (parts_start, parts_date) = parts.next().unwrap_or((None, None));
            let start = match keeps_bay {
                true => parts_start.and_then(|day| self.axis.index_of(day)),
                false => starts.quantile(probability),
            };
            let eligible = eligibles.quantile(probability);
            let (decided_by, decided_days) = match (eligible, start) {
                (_, Some(0)) => (Some(DecidedBy::Nothing), None),
                _ if keeps_bay => (parts_start.map(|_| DecidedBy::Parts), None),
                (Some(eligible), Some(start)) if start > eligible => {
                    (Some(DecidedBy::Bays), Some(start - eligible))
                }
                (Some(_), None) => (Some(DecidedBy::Bays), None),
                (Some(eligible), Some(_)) if Some(eligible) == booked_day => {
                    (Some(DecidedBy::Booking), None)
                }
                (Some(eligible), Some(_)) => {
                    let earlier = free.map(|free| eligible.saturating_sub(free));
                    (Some(DecidedBy::Parts), earlier.filter(|_| bays.number() > 0))
                }
                (None, _) => (None, None),
            };
            DeliveryAt {
                probability,
                bay_start: start.and_then(date),
                date: delivered.quantile(probability).and_then(date),
                parts_start,
                parts_date,
                decided_by,
                decided_days,
            }
        });
        let booked = row.planned_start.is_some() && !keeps_bay;
        let by = |level| delivered.quantile(level).and_then(date);
        let wait = waited(fates);
        Delivery {
            levels,
            at_planned_start: booked.then(|| Dates::of(by)),
            planned_from: starts.quantile(0.5).and_then(date).filter(|_| booked),
            bay_wait_share: wait.share,
            bay_wait_days: wait.days,
            stalled_days: wait.stalled_days,
            overtaken: wait.overtaken,
            may_begin_days: wait.may_begin_days,
            bays: bays.number(),
            overbooked_days: told.overbooked_days(bays.number()),
            work_days: alone.work_days,
        }
    }

    /// A quote's build as it would be booked. First pass: served after everybody else, everything ordered
    /// at once; its start in the middle is the day that is booked. The days on which its parts are ordered
    /// follow from that day, so the dates come from a second pass. Not booked where that has no date.
    ///
    /// In the first pass nobody is taken to be accepted later: it is booked before they are.
    pub(in crate::plan) fn as_booked(&self, row: &Build, bays: &Bays) -> Build {
        let reckoned = self.reckon(row.id);
        let told = bays.told_as_last(self.vehicle_ordered(row, &reckoned, OrderingWay::AtOnce));
        let start = quantile(told.fates().iter().map(|fate| fate.start), 0.5);
        match start.and_then(|at| self.axis.date(at)) {
            None => row.clone(),
            planned_start => Build { planned_start, priority: PRIORITY_BOOKED, ..row.clone() },
        }
    }

    /// Chance in [0, 1] that it is handed over by the end of `day`; what nobody dates is left out.
    pub(in crate::plan) fn chance_of_delivery(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        bays: &Bays,
        day: Date,
    ) -> f64 {
        let chances = self.chances_of_delivery(row, reckoned, bays, &[day]);
        chances.first().copied().unwrap_or(0.0)
    }

    /// The same for each of several days.
    pub(in crate::plan) fn chances_of_delivery(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        bays: &Bays,
        days: &[Date],
    ) -> Vec<f64> {
        let told = bays.told(self.vehicle(row, reckoned));
        let chance = |day: &Date| {
            if *day < self.as_of {
                return 0.0;
            }
            let next = self.axis.index_of(*day).unwrap_or(self.axis.len());
            // A day on which nobody works: what is done by then was done the working day before.
            let late_day = self.axis.date(next).is_none_or(|date| date > *day);
            let last = if late_day { next.checked_sub(1) } else { Some(next) };
            let by = |last| chance_by(told.fates().iter().map(|fate| fate.delivered), last);
            last.map_or(0.0, by)
        };
        days.iter().map(chance).collect()
    }
}
