//! What the shop's accepted builds were like, and who overtook whom.

use super::day::Play;
use super::desk::Fault;
use super::jobs::Job;
use baystart_core::plan::{AcceptedBuild, AcceptedPart, AcceptedStage, Coming};
use jiff::civil::Date;

/// The priority of builds that are booked.
const PRIORITY: i32 = 100;

/// What the shop's rows say of it.
fn accepted(job: &Job) -> AcceptedBuild {
    let lines = job.truth.lines.iter().zip(&job.received);
    let stages = job.truth.stages.iter().enumerate().map(|(at, (planned, _))| AcceptedStage {
        planned_days: *planned,
        begun_on: job.started.filter(|_| at == 0),
        done_on: job.delivered,
        away: false,
    });
    AcceptedBuild {
        accepted_on: job.truth.accepted,
        taken_over: false,
        priority: PRIORITY,
        booked_on: Some(job.planned_start),
        required_by: None,
        stages: stages.collect(),
        parts: lines
            .map(|((_, of, _), here)| AcceptedPart { stage: *of, here_on: *here })
            .collect(),
        delivered_on: job.delivered,
    }
}

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
        let start = self.desk.book.start_rule();
        let past = |job: &Job| accepted(job).past(start, &self.calendar);
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
