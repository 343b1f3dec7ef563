//! What the promise list says of promises in the months after they were given.

use super::day::{Outcome, Play};
use super::desk::Fault;
use super::figures::{Between, between};
use baystart_core::calendar::days_between;
use baystart_core::plan::chances_of_promise;

/// Months between two looks at one promise.
const MONTHS: u64 = 4;
/// Calendar days ahead of which a promise is looked at.
const AHEAD_DAYS: std::ops::RangeInclusive<i64> = 1..=120;

/// A promise in force as it was looked at once.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Looked {
    /// Calendar days until the promised day.
    pub ahead_days: i64,
    /// The chance that it is kept, as it was reckoned on that day.
    pub said: f64,
    /// Whether it was.
    pub kept: bool,
}

impl Play<'_> {
    /// Looks at a share of the promises in force: at each once in [`MONTHS`].
    pub(super) fn look_at_promises(&mut self, month: u64) -> Result<(), Fault> {
        let today = self.desk.today;
        let mut looked = Vec::new();
        for (at, job) in self.jobs.iter().enumerate() {
            let [_, promised, _] = job.dates;
            let ahead = days_between(today, promised);
            let now = (job.build + month).is_multiple_of(MONTHS);
            if !now || job.delivered.is_some() || !AHEAD_DAYS.contains(&ahead) || !self.counts(job)
            {
                continue;
            }
            let (book, learned) = (&self.desk.book, Some(&self.learned));
            let chances = chances_of_promise(book, learned, job.id, today, &[promised]);
            let chances = chances.map_err(|refusal| refusal.to_string())?;
            looked.extend(chances.first().map(|said| (at, (ahead, *said))));
        }
        for (at, one) in looked {
            if let Some(job) = self.jobs.get_mut(at) {
                job.looked.push(one);
            }
        }
        Ok(())
    }

    /// Every look at the promise of a counted build that is delivered.
    pub(super) fn looks(&self) -> Vec<Looked> {
        let mut looks = Vec::new();
        for job in self.jobs.iter().filter(|job| self.counts(job)) {
            let [_, promised, _] = job.dates;
            let Some(delivered) = job.delivered else { continue };
            let look = |(ahead_days, said): &(i64, f64)| Looked {
                ahead_days: *ahead_days,
                said: *said,
                kept: delivered <= promised,
            };
            looks.extend(job.looked.iter().map(look));
        }
        looks
    }
}

/// Looks at promises so many days ahead: the mean chance that was said, and kept less said with its interval.
#[must_use]
pub fn promises_ahead(days: std::ops::RangeInclusive<i64>, seeds: &[Outcome]) -> (f64, Between) {
    let values = |of: fn(&Looked) -> f64| {
        let looks = |seed: &Outcome| {
            let looks = seed.looks.iter().filter(|look| days.contains(&look.ahead_days));
            looks.map(of).collect::<Vec<f64>>()
        };
        between(seeds.iter().map(looks).collect())
    };
    (values(|look| look.said).mean, values(|look| f64::from(u8::from(look.kept)) - look.said))
}
