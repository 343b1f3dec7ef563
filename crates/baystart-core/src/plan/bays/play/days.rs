//! One path, day by day: who begins, who waits, who leaves.

use super::fleet::{Day, NEVER, Rules, Standing, Vehicle};
use super::paths::{Causes, Luck, day};
use super::queue::Queue;
use super::stall::Judge;
use super::to_come::{Come, ToCome};
use crate::plan::frame::coming::Taken;
use std::collections::{BTreeMap, BTreeSet};

/// Working days after which a bay is freed of a build whose next part never comes on a path: by then
/// people have taken it out. Judgement.
pub(in crate::plan) const STUCK_DAYS: usize = 60;

/// A vehicle with its luck.
#[derive(Clone, Debug)]
pub(in crate::plan) struct Lucky {
    pub(in crate::plan) vehicle: Vehicle,
    luck: Luck,
    judge: Judge,
    /// By path: the first morning on which it might begin, had a bay been free. Nobody else has a say
    /// in it, so that it is found once for all plays.
    eligible: Vec<Day>,
}

impl Lucky {
    /// Draws the luck of a vehicle.
    pub(in crate::plan) fn new(vehicle: Vehicle, rules: &Rules, causes: &mut Causes) -> Self {
        let luck = Luck::draw(&vehicle, rules, causes);
        let judge = Judge::new(&vehicle, rules);
        let eligible = match vehicle.standing {
            Standing::Waiting => {
                (0..rules.paths).map(|path| judge.eligible(&luck, rules, path)).collect()
            }
            Standing::Begun | Standing::Left => Vec::new(),
        };
        Self { vehicle, luck, judge, eligible }
    }

    /// Its work begins in a bay.
    fn begins_in_bay(&self) -> bool {
        self.vehicle.steps.first().is_none_or(|step| !step.away)
    }
}

/// What became of a vehicle on one path, as axis indices; [`NEVER`]: not within the horizon.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) struct Fate {
    /// First morning on which it might have begun, had a bay been free.
    pub(in crate::plan) eligible: Day,
    /// The day on which its work begins, today if it has begun.
    pub(in crate::plan) start: Day,
    /// Last day of its work.
    pub(in crate::plan) end: Day,
    /// The day on which it can be handed over.
    pub(in crate::plan) delivered: Day,
    /// Working days between two stages without the parts to go on.
    pub(in crate::plan) stalled: Day,
    /// Builds to come that begin before it.
    pub(in crate::plan) overtaken: Day,
}

impl Fate {
    const NONE: Self = Self {
        eligible: NEVER,
        start: NEVER,
        end: NEVER,
        delivered: NEVER,
        stalled: 0,
        overtaken: 0,
    };
}

/// Bays taken by plan: by who is in one for the rest of its work in the middle, by who is booked.
fn taken(fleet: &[&Lucky]) -> Taken {
    let mut taken = Taken::default();
    for lucky in fleet {
        match lucky.vehicle.standing {
            Standing::Left => {}
            Standing::Begun => taken.take(0, lucky.judge.work().max(1)),
            Standing::Waiting => {
                if let Some((from, days)) = lucky.judge.booking() {
                    taken.take(from, days);
                }
            }
        }
    }
    taken
}

/// What happens on a path, and the paper on which it is reckoned.
#[derive(Debug)]
pub(super) struct Path<'f> {
    rules: &'f Rules,
    fleet: &'f [&'f Lucky],
    path: usize,
    /// Bays that become free on the morning of each day.
    freed: Vec<i64>,
    /// Vehicles that come back on a day and need a bay: vehicle and step.
    back: BTreeSet<(usize, usize, usize)>,
    /// Bookings of vehicles that have not begun: vehicle, day and working days; empty where nobody looks
    /// for a gap between them.
    bookings: BTreeMap<usize, (usize, usize)>,
    looks_for_gaps: bool,
    queue: Queue,
    come: Come<'f>,
    pub(super) fates: Vec<Fate>,
    /// Bays left free after each morning's starts.
    pub(super) left: Vec<i64>,
}

