//! Whether a start stalls: one function for the verdict of today and for every morning of the play.

use super::draws::Key;
use super::fleet::{Day, NEVER, Rules, Step, Vehicle};
use super::paths::Luck;
use crate::book::model::StartRule;
use crate::forecast::all_in_time;
use std::sync::Arc;

/// A source as a start looks at it.
#[derive(Clone, Debug)]
struct Awaited {
    by: Arc<Vec<f64>>,
    offset: i32,
    supplier: Option<Key>,
}

/// When a vehicle may begin.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Judge {
    awaited: Vec<Awaited>,
    from: Day,
    booked: Option<Day>,
    start: StartRule,
    /// Working days of its work in the middle.
    work: usize,
}

impl Awaited {
    /// P(in time for a start on day d | not here by the day before).
    fn in_time(&self, d: usize) -> f64 {
        let before = d.checked_sub(1).map_or(0.0, |at| self.value(at));
        let needed = i32::try_from(d).unwrap_or(i32::MAX).saturating_add(self.offset);
        let by = usize::try_from(needed).map_or(0.0, |at| self.value(at));
        if before >= 1.0 {
            return 0.0;
        }
        ((by - before) / (1.0 - before)).clamp(0.0, 1.0)
    }

    fn value(&self, at: usize) -> f64 {
        self.by.get(at).or(self.by.last()).copied().unwrap_or(0.0)
    }
}

impl Judge {
    pub(in crate::plan) fn new(vehicle: &Vehicle, rules: &Rules) -> Self {
        let mut awaited = Vec::new();
        for arrival in &vehicle.arrivals {
            let tightest = arrival.tightest(&vehicle.steps);
            let (by, offset) =
                tightest.map_or_else(Default::default, |(of, offset)| (Arc::clone(&of.by), offset));
            awaited.push(Awaited { by, offset, supplier: arrival.supplier });
        }
        let middle = |step: &Step| step.takes.iter().position(|by| *by >= 0.5 - 1e-12);
        let work = vehicle.steps.iter().filter_map(middle).sum();
        let (from, booked) = (vehicle.from, vehicle.booked);
        Self { awaited, from, booked, start: rules.start, work }
    }

    /// Its booking as others see it: the day, and working days in the middle.
    pub(super) fn booking(&self) -> Option<(usize, usize)> {
        self.booked.filter(|day| *day != NEVER).map(|day| (usize::from(day), self.work))
    }

    /// Working days of its work in the middle.
    pub(super) const fn work(&self) -> usize {
        self.work
    }

    /// The days for which it needs a bay between others' bookings; None: it need not look at them.
    pub(super) fn gap(&self) -> Option<usize> {
        let unbooked = self.booked.is_none() && matches!(self.start, StartRule::OnBookedDay(_));
        unbooked.then_some(self.work)
    }

    /// The first day on which it may begin on a path, bays aside; [`NEVER`]: not within the horizon.
    pub(super) fn eligible(&self, luck: &Luck, rules: &Rules, path: usize) -> Day {
        let at = |days: &[Day]| days.get(path).copied().unwrap_or(NEVER);
        let first = at(&luck.first).max(self.from);
        let tolerated = |known: Day, tolerance: f64| {
            let days = usize::from(first.max(known))..rules.days;
            let day = days.into_iter().find(|d| self.tolerates(luck, rules, (path, *d), tolerance));
            day.map_or(NEVER, super::paths::day)
        };
        let found = match (self.start, self.booked) {
            (StartRule::AllHere, _) => first.max(at(&luck.all)),
            (StartRule::OnBookedDay(_), Some(booked)) => first.max(booked),
            (StartRule::StallAtMost(x) | StartRule::OnBookedDay(x), _) => {
                tolerated(at(&luck.known), x)
            }
        };
        if usize::from(found) < rules.days { found } else { NEVER }
    }

    /// Whether it may begin on a day on or after its first eligible one.
    pub(super) fn still(&self, luck: &Luck, rules: &Rules, path: usize, d: usize) -> bool {
        let tolerance = self.start.tolerance(self.booked.is_some());
        tolerance.is_none_or(|most| self.tolerates(luck, rules, (path, d), most))
    }

    /// Whether a stall is at most `tolerance` likely, as far as anybody knows that morning.
    fn tolerates(&self, luck: &Luck, rules: &Rules, at: (usize, usize), tolerance: f64) -> bool {
        let (path, d) = at;
        if luck.all.get(path).is_some_and(|all| usize::from(*all) <= d) {
            return true;
        }
        let from = path * luck.arrivals;
        let Some(unknown) = luck.unknown.get(from..from + luck.arrivals) else { return false };
        let least = 1.0 - tolerance;
        let mut alone = 1.0;
        // Not here by yesterday, and not known to be in time.
        let out = || {
            let rows = unknown.iter().zip(&self.awaited);
            rows.filter(|(morning, _)| usize::from(**morning) > d).map(|(_, awaited)| awaited)
        };
        for awaited in out() {
            let chance = awaited.in_time(d);
            if chance < least {
                return false;
            }
            alone *= chance;
        }
        // What is late together is in time together: no less likely than alone.
        if alone >= least || rules.cause.rho() == 0.0 {
            return alone >= least;
        }
        let chances: Vec<_> = out().map(|awaited| (awaited.supplier, awaited.in_time(d))).collect();
        all_in_time(&chances, &rules.cause) >= least
    }
}
