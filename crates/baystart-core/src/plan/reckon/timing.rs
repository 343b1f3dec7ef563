//! The latest day on which an order is still safe.

use crate::book::model::{Build, BuildState, Line, Offer};
use crate::calendar::{WorkCalendar, add_days, next_ordering_day};
use crate::ids::{BuildId, PartId, SupplierId};
use crate::leadtime::on_axis;
use crate::plan::frame::needs::{Finishers, Need, chance_at, need_of, ready};
use crate::plan::frame::placed::{Placed, place};
use crate::plan::frame::view::View;
use crate::plan::reckon::arrivals;
use jiff::civil::Date;
use std::collections::HashMap;
use std::rc::Rc;

/// Tolerance of "reaches the confidence": many factors end a rounding error below it.
const TOLERANCE: f64 = 1e-12;

/// Where the day on which a build needs its parts comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimingBasis {
    /// The build is in the bay: it needs them as its work goes on.
    InBay,
    /// The working day that the shop has booked.
    PlannedStart,
    /// The day on which the customer wants it, less the days that the work takes.
    RequiredBy,
    /// The build has no date at all: ordered on the next ordering day.
    NoDate,
    /// Nothing says how long the supplier takes: ordered on the next ordering day.
    NoLeadTime,
    /// It is kept in stock and runs low: ordered on the next ordering day.
    ForStock,
}

/// When an order has to go out for one use of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timing {
    /// From where the need day comes.
    pub basis: TimingBasis,
    /// The working day by whose end it is needed; of what passes through a finisher, the day on
    /// which it has to be back. None without a date.
    pub needed_on: Option<Date>,
    /// The last ordering day on which its build still has all that it waits for in time at the
    /// confidence, see [`crate::plan::suggest`]; the next ordering day where that has passed or nothing dates
    /// it; None where the shop has no ordering day.
    pub order_by: Option<Date>,
    /// Chance that it is in time if ordered on the next ordering day; None where nothing dates it.
    pub chance: Option<f64>,
    /// By itself it is late at the confidence, even if ordered on the next ordering day.
    pub late: bool,
    /// Working days after the need by which it is there at the confidence, if it is late; None:
    /// not late, or not within the horizon.
    pub late_days: Option<usize>,
}

/// P(arrived by axis index i); None: nothing dates it.
type Law = Option<Rc<Vec<f64>>>;

/// Reckons timings, each supplier's law of a day once.
pub(in crate::plan) struct Clock<'v, 'a> {
    view: &'v View<'a>,
    confidence: f64,
    finishers: Finishers,
    /// Every ordering day within the horizon.
    days: Vec<Date>,
    laws: HashMap<(SupplierId, PartId, Date), Law>,
    builds: HashMap<BuildId, (Vec<Placed<'a>>, u32)>,
    /// See [`Clock::share`].
    shares: HashMap<BuildId, f64>,
    /// A build as it would be booked, in place of the book's row.
    as_if: Option<&'v Build>,
}

impl<'v, 'a> Clock<'v, 'a> {
    pub(in crate::plan) fn new(view: &'v View<'a>, confidence: f64) -> Self {
        Self {
            view,
            confidence,
            finishers: Finishers::default(),
            days: ordering_days(view),
            laws: HashMap::new(),
            builds: HashMap::new(),
            shares: HashMap::new(),
            as_if: None,
        }
    }

    /// For one build, dated as this row of it says.
    pub(in crate::plan) fn of_build(view: &'v View<'a>, confidence: f64, row: &'v Build) -> Self {
        Self { as_if: Some(row), ..Self::new(view, confidence) }
    }

    /// The next ordering day.
    pub(in crate::plan) fn next(&self) -> Option<Date> {
        self.days.first().copied()
    }

    /// The axis index of the start for which a build's parts are ordered, and why.
    fn start(&self, line: &Line, remaining_days: u32) -> (Option<usize>, TimingBasis) {
        let as_if = self.as_if.filter(|row| row.id == line.build);
        let Some(build) = as_if.or_else(|| self.view.book.builds.get(&line.build)) else {
            return (None, TimingBasis::NoDate);
        };
        if build.state == BuildState::InBay {
            return (Some(0), TimingBasis::InBay);
        }
        if let Some(day) = build.planned_start {
            return (self.view.axis.index_of(day), TimingBasis::PlannedStart);
        }
        let Some(day) = build.required_by else { return (None, TimingBasis::NoDate) };
        let start = latest_start(&self.view.calendar, day, remaining_days);
        (start.and_then(|day| self.view.axis.index_of(day)), TimingBasis::RequiredBy)
    }

    /// What a line's place in its build asks for: the start's index, the need, the need day.
    pub(in crate::plan) fn asked(
        &mut self,
        line: &Line,
    ) -> (Option<(usize, Need, Option<Date>)>, TimingBasis) {
        let view = self.view;
        let (placed, remaining) =
            self.builds.entry(line.build).or_insert_with(|| place(view, line.build));
        let need = need_of(view, placed, line);
        let remaining = *remaining;
        let (start, basis) = self.start(line, remaining);
        let Some((start, need)) = start.zip(need) else { return (None, TimingBasis::NoDate) };
        let today = view.axis.date(0);
        let from_today = i32::try_from(start).ok().map(|s| s.saturating_add(need.offset_days));
        let day = today.zip(from_today);
        let day = day.and_then(|(day, n)| view.calendar.add_working_days(day, n));
        (Some((start, need, day)), basis)
    }

