//! What a shop's records say of an accepted build, as builds to come are drawn from it.

use crate::book::model::StartRule;
use crate::calendar::{WorkCalendar, add_days};
use crate::plan::frame::coming::PastBuild;
use jiff::civil::Date;

/// Something that a build waited for: a part, the vehicle, a paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AcceptedPart {
    /// The stage that needs it, by its place in the order of work.
    pub stage: usize,
    /// The day on which all of it was here; None: it is not.
    pub here_on: Option<Date>,
}

/// An accepted build as a shop's rows have it.
#[derive(Clone, Debug, PartialEq)]
pub struct AcceptedBuild {
    /// The day on which it was accepted.
    pub accepted_on: Date,
    /// Its priority.
    pub priority: i32,
    /// The day that was booked for it.
    pub booked_on: Option<Date>,
    /// Planned working days of its stages, in the order of work.
    pub stages: Vec<u32>,
    /// What it waited for, the vehicle among it, with the first stage.
    pub parts: Vec<AcceptedPart>,
    /// The day on which its work began.
    pub begun_on: Option<Date>,
    /// The last day of its work.
    pub done_on: Option<Date>,
}

impl AcceptedBuild {
    /// The build as [`super::coming::Coming`] takes it, under the shop's start rule.
    #[must_use]
    pub fn past(&self, start: StartRule, calendar: &WorkCalendar) -> PastBuild {
        PastBuild {
            accepted_on: self.accepted_on,
            priority: self.priority,
            work_days: self.stages.iter().sum(),
            booked_on: self.booked_on,
            eligible_on: self.eligible_on(start, calendar),
            begun_on: self.begun_on,
            done_on: self.done_on,
        }
    }

    /// The first morning on which it might have begun, had a bay been free: after its acceptance, its first
    /// stage's things here by the day before, and as the start rule says. Where the rule weighs the chance of a
    /// stall nobody wrote down what was known: then the first morning from which every later stage, by plan,
    /// finds its things here. The day on which it began at the latest; None: not yet.
    fn eligible_on(&self, start: StartRule, calendar: &WorkCalendar) -> Option<Date> {
        let from = add_days(self.accepted_on, 1).and_then(|day| calendar.roll_forward(day));
        let morning = |part: &AcceptedPart| calendar.next_working_day(part.here_on?);
        let in_time = |part: &AcceptedPart| {
            let before: u32 = self.stages.iter().take(part.stage).sum();
            let here = calendar.roll_forward(part.here_on?)?;
            let day = calendar.add_working_days(here, -i32::try_from(before).ok()?)?;
            Some(if part.stage == 0 { day.max(morning(part)?) } else { day })
        };
        let first = |part: &AcceptedPart| if part.stage == 0 { morning(part) } else { from };
        let day = match (start, self.booked_on) {
            (StartRule::AllHere, _) => latest(from, self.parts.iter().map(morning)),
            (StartRule::OnBookedDay(_), Some(booked)) => {
                latest(from.max(Some(booked)), self.parts.iter().map(first))
            }
            (StartRule::StallAtMost(_) | StartRule::OnBookedDay(_), _) => {
                latest(from, self.parts.iter().map(in_time))
            }
        };
        match (day, self.begun_on) {
            (Some(day), Some(begun)) => Some(day.min(begun)),
            (day, begun) => day.or(begun),
        }
    }
}

/// The latest of some days; None where one is not known.
fn latest(from: Option<Date>, days: impl Iterator<Item = Option<Date>>) -> Option<Date> {
    days.fold(from, |latest, day| Some(latest?.max(day?)))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use jiff::civil::date;

    const SEPTEMBER: i8 = 9;

    fn on(day: i8) -> Date {
        date(2026, SEPTEMBER, day)
    }

    fn part(stage: usize, here: Option<i8>) -> AcceptedPart {
        AcceptedPart { stage, here_on: here.map(on) }
    }

    /// Accepted on Tuesday 1 September, booked on the 16th; stages of 2, 3 and 4 days.
    fn build(parts: &[AcceptedPart]) -> AcceptedBuild {
        AcceptedBuild {
            accepted_on: on(1),
            priority: 100,
            booked_on: Some(on(16)),
            stages: vec![2, 3, 4],
            parts: parts.to_vec(),
            begun_on: None,
            done_on: None,
        }
    }

    fn eligible(build: &AcceptedBuild, start: StartRule) -> Option<Date> {
        build.past(start, &WorkCalendar::monday_to_friday()).eligible_on
    }

    /// The vehicle and the first stage's parts are here on Friday the 4th, so that Monday the 7th is the first
    /// morning. The third stage begins 5 working days after the start: its part of Thursday the 17th is in time
    /// for a start on the 10th. All are here on the morning of the 18th.
    #[test]
    fn the_first_morning_by_hand() {
        let known = build(&[part(0, Some(3)), part(0, Some(4)), part(2, Some(17))]);
        let rules = [StartRule::AllHere, StartRule::StallAtMost(0.1), StartRule::OnBookedDay(0.1)];
        assert_eq!(
            rules.map(|rule| eligible(&known, rule)),
            [Some(on(18)), Some(on(10)), Some(on(16))]
        );
        let unbooked = AcceptedBuild { booked_on: None, ..known.clone() };
        assert_eq!(eligible(&unbooked, rules[2]), Some(on(10)));
        // It went into a bay before: somebody knew better.
        let begun = AcceptedBuild { begun_on: Some(on(9)), ..known };
        assert_eq!(rules.map(|rule| eligible(&begun, rule)), [Some(on(9)); 3]);
        assert_eq!(begun.past(rules[0], &WorkCalendar::monday_to_friday()).work_days, 9);
    }

    /// Nothing to wait for: the day after acceptance. What is still out leaves it open, but where only the first
    /// stage counts.
    #[test]
    fn what_is_not_here_yet() {
        assert_eq!(eligible(&build(&[]), StartRule::AllHere), Some(on(2)));
        let open = build(&[part(0, Some(4)), part(1, None)]);
        assert_eq!(eligible(&open, StartRule::AllHere), None);
        assert_eq!(eligible(&open, StartRule::StallAtMost(0.1)), None);
        assert_eq!(eligible(&open, StartRule::OnBookedDay(0.1)), Some(on(16)));
        let waits = build(&[part(0, None)]);
        assert_eq!(eligible(&waits, StartRule::OnBookedDay(0.1)), None);
    }
}