impl<'f> Path<'f> {
    pub(super) fn new(rules: &'f Rules, fleet: &'f [&'f Lucky], to_come: &'f ToCome) -> Self {
        let freed = vec![0; rules.days];
        let (fates, left) = (vec![Fate::NONE; fleet.len()], vec![0; rules.days]);
        let (back, bookings) = (BTreeSet::new(), BTreeMap::new());
        let looks_for_gaps = fleet.iter().any(|lucky| lucky.judge.gap().is_some());
        let queue = Queue::new(fleet.len(), rules.days);
        let ranks = fleet.iter().map(|lucky| &lucky.vehicle.rank).collect();
        let come = Come::beside(to_come, (rules.bays, rules.days), ranks, taken(fleet));
        Self {
            rules,
            fleet,
            path: 0,
            freed,
            back,
            bookings,
            looks_for_gaps,
            queue,
            come,
            fates,
            left,
        }
    }

    /// Plays a path from the first day of the axis to the last.
    pub(super) fn play(&mut self, path: usize) {
        self.path = path;
        self.freed.fill(0);
        self.back.clear();
        self.bookings.clear();
        self.fates.fill(Fate::NONE);
        let mut free = match self.rules.bays {
            0 => i64::from(u32::MAX),
            bays => i64::from(bays),
        };
        self.queue.clear();
        self.come.path(path);
        // Who may begin without a bay, and has not.
        let mut bayless = 0;
        for at in 0..self.fleet.len() {
            let Some(lucky) = self.fleet.get(at) else { continue };
            match lucky.vehicle.standing {
                Standing::Left => self.leave(at, 0),
                Standing::Begun => {
                    let holds = lucky.begins_in_bay();
                    free -= i64::from(holds);
                    self.begin(at, 0);
                    self.work(at, 0, 0, holds);
                }
                Standing::Waiting => {
                    if self.looks_for_gaps {
                        self.bookings.extend(lucky.judge.booking().map(|booking| (at, booking)));
                    }
                    let eligible = lucky.eligible.get(path).copied().unwrap_or(NEVER);
                    if let Some(fate) = self.fates.get_mut(at) {
                        fate.eligible = eligible;
                    }
                    if eligible != NEVER {
                        self.queue.expect(at, usize::from(eligible));
                        bayless += usize::from(!lucky.begins_in_bay());
                    }
                }
            }
        }
        for d in 0..self.rules.days {
            free += self.freed.get(d).copied().unwrap_or(0);
            // Who came back first goes on first; on one day in the order of service.
            while free > 0 && self.back.first().is_some_and(|(since, _, _)| *since <= d) {
                let Some((_, at, step)) = self.back.pop_first() else { break };
                free -= 1;
                self.work(at, step, d, true);
            }
            self.queue.morning(d);
            self.come.morning(d);
            let mut from = 0;
            // Without a free bay only those begin who need none.
            while free > 0 || bayless > 0 {
                let next = self.queue.first_from(from);
                let to_come = self.come.first().filter(|_| free > 0);
                if let Some((_, its)) =
                    to_come.filter(|(before, _)| next.is_none_or(|at| at >= *before))
                {
                    free -= 1;
                    let days = self.come.begin(its);
                    self.free(true, d + days);
                    continue;
                }
                let Some(at) = next else { break };
                from = at + 1;
                if !self.may_begin(at, d, free) {
                    continue;
                }
                self.queue.leave(at);
                let needs_bay = self.needs_bay(at);
                free -= i64::from(needs_bay);
                bayless -= usize::from(!needs_bay);
                self.begin(at, d);
                self.work(at, 0, d, needs_bay);
            }
            if let Some(left) = self.left.get_mut(d) {
                *left = free;
            }
        }
    }

    fn needs_bay(&self, at: usize) -> bool {
        self.fleet.get(at).is_some_and(|lucky| lucky.begins_in_bay())
    }

    /// Whether a vehicle that is eligible begins on the morning of `d`.
    fn may_begin(&self, at: usize, d: usize, free: i64) -> bool {
        let Some(lucky) = self.fleet.get(at) else { return false };
        let needs_bay = lucky.begins_in_bay();
        if needs_bay && free <= 0 || !lucky.judge.still(&lucky.luck, self.rules, self.path, d) {
            return false;
        }
        let gap = lucky.judge.gap().filter(|_| needs_bay);
        gap.is_none_or(|days| self.has_room(d, days, free))
    }

    /// Whether a bay is free for so many days from `d` on, others' bookings counted.
    fn has_room(&self, d: usize, days: usize, free: i64) -> bool {
        let mut free = free;
        for t in d..(d + days).min(self.rules.days) {
            if t > d {
                free += self.freed.get(t).copied().unwrap_or(0);
            }
            let taken = |booking: &&(usize, usize)| {
                let from = booking.0.max(d);
                (from..from + booking.1).contains(&t)
            };
            let taken = self.bookings.values().filter(taken).count();
            if free <= i64::try_from(taken).unwrap_or(i64::MAX) {
                return false;
            }
        }
        true
    }

    fn begin(&mut self, at: usize, d: usize) {
        self.bookings.remove(&at);
        if let Some(fate) = self.fates.get_mut(at) {
            fate.start = day(d);
            fate.eligible = fate.eligible.min(day(d));
            fate.overtaken = self.come.begun;
        }
    }

    /// The work of a vehicle from a step on, until it is done or away; `holds`: it is in a bay.
    fn work(&mut self, at: usize, from: usize, d: usize, mut holds: bool) {
        let Some(lucky) = self.fleet.get(at) else { return };
        let luck = &lucky.luck;
        let mut next = d;
        let row = self.path * luck.steps;
        for (k, step) in lucky.vehicle.steps.iter().enumerate().skip(from) {
            if !step.away && !holds {
                self.back.insert((next, at, k));
                return;
            }
            let of = |rows: &[Day]| rows.get(row + k).copied().unwrap_or(NEVER);
            let (ready, takes) = (of(&luck.ready), of(&luck.takes));
            if ready == NEVER {
                self.free(holds, next.saturating_add(STUCK_DAYS));
                return;
            }
            let begin = next.max(usize::from(ready));
            if let Some(fate) = self.fates.get_mut(at) {
                fate.stalled = fate.stalled.saturating_add(day(begin - next));
            }
            if step.away {
                // The bay of the day on which it leaves is taken.
                self.free(holds, begin.max(d + 1));
                holds = false;
            }
            if takes == NEVER {
                return;
            }
            next = begin + usize::from(takes);
        }
        // Work of no days is done on the day on which it begins, and takes that day's bay.
        self.free(holds, next.max(d + 1));
        self.leave(at, next.saturating_sub(1).max(d));
    }

    fn free(&mut self, holds: bool, on: usize) {
        if let Some(freed) = self.freed.get_mut(on).filter(|_| holds) {
            *freed += 1;
        }
    }

    fn leave(&mut self, at: usize, end: usize) {
        let papers = self.fleet.get(at).and_then(|lucky| lucky.luck.papers.get(self.path));
        let papers = papers.copied().unwrap_or(NEVER);
        let end = if end < self.rules.days { day(end) } else { NEVER };
        if let Some(fate) = self.fates.get_mut(at) {
            fate.end = end;
            fate.delivered = end.max(papers);
        }
    }
}
