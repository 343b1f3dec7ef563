//! When a build is done and can be handed over: the work done, work off site back, the last papers
//! here.

use crate::plan::frame::view::View;
use crate::plan::ground::Dates;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::work::{DayMass, convolved};

/// Rounding that a sum of many products may be short of a level.
const TOLERANCE: f64 = 1e-9;

/// The last day of a build's work as a distribution, for one start.
///
/// With the parts' `S*` (the first day on which a start does not stall), its distribution function G
/// and T the working days that the work takes, finish = max(start, S*) + T, so
///
/// P(done by the end of day x | start) = sum over t of P(T = t) [x - (t - 1) >= start] G(x - (t - 1)),
///
/// times P(each last paper is here by x). T, the parts and the papers are independent of each other.
///
/// Exact but for this: later stages need their parts at *planned* offsets, though the stages before
/// them may take longer or shorter (design, section 6). Where stages take longer than planned, their
/// parts have longer to come than is counted here, and the date errs to the late side; where they take
/// less, to the early side. The test `lengths_move_the_later_stages_needs` prints by how much.
pub(in crate::plan) struct Ends<'r> {
    pub(in crate::plan) start_cdf: &'r [f64],
    /// None: a paper has no date.
    pub(in crate::plan) papers: Option<Vec<&'r [f64]>>,
    pub(in crate::plan) work: DayMass,
    pub(in crate::plan) days: usize,
}

impl Ends<'_> {
    /// Working days that the work takes.
    pub(in crate::plan) fn work_days(&self) -> &[f64] {
        &self.work
    }

    /// P(done by axis index `by`, and with `papers` ready for handover | started on `start`).
    pub(in crate::plan) fn by(&self, by: usize, start: usize, papers: bool) -> f64 {
        let mut chance = 0.0;
        for (days, weight) in self.work.iter().enumerate() {
            let Some(begun) = by.checked_sub(days.saturating_sub(1)).filter(|at| *at >= start)
            else {
                break;
            };
            chance += weight * self.start_cdf.get(begun).unwrap_or(&0.0);
        }
        if !papers {
            return chance;
        }
        let here = |cdf: &&[f64]| cdf.get(by).copied().unwrap_or(0.0);
        let papers = self.papers.as_ref();
        chance * papers.map_or(0.0, |papers| papers.iter().map(here).product())
    }

    /// The first axis index by which it is done with chance `level`; it never falls with the day.
    pub(in crate::plan) fn quantile(
        &self,
        level: f64,
        start: usize,
        papers: bool,
    ) -> Option<usize> {
        let (mut low, mut high) = (start, self.days);
        while low < high {
            let middle = low + (high - low) / 2;
            match self.by(middle, start, papers) >= level - TOLERANCE {
                true => high = middle,
                false => low = middle + 1,
            }
        }
        (low < self.days).then_some(low)
    }
}

impl View<'_> {
    /// The end of a build's work for a start about axis index `start`: work off site is dated by the
    /// day on which the vehicle leaves if it starts then.
    pub(in crate::plan) fn ends<'r>(&self, reckoned: &'r Reckoned<'_>, start: usize) -> Ends<'r> {
        let work = match self.late_off_site(&reckoned.placed, start) {
            Some(late) => convolved(&reckoned.work, &late, self.axis.len()),
            None => reckoned.work.clone(),
        };
        Ends {
            start_cdf: reckoned.forecast.start_cdf(),
            papers: reckoned.handover.iter().map(|found| found.arrival.as_deref()).collect(),
            work,
            days: self.axis.len(),
        }
    }

    /// The handover at [`crate::plan::LEVELS`] that the parts alone would allow, if the build starts on the start
    /// date of the same level: a bay is taken to be free.
    pub(in crate::plan) fn handover(&self, reckoned: &Reckoned<'_>) -> Dates {
        let middle = reckoned.forecast.quantile(0.5);
        let ends = self.ends(reckoned, middle.unwrap_or(0));
        Dates::of(|level| {
            let start = reckoned.forecast.quantile(level)?;
            self.axis.date(ends.quantile(level, start, true)?)
        })
    }
}
