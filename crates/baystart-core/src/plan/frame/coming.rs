//! What a shop's accepted builds were like, so that builds which nobody has accepted yet can be drawn.

use crate::book::model::StartRule;
use crate::calendar::{WorkCalendar, add_days};
use crate::plan::frame::accepted::AcceptedBuild;
use jiff::civil::Date;

/// Calendar days over which past builds say what the next are like.
const YEAR_DAYS: i64 = 365;
/// Working days for which the rate that is taken for granted counts: a year's.
const PRIOR_DAYS: f64 = 250.0;
/// Share of its bays' days that a shop sells, until its own history says otherwise. Judgement.
const PRIOR_LOAD: f64 = 0.8;
/// Share of the bays' days that builds to come take at most: with more the queue would grow for ever.
const LOAD_MAX: f64 = 0.9;
/// Past builds below which nothing is said of the next ones. Judgement.
const LIKES_MIN: usize = 5;

/// A build that was accepted, whether it is delivered or not.
#[derive(Clone, Debug, PartialEq)]
pub struct PastBuild {
    /// The day on which it was accepted.
    pub accepted_on: Date,
    /// It was under way when it was entered: it took its bay, and says nothing of the next ones.
    pub taken_over: bool,
    /// Its priority.
    pub priority: i32,
    /// Working days of its work in a bay by plan.
    pub work_days: u32,
    /// The day that was booked for it; None: it queues unbooked.
    pub booked_on: Option<Date>,
    /// The day by which the customer wanted it.
    pub required_by: Option<Date>,
    /// The first morning on which it might have begun, had a bay been free; None: not yet.
    pub eligible_on: Option<Date>,
    /// The day on which its work began.
    pub begun_on: Option<Date>,
    /// The day on which it was out of the bays for good.
    pub done_on: Option<Date>,
    /// Working days for which it kept its bay; None: not known.
    pub bay_days: Option<u32>,
}

/// The accepted builds of a shop.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Coming {
    /// From when on acceptances are counted; None: nothing was ever accepted.
    pub since: Option<Date>,
    /// Builds accepted after that day.
    pub accepted: usize,
    /// Those of the last two years or so, in the order of acceptance; of the last year the next builds
    /// are drawn, the earlier ones say which bays were taken then.
    pub builds: Vec<PastBuild>,
}

/// What a build to come is like; working days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::plan) struct Like {
    pub(in crate::plan) priority: i32,
    /// From acceptance to the first morning on which its parts let it begin, in the middle.
    pub(in crate::plan) parts: i64,
    /// Work by plan, as others see its booking.
    pub(in crate::plan) work: i64,
    /// How long it really keeps its bay.
    pub(in crate::plan) takes: i64,
    /// From the first free slot to its booked day; None: it is not booked.
    pub(in crate::plan) shift: Option<i64>,
    /// From acceptance to the day on which the customer wants it, where it is not booked.
    pub(in crate::plan) wanted: Option<i64>,
    /// From the booked day, or from acceptance and `parts`, to its eligible day.
    pub(in crate::plan) off: i64,
}

/// How builds to come are drawn.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::plan) struct Law {
    /// Acceptances a working day.
    pub(in crate::plan) rate: f64,
    pub(in crate::plan) likes: Vec<Like>,
    /// What is eligible follows the booked day, as parts are ordered to it; else acceptance.
    pub(in crate::plan) to_booking: bool,
}

/// Bays taken by plan, by working day from some morning on.
#[derive(Clone, Debug, Default)]
pub(in crate::plan) struct Taken(Vec<u32>);

impl Taken {
    /// A bay for so many days from a day on; what lies before the first day is over.
    pub(in crate::plan) fn take(&mut self, from: usize, days: usize) {
        let to = from.saturating_add(days);
        if self.0.len() < to {
            self.0.resize(to, 0);
        }
        self.0.iter_mut().take(to).skip(from).for_each(|taken| *taken += 1);
    }

    /// The first day from `from` on from which a bay is free for so many days.
    pub(in crate::plan) fn slot(&self, from: usize, days: usize, bays: u32) -> usize {
        let mut begin = from;
        for (day, taken) in self.0.iter().enumerate().skip(from) {
            if *taken >= bays {
                begin = day + 1;
            } else if day + 1 >= begin + days {
                break;
            }
        }
        begin
    }

    /// The same as another.
    pub(in crate::plan) fn copy(&mut self, other: &Self) {
        self.0.clone_from(&other.0);
    }
}

impl PastBuild {
    /// Working days from acceptance to the morning from which its parts let it begin, as far as anybody knows:
    /// nobody kept what was reckoned then, but a build is not booked before its parts.
    fn parts_days(&self, calendar: &WorkCalendar) -> Option<i64> {
        let from = self.eligible_on.into_iter().chain(self.booked_on).min()?;
        Some(calendar.working_days_between(self.accepted_on, from).max(0))
    }
}

