//! When a build can be handed over: the work done, work off site back, the last papers here.

use super::arrivals;
use super::build::{DateAt, LEVELS, Reckoned};
use super::stages::Placed;
use super::view::View;
use crate::book::model::StageState;
use crate::leadtime::on_axis;
use jiff::civil::Date;

impl View<'_> {
    /// The handover at [`LEVELS`], if the build starts on the start date of the same level: the first
    /// day x on which, with s the start and w the working days to do,
    ///
    /// sum over d of P(off site d days longer than planned) G(x - d - w), times P(each last paper is
    /// here by x), is the level. Work off site and papers are independent of the parts.
    pub(super) fn handover(&self, reckoned: &Reckoned<'_>) -> Vec<DateAt> {
        let days = self.axis.len();
        let middle = reckoned.forecast.quantile(0.5);
        let mut rows = Vec::new();
        for probability in LEVELS {
            let start = reckoned.forecast.quantile(probability);
            let date = start.and_then(|start| {
                let late = self.late_off_site(reckoned, middle.unwrap_or(start));
                let work = (reckoned.remaining_days as usize).saturating_sub(1);
                let by = |x: &usize| handed_over_by(reckoned, &late, start, *x);
                let first = (start + work..days).find(|x| by(x) >= probability - 1e-9);
                first.and_then(|x| self.axis.date(x))
            });
            rows.push(DateAt { probability, date });
        }
        rows
    }

    /// Chance in [0, 1] that it is handed over by the end of `day` if work begins as soon as it can,
    /// on its planned start at the earliest; 0 with an undated line.
    pub(super) fn chance_of_handover(
        &self,
        reckoned: &Reckoned<'_>,
        planned_start: Option<Date>,
        day: Date,
    ) -> f64 {
        if !reckoned.undated.is_empty() || day < self.as_of {
            return 0.0;
        }
        let begun = reckoned.placed.iter().any(|stage| stage.state != StageState::Waiting);
        let planned = planned_start.filter(|_| !begun).map(|day| day.max(self.as_of));
        let start = planned.map_or(Some(0), |day| self.axis.index_of(day));
        let next = self.axis.index_of(day).unwrap_or(self.axis.len());
        // A day on which nobody works: what is done by then was done the working day before.
        let late_day = self.axis.date(next).is_none_or(|date| date > day);
        let last = if late_day { next.checked_sub(1) } else { Some(next) };
        let (Some(start), Some(last)) = (start, last) else { return 0.0 };
        let middle = reckoned.forecast.quantile(0.5).unwrap_or(start).max(start);
        let late = self.late_off_site(reckoned, middle);
        handed_over_by(reckoned, &late, start, last)
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

/// P(handed over by axis index x | begun on `start`), with the law of the days that work off site
/// takes longer than planned.
fn handed_over_by(reckoned: &Reckoned<'_>, late: &[f64], start: usize, x: usize) -> f64 {
    let start_cdf = reckoned.forecast.start_cdf();
    let work = (reckoned.remaining_days as usize).saturating_sub(1);
    let mut chance = 0.0;
    for (longer, weight) in late.iter().enumerate() {
        let begun = x.checked_sub(longer + work).filter(|at| *at >= start);
        chance += weight * begun.and_then(|at| start_cdf.get(at)).unwrap_or(&0.0);
    }
    for paper in &reckoned.handover {
        let here = paper.arrival.as_deref().and_then(|cdf| cdf.get(x));
        chance *= here.copied().unwrap_or(0.0);
    }
    chance
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
