//! How long the work still to do takes: stage by stage, as a distribution over working days.

use crate::book::model::StageState;
use crate::leadtime::on_axis;
use crate::plan::frame::placed::Placed;
use crate::plan::frame::view::View;
use crate::plan::reckon::arrivals;

/// Mass of a length that is not worth a day of its own.
const MASS_MIN: f64 = 1e-10;

/// Distributions of working days: the chance of t days at index t. What is missing of 1 has no date.
pub(in crate::plan) type DayMass = Vec<f64>;

impl View<'_> {
    /// The working days that a stage still takes in the shop, today included.
    ///
    /// By what finished stages taught, given the days that it has taken already: it is not done, so
    /// its length is more than they. Its planned days where too little is known; one that is past
    /// them then takes one more. A stage off site takes its plan here, see [`Self::late_off_site`].
    pub(in crate::plan) fn stage_days(&self, placed: &Placed<'_>) -> DayMass {
        let exactly = || point(placed.remaining_days as usize);
        if placed.state == StageState::Done || placed.stage.off_site.is_some() {
            return exactly();
        }
        let lengths = self.learned.and_then(|learned| learned.lengths.as_ref());
        let name = placed.stage.name.normal();
        let Some(law) = lengths.and_then(|by| by.law(name, placed.stage.planned_days)) else {
            return exactly();
        };
        let least = (placed.worked_days as usize).saturating_add(1);
        let mut mass = vec![0.0];
        let mut before = 0.0;
        for by in law.conditional(least, self.axis.len()) {
            mass.push(by - before);
            before = by;
            if 1.0 - by < MASS_MIN {
                break;
            }
        }
        mass
    }

    /// All stages together, as they follow one another; they are taken as independent.
    pub(in crate::plan) fn work_days(&self, placed: &[Placed<'_>]) -> DayMass {
        let mut sum = point(0);
        for stage in placed.iter().filter(|stage| stage.state != StageState::Done) {
            sum = convolved(&sum, &self.stage_days(stage), self.axis.len());
        }
        sum
    }

    /// P(the work off site takes d working days more than planned), all stages off site together, for
    /// a start on axis index `start`; what is missing of 1 has no date. `None`: nothing is off site
    /// of which anything but the plan is known.
    pub(in crate::plan) fn late_off_site(
        &self,
        placed: &[Placed<'_>],
        start: usize,
    ) -> Option<DayMass> {
        let mut late: Option<DayMass> = None;
        for stage in placed {
            if let Some(own) = self.late_of(stage, start) {
                late = Some(match late {
                    Some(late) => convolved(&late, &own, self.axis.len()),
                    None => own,
                });
            }
        }
        late
    }

    fn late_of(&self, placed: &Placed<'_>, start: usize) -> Option<DayMass> {
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

/// So many days, surely.
pub(in crate::plan) fn point(days: usize) -> DayMass {
    let mut mass = vec![0.0; days];
    mass.push(1.0);
    mass
}

/// The first number of days by which half of the mass is reached; all of them if it never is.
pub(in crate::plan) fn middle(mass: &[f64]) -> usize {
    let mut sum = 0.0;
    for (days, chance) in mass.iter().enumerate() {
        sum += chance;
        if sum >= 0.5 - 1e-12 {
            return days;
        }
    }
    mass.len()
}

/// The distribution of a sum of two independent numbers of days, up to `days` days.
pub(in crate::plan) fn convolved(a: &[f64], b: &[f64], days: usize) -> DayMass {
    let mut sum = vec![0.0; days.min((a.len() + b.len()).saturating_sub(1))];
    for (i, x) in a.iter().enumerate().filter(|(_, x)| **x > 0.0) {
        for (cell, y) in sum.iter_mut().skip(i).zip(b) {
            *cell += x * y;
        }
    }
    sum
}