impl Coming {
    /// What a shop's rows say, under its start rule: `since` the day on which its records began (None: there
    /// are none), `builds` in the order of acceptance. Kept are those of the two years before the last.
    #[must_use]
    pub fn of(
        since: Option<Date>,
        builds: &[AcceptedBuild],
        start: StartRule,
        calendar: &WorkCalendar,
    ) -> Self {
        let counts = |build: &&AcceptedBuild| !build.taken_over && Some(build.accepted_on) > since;
        let accepted = builds.iter().filter(counts).count();
        let last = builds.last().and_then(|build| add_days(build.accepted_on, -2 * YEAR_DAYS));
        let builds = builds.iter().filter(|build| Some(build.accepted_on) >= last);
        let builds = builds.map(|build| build.past(start, calendar)).collect();
        Self { since, accepted, builds }
    }

    /// How builds to come are drawn at the start of `as_of`; None: too few were accepted to say, or builds
    /// begin on their booked days. There hardly anybody overtakes, and those that were drawn filled gaps into
    /// which nobody is booked (measured, see the README of plans).
    pub(in crate::plan) fn law(
        &self,
        as_of: Date,
        calendar: &WorkCalendar,
        (bays, start, as_suggested): (u32, StartRule, bool),
    ) -> Option<Law> {
        let on_booked_day = matches!(start, StartRule::OnBookedDay(_));
        let since = self.since.filter(|_| bays > 0 && !on_booked_day)?;
        let to_booking = as_suggested;
        let year_ago = add_days(as_of, -YEAR_DAYS)?;
        // Of those that were there when the records began nobody knows what they waited for.
        let counts = |build: &PastBuild| {
            let within = build.accepted_on >= year_ago && build.accepted_on <= as_of;
            within && build.accepted_on > since && !build.taken_over
        };
        let past = || self.builds.iter().enumerate().filter(|(_, build)| counts(build));
        let mut known: Vec<i64> =
            past().filter_map(|(_, build)| build.parts_days(calendar)).collect();
        known.sort_unstable();
        let usual = known.get(known.len() / 2).copied().unwrap_or(0);
        let mut likes = Vec::new();
        for (at, build) in past() {
            // Neither booked nor able to begin yet: it takes as long as others in the middle, or longer.
            let so_far = || calendar.working_days_between(build.accepted_on, as_of).max(usual);
            let parts = build.parts_days(calendar).unwrap_or_else(so_far);
            likes.extend(self.like((at, build, parts), (as_of, calendar), (bays, to_booking)));
        }
        if likes.len() < LIKES_MIN {
            return None;
        }
        let takes = likes.iter().map(|like| like.takes).sum::<i64>() as f64 / likes.len() as f64;
        let can = f64::from(bays) / takes.max(1.0);
        let days = calendar.working_days_between(since, as_of).max(0) as f64;
        let rate = (self.accepted as f64 + PRIOR_LOAD * can * PRIOR_DAYS) / (days + PRIOR_DAYS);
        let rate = rate.min(LOAD_MAX * can);
        Some(Law { rate, likes, to_booking })
    }

    fn like(
        &self,
        (at, build, parts): (usize, &PastBuild, i64),
        (as_of, calendar): (Date, &WorkCalendar),
        (bays, to_booking): (u32, bool),
    ) -> Option<Like> {
        let accepted = build.accepted_on;
        let days = |from: Date, to: Date| calendar.working_days_between(from, to);
        let work = i64::from(build.work_days.max(1));
        let shift = build.booked_on.map(|booked| {
            let slot = self.taken_at(at, accepted, calendar).slot(index(parts), index(work), bays);
            days(accepted, booked) - i64::try_from(slot).unwrap_or(0)
        });
        let planned = match build.booked_on.filter(|_| to_booking) {
            Some(booked) => booked,
            None => calendar.add_working_days(accepted, i32::try_from(parts).ok()?)?,
        };
        let off = match build.eligible_on {
            Some(eligible) => days(planned, eligible),
            // Not yet: on the day, or today if that has passed.
            None => days(planned, as_of).max(0),
        };
        let takes = build.bay_days.map_or(work, i64::from).max(1);
        let wanted = build.required_by.filter(|_| shift.is_none());
        let wanted = wanted.map(|day| days(accepted, day).max(0));
        Some(Like { priority: build.priority, parts, work, takes, shift, wanted, off })
    }

    /// Who had a bay by plan on the morning on which a build was accepted.
    fn taken_at(&self, at: usize, day: Date, calendar: &WorkCalendar) -> Taken {
        let mut taken = Taken::default();
        for other in self.builds.iter().take(at) {
            if other.done_on.is_some_and(|done| done < day) {
                continue;
            }
            let work = i64::from(other.work_days.max(1));
            if let Some(begun) = other.begun_on.filter(|begun| *begun < day) {
                let left = work - calendar.working_days_between(begun, day);
                taken.take(0, index(left.max(1)));
            } else if let Some(booked) = other.booked_on {
                let from = calendar.working_days_between(day, booked.max(day));
                taken.take(index(from), index(work));
            }
        }
        taken
    }
}

/// A day before the first is the first.
fn index(days: i64) -> usize {
    usize::try_from(days).unwrap_or(0)
}
