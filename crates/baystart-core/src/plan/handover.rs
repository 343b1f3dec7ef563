//! When a build can be handed over: the work done, work off site back, the last papers here.

use super::arrivals;
use super::build::{DateAt, LEVELS, Reckoned};
use super::stages::Placed;
use super::view::View;
use crate::book::model::StageState;
use crate::leadtime::on_axis;

impl View<'_> {
    /// The handover at [`LEVELS`], if the build starts on the start date of the same level: the first
    /// day x on which, with s the start and w the working days to do,
    ///
    /// sum over d of P(off site d days longer than planned) G(x - d - w), times P(each last paper is
    /// here by x), is the level. Work off site and papers are independent of the parts.
    pub(super) fn handover(&self, reckoned: &Reckoned<'_>) -> Vec<DateAt> {
        let days = self.axis.len();
        let papers: Option<Vec<&[f64]>> =
            reckoned.handover.iter().map(|found| found.arrival.as_deref()).collect();
        let start_cdf = reckoned.forecast.start_cdf();
        let middle = reckoned.forecast.quantile(0.5);
        let mut rows = Vec::new();
        for probability in LEVELS {
            let start = reckoned.forecast.quantile(probability);
            let late = middle.or(start).map(|start| self.late_off_site(reckoned, start));
            let date = start.zip(papers.as_ref()).zip(late).and_then(|((start, papers), late)| {
                let work = (reckoned.remaining_days as usize).saturating_sub(1);
                let by = |x: usize| {
                    let mut chance = 0.0;
                    for (longer, weight) in late.iter().enumerate() {
                        let begun = x.checked_sub(longer + work).filter(|at| *at >= start);
                        chance += weight * begun.and_then(|at| start_cdf.get(at)).unwrap_or(&0.0);
                    }
                    let here = |cdf: &&[f64]| cdf.get(x).copied().unwrap_or(0.0);
                    chance * papers.iter().map(here).product::<f64>()
                };
                let first = (start + work..days).find(|x| by(*x) >= probability - 1e-9);
                first.and_then(|x| self.axis.date(x))
            });
            rows.push(DateAt { probability, date });
        }
        rows
    }

    /// P(the work off site takes d working days more than planned), all stages off site together;
    /// what is missing of 1 has no date.
    fn late_off_site(&self, reckoned: &Reckoned<'_>, start: usize) -> Vec<f64> {
        let mut late = vec![1.0];
        for placed in &reckoned.placed {
            if let Some(own) = self.late_of(placed, start) {
                late = convolved(&late, &own, self.axis.len());
            }
        }
        late
    }

    fn late_of(&self, placed: &Placed<'_>, start: usize) -> Option<Vec<f64>> {
        let firm = placed.stage.off_site?;
        if placed.state == StageState::Done {
            return None;
        }
        let planned = usize::try_from(placed.stage.planned_days).ok()?;
        let (left_on, due) = match placed.stage.begun_on {
            Some(begun) => (begun, placed.remaining_days as usize),
            None => {
                let index = start + placed.offset_days as usize;
                (self.axis.date(index)?, index + planned)
            }
        };
        let arrival = arrivals::of_off_site(self, firm, left_on, placed.stage.planned_days)?;
        let back = on_axis(&arrival.law, &self.axis);
        // Back on the morning of the day after its last planned day is in time.
        let mut before = 0.0;
        let mut mass = Vec::new();
        for by in back.iter().skip(due) {
            mass.push(by - before);
            before = *by;
        }
        Some(mass)
    }
}

fn convolved(a: &[f64], b: &[f64], days: usize) -> Vec<f64> {
    let mut sum = vec![0.0; days.min(a.len() + b.len())];
    for (i, x) in a.iter().enumerate().filter(|(_, x)| **x > 0.0) {
        for (j, y) in b.iter().enumerate() {
            if let Some(cell) = sum.get_mut(i + j) {
                *cell += x * y;
            }
        }
    }
    sum
}
