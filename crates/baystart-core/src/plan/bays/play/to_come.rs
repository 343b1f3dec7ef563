//! Builds that nobody has accepted yet, drawn on every path.
//!
//! Acceptances are Poisson: exponential gaps, one variable for the k-th build to come. What it is like
//! is one variable more: one of the builds that were accepted in the last year, all its attributes
//! together. Its booked day follows by plan, once a path: the first day from acceptance and its parts'
//! days on which a bay is free for its whole work between bookings, and its shift; never before.

use super::draws::Key;
use super::fleet::Day;
use super::paths::day;
use super::queue::Queue;
use crate::book::ServiceKey;
use crate::plan::frame::coming::{Law, Like, Taken};
use jiff::civil::Date;

/// Builds to come that are drawn on one path at most: those after them are beyond what is asked about, and a
/// shop of many bays and short jobs would fill the memory with them. Judgement.
const COME_MAX: u32 = 2_000;

/// Builds to come on every path.
#[derive(Clone, Debug, Default, PartialEq)]
pub(in crate::plan) struct ToCome {
    law: Option<Law>,
    /// Of the axis.
    dates: Vec<Date>,
    /// By path, in the order of acceptance: the day on which it is accepted, and which past build it is
    /// like.
    rows: Vec<Vec<(Day, u16)>>,
}

/// A build to come on one path.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    priority: i32,
    booked: Option<usize>,
    eligible: usize,
    takes: usize,
}

/// The builds to come of one path.
#[derive(Debug)]
pub(super) struct Come<'f> {
    to_come: &'f ToCome,
    bays: u32,
    days: usize,
    /// Ranks of the fleet, in the order of service.
    ranks: Vec<&'f ServiceKey>,
    /// Bays taken by plan by the fleet, and by who was drawn before.
    booked: Taken,
    taken: Taken,
    /// In the order of service, with the number of the fleet's vehicles that come before it.
    drawn: Vec<(usize, Drawn)>,
    queue: Queue,
    /// How many have begun.
    pub(super) begun: Day,
}

impl ToCome {
    /// Draws them; None: nobody comes.
    pub(in crate::plan) fn draw(law: Option<Law>, dates: &[Date], paths: usize) -> Self {
        let Some(law) = law.filter(|law| law.rate > 0.0 && !law.likes.is_empty()) else {
            return Self::default();
        };
        let days = dates.len() as f64;
        let count = law.likes.len().min(usize::from(u16::MAX));
        let (mut rows, mut at) = (vec![Vec::new(); paths], vec![0.0; paths]);
        for k in 0..COME_MAX {
            let key = Key::of(&["to come", &k.to_string()]);
            let likes = key.and(1).uniforms(paths);
            let mut any = false;
            for ((at, row), (gap, like)) in
                at.iter_mut().zip(&mut rows).zip(key.uniforms(paths).iter().zip(&likes))
            {
                *at -= gap.ln() / law.rate;
                if *at < days {
                    any = true;
                    row.push((
                        day(*at as usize),
                        day(((like * count as f64) as usize).min(count - 1)),
                    ));
                }
            }
            if !any {
                break;
            }
        }
        Self { law: Some(law), dates: dates.to_vec(), rows }
    }
}

impl<'f> Come<'f> {
    /// Beside a fleet whose plan is `booked`.
    pub(super) fn beside(
        to_come: &'f ToCome,
        (bays, days): (u32, usize),
        ranks: Vec<&'f ServiceKey>,
        booked: Taken,
    ) -> Self {
        let most = to_come.rows.iter().map(Vec::len).max().unwrap_or(0);
        let queue = Queue::new(most, if most > 0 { days } else { 0 });
        let (taken, drawn) = (Taken::default(), Vec::with_capacity(most));
        Self { to_come, bays, days, ranks, booked, taken, drawn, queue, begun: 0 }
    }

    /// Books and queues those of a path.
    pub(super) fn path(&mut self, path: usize) {
        self.begun = 0;
        let rows = self.to_come.rows.get(path).filter(|rows| !rows.is_empty());
        self.drawn.clear();
        self.queue.clear();
        let Some((law, rows)) = self.to_come.law.as_ref().zip(rows) else { return };
        self.taken.copy(&self.booked);
        for (accepted, like) in rows {
            let Some(like) = law.likes.get(usize::from(*like)) else { continue };
            let accepted = usize::from(*accepted);
            let drawn = self.booked_as(law, accepted, like);
            let wanted = like.wanted.map(|days| plus(accepted, days));
            let date = drawn.booked.or(wanted).and_then(|at| self.to_come.dates.get(at).copied());
            let rank = (drawn.priority, date.unwrap_or(Date::MAX));
            let before = self.ranks.partition_point(|key| (key.0, key.1) <= rank);
            self.drawn.push((before, drawn));
        }
        // Of one place in the order the first accepted comes first.
        self.drawn.sort_by_key(|(before, drawn)| {
            (*before, drawn.priority, drawn.booked.unwrap_or(usize::MAX))
        });
        for (at, (_, drawn)) in self.drawn.iter().enumerate() {
            self.queue.expect(at, drawn.eligible);
        }
    }

    fn booked_as(&mut self, law: &Law, accepted: usize, like: &Like) -> Drawn {
        let parts = accepted + index(like.parts);
        let booked = like.shift.map(|shift| {
            let work = index(like.work);
            let slot = self.taken.slot(parts, work, self.bays);
            let booked = plus(slot, shift).max(parts);
            if booked < self.days {
                self.taken.take(booked, work);
            }
            booked
        });
        let planned = booked.filter(|_| law.to_booking).unwrap_or(parts);
        let eligible = plus(planned, like.off).max(accepted + 1);
        Drawn { priority: like.priority, booked, eligible, takes: index(like.takes).max(1) }
    }

    /// Lets those in of whom it is the first day.
    pub(super) fn morning(&mut self, day: usize) {
        self.queue.morning(day);
    }

    /// Who is first: the number of the fleet's vehicles that come before it, and its place.
    pub(super) fn first(&self) -> Option<(usize, usize)> {
        let at = self.queue.first_from(0)?;
        self.drawn.get(at).map(|(before, _)| (*before, at))
    }

    /// It begins; the days for which it keeps its bay.
    pub(super) fn begin(&mut self, at: usize) -> usize {
        self.queue.leave(at);
        self.begun = self.begun.saturating_add(1);
        self.drawn.get(at).map_or(1, |(_, drawn)| drawn.takes)
    }
}

/// A day before the first is the first.
fn index(days: i64) -> usize {
    usize::try_from(days).unwrap_or(0)
}

fn plus(from: usize, days: i64) -> usize {
    index(i64::try_from(from).unwrap_or(0) + days)
}