    /// When the offer has to be ordered for a line.
    pub(in crate::plan) fn timing(&mut self, line: &Line, offer: Option<&Offer>) -> Timing {
        let next = self.next();
        let undated = |basis, needed_on| Timing {
            basis,
            needed_on,
            order_by: next,
            chance: None,
            late: false,
            late_days: None,
        };
        let (asked, basis) = self.asked(line);
        let Some((start, need, needed_on)) = asked else { return undated(basis, None) };
        let Some((offer, next)) = offer.zip(next) else {
            return undated(TimingBasis::NoLeadTime, needed_on);
        };
        let Some(chance) = self.chance(offer, &need, start, next) else {
            return undated(TimingBasis::NoLeadTime, needed_on);
        };
        let share = self.share(line.build);
        let mut timing = Timing {
            basis,
            needed_on,
            order_by: Some(next),
            chance: Some(chance),
            late: !is_safe(chance, self.confidence),
            late_days: None,
        };
        if timing.late {
            timing.late_days = self.late_days(offer, &need, start, next);
        } else if is_safe(chance, share) {
            timing.order_by = Some(self.latest(offer, &need, (start, next), share));
        }
        timing
    }

    /// The chance with which each line of a build has to be in time, so that all that are still waited
    /// for are with the confidence: its n-th root, n lines being waited for. Exact where arrivals are
    /// independent; where one supplier's are late together, all are in time with more.
    fn share(&mut self, build: BuildId) -> f64 {
        let view = self.view;
        let confidence = self.confidence;
        *self.shares.entry(build).or_insert_with(|| {
            let waits = view
                .book
                .lines_of(build)
                .iter()
                .filter(|line| view.book.gates(line) && view.here(line) < line.required)
                .count();
            let waits = u32::try_from(waits.max(1)).unwrap_or(u32::MAX);
            confidence.powf(1.0 / f64::from(waits))
        })
    }

    /// The last safe ordering day, given that `next` is safe: ordering later never arrives sooner,
    /// so the safe days come first.
    fn latest(
        &mut self,
        offer: &Offer,
        need: &Need,
        (start, next): (usize, Date),
        share: f64,
    ) -> Date {
        let (mut safe, mut unsafe_from) = (0, self.days.len());
        while safe + 1 < unsafe_from {
            let middle = usize::midpoint(safe, unsafe_from);
            let Some(day) = self.days.get(middle).copied() else { break };
            let chance = self.chance(offer, need, start, day);
            match chance.is_some_and(|chance| is_safe(chance, share)) {
                true => safe = middle,
                false => unsafe_from = middle,
            }
        }
        self.days.get(safe).copied().unwrap_or(next)
    }

    /// P(ready for a start on axis index `start` | ordered on `day`); None: nothing dates it.
    fn chance(&mut self, offer: &Offer, need: &Need, start: usize, day: Date) -> Option<f64> {
        let law = self.law(offer, day)?;
        Some(chance_at(self.view, &self.finishers, &law, need, start))
    }

    fn law(&mut self, offer: &Offer, day: Date) -> Law {
        let view = self.view;
        let reckon = || {
            let law = arrivals::law_of_offer_on(view, offer, day)?;
            Some(Rc::new(on_axis(&law, &view.axis)))
        };
        self.laws.entry((offer.supplier, offer.part, day)).or_insert_with(reckon).clone()
    }

    fn late_days(&mut self, offer: &Offer, need: &Need, start: usize, next: Date) -> Option<usize> {
        let law = self.law(offer, next)?;
        let row = ready(self.view, &self.finishers, &law, std::slice::from_ref(need)).in_time;
        let at = row.iter().position(|chance| is_safe(*chance, self.confidence))?;
        at.checked_sub(start)
    }
}

fn is_safe(chance: f64, share: f64) -> bool {
    chance >= share - TOLERANCE
}

/// The last day on which work of so many days can start and be done by the end of `day`.
fn latest_start(calendar: &WorkCalendar, day: Date, days: u32) -> Option<Date> {
    let last = calendar.roll_back(day)?;
    let before = i32::try_from(days.saturating_sub(1)).ok()?;
    calendar.add_working_days(last, -before)
}

fn ordering_days(view: &View<'_>) -> Vec<Date> {
    let weekdays = view.book.settings.as_ref().map_or([true; 7], |s| s.ordering_days);
    let last = view.axis.dates().last().copied().unwrap_or(view.as_of);
    let mut days = Vec::new();
    let mut from = view.as_of;
    while let Some(day) = next_ordering_day(from, weekdays, &view.calendar) {
        if day > last {
            break;
        }
        days.push(day);
        let Some(after) = add_days(day, 1) else { break };
        from = after;
    }
    days
}
