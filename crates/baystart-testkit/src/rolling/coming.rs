//! What the shop's accepted builds were like, and who overtook whom.

use super::day::Play;
use super::desk::Fault;
use super::jobs::Job;
use baystart_core::plan::{Coming, PastBuild};
use jiff::civil::Date;

/// The priority of builds that are booked.
const PRIORITY: i32 = 100;

impl Play<'_> {
    /// Notes who might begin for the first time today, bays aside.
    pub(super) fn note_eligible(&mut self) -> Result<(), Fault> {
        let mut eligible = Vec::new();
        for (at, job) in self.jobs.iter().enumerate() {
            if job.started.is_none() && job.eligible.is_none() && self.may_begin(job)? {
                eligible.push(at);
            }
        }
        for at in eligible {
            if let Some(job) = self.jobs.get_mut(at) {
                job.eligible = Some(self.desk.today);
            }
        }
        Ok(())
    }

    /// What forecasts know of the builds so far; None: they draw none.
    pub(super) fn coming(&self) -> Option<Coming> {
        let (since, before) = self.record.accepted;
        let past = |job: &Job| PastBuild {
            accepted_on: job.truth.accepted,
            priority: PRIORITY,
            parts_from: job.parts_from,
            work_days: job.truth.stages.iter().map(|(planned, _)| planned).sum(),
            booked_on: Some(job.planned_start),
            eligible_on: job.eligible,
            begun_on: job.started,
            done_on: job.delivered,
        };
        self.policy.to_come.then(|| Coming {
            since: Some(since),
            accepted: before + self.jobs.len(),
            builds: self.jobs.iter().map(past).collect(),
        })
    }

    /// Builds accepted after a build that began before it.
    pub(super) fn overtaken(&self, job: &Job, started: Date) -> usize {
        let later = self.jobs.iter().filter(|other| other.build > job.build);
        let key = (started, job.planned_start, job.build);
        let before = |other: &&Job| {
            other.started.is_some_and(|day| (day, other.planned_start, other.build) < key)
        };
        later.filter(before).count()
    }
}
