//! What became of a build, measured.

use super::day::Play;
use super::jobs::{BuildOutcome, Job, PromiseOutcome};
use baystart_core::calendar::days_between;
use jiff::civil::Date;

impl Play<'_> {
    /// None: it is not delivered.
    pub(super) fn outcome(&self, job: &Job) -> Option<BuildOutcome> {
        let (started, delivered) = (job.started?, job.delivered?);
        let days = |from: Date, to: Date| days_between(from, to) as f64;
        let accepted = job.truth.accepted;
        let mut lying = 0.0;
        for (received, fitted) in job.received.iter().zip(&job.fitted) {
            lying += days((*received)?, (*fitted)?);
        }
        let mut parts_in_time = true;
        for ((_, stage, _), received) in job.truth.lines.iter().zip(&job.received) {
            let before: u32 = job.truth.stages.iter().take(*stage).map(|stage| stage.0).sum();
            let offset = i32::try_from(before).ok()?;
            let needed = self.calendar.add_working_days(job.planned_start, offset)?;
            parts_in_time &= (*received)? <= needed;
        }
        Some(BuildOutcome {
            build: job.build,
            parts_in_time,
            at: std::array::from_fn(|level| {
                let (day, said) = (job.dates[level], job.said.chances[level]);
                PromiseOutcome {
                    kept: delivered <= day,
                    said,
                    promised_days: days(accepted, day),
                    late_days: days(day, delivered).max(0.0),
                }
            }),
            said: job.said,
            may_begin_days: self.calendar.working_days_between(accepted, job.eligible?) as f64,
            wait: self.calendar.working_days_between(job.eligible?, started) as f64,
            overtaken: self.overtaken(job, started) as f64,
            kept_alone: job.dates.map(|day| job.delivered_alone.is_some_and(|on| on <= day)),
            actual_days: days(accepted, delivered),
            until_bay_days: days(accepted, started),
            stalled_days: f64::from(job.stalled_days),
            stock_days: lying / job.received.len() as f64,
            start_late_days: self.calendar.working_days_between(job.planned_start, started) as f64,
        })
    }
}
