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
    /// The day on which it was entered that all of it is here; None: it is not.
    pub here_on: Option<Date>,
}

/// A stage of an accepted build.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AcceptedStage {
    /// Working days by plan.
    pub planned_days: u32,
    /// First day of work.
    pub begun_on: Option<Date>,
    /// Last day of work.
    pub done_on: Option<Date>,
    /// The vehicle is elsewhere meanwhile, and its bay is free.
    pub away: bool,
}

/// An accepted build as a shop's rows have it.
#[derive(Clone, Debug, PartialEq)]
pub struct AcceptedBuild {
    /// The day on which it was accepted.
    pub accepted_on: Date,
    /// It was under way when it was entered: nobody knows what it waited for.
    pub taken_over: bool,
    /// Its priority.
    pub priority: i32,
    /// The day that was first booked for it, the last of those booked on the day of acceptance; None: none,
    /// or it is on hold and has no place.
    pub booked_on: Option<Date>,
    /// The day by which the customer wants it.
    pub required_by: Option<Date>,
    /// In the order of work.
    pub stages: Vec<AcceptedStage>,
    /// What it waited for, the vehicle among it, with the first stage.
    pub parts: Vec<AcceptedPart>,
    /// The day on which it was handed over.
    pub delivered_on: Option<Date>,
}

impl AcceptedBuild {
    /// The build as [`super::coming::Coming`] takes it, under the shop's start rule.
    #[must_use]
    pub fn past(&self, start: StartRule, calendar: &WorkCalendar) -> PastBuild {
        let here = self.stages.iter().filter(|stage| !stage.away);
        PastBuild {
            accepted_on: self.accepted_on,
            taken_over: self.taken_over,
            priority: self.priority,
            work_days: here.map(|stage| stage.planned_days).sum(),
            booked_on: self.booked_on,
            required_by: self.required_by,
            eligible_on: self.eligible_on(start, calendar),
            begun_on: self.begun_on(),
            done_on: self.done_on().or(self.delivered_on),
            bay_days: self.bay_days(calendar),
        }
    }

    fn begun_on(&self) -> Option<Date> {
        self.stages.iter().filter_map(|stage| stage.begun_on).min()
    }

    /// The last day of its work; None: not every stage is done.
    fn done_on(&self) -> Option<Date> {
        latest(self.begun_on(), self.stages.iter().map(|stage| stage.done_on))
    }

    /// Working days for which it kept its bay, those away left out; None: its work is not done.
    fn bay_days(&self, calendar: &WorkCalendar) -> Option<u32> {
        let days = |from: Date, to: Date| calendar.working_days_between(from, to) + 1;
        let all = days(self.begun_on()?, self.done_on()?);
        let away = self.stages.iter().filter(|stage| stage.away);
        let away: i64 = away.filter_map(|s| Some(days(s.begun_on?, s.done_on?))).sum();
        u32::try_from(all - away).ok()
    }

    /// The first morning on which it might have begun, had a bay been free: after its acceptance, its first
    /// stage's things here by the day before, and as the start rule says. Where the rule weighs the chance of a
    /// stall nobody wrote down what was known: then the first morning from which every later stage, by plan,
    /// finds its things here. The day on which it began at the latest; None: not yet.
    fn eligible_on(&self, start: StartRule, calendar: &WorkCalendar) -> Option<Date> {
        let from = add_days(self.accepted_on, 1).and_then(|day| calendar.roll_forward(day));
        let morning = |part: &AcceptedPart| calendar.next_working_day(part.here_on?);
        let in_time = |part: &AcceptedPart| {
            let before = self.stages.iter().take(part.stage);
            let before: u32 = before.map(|stage| stage.planned_days).sum();
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
        match (day, self.begun_on()) {
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

    fn planned(planned_days: u32) -> AcceptedStage {
        AcceptedStage { planned_days, ..AcceptedStage::default() }
    }

    /// Accepted on Tuesday 1 September, booked on the 16th; stages of 2, 3 and 4 days.
    fn build(parts: &[AcceptedPart]) -> AcceptedBuild {
        AcceptedBuild {
            accepted_on: on(1),
            taken_over: false,
            priority: 100,
            booked_on: Some(on(16)),
            required_by: None,
            stages: [2, 3, 4].map(planned).to_vec(),
            parts: parts.to_vec(),
            delivered_on: None,
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
        let mut begun = known;
        begun.stages[0].begun_on = Some(on(9));
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

    /// Two days in the bay from Monday the 7th, five at the painter's from Thursday the 10th, four in the bay until
    /// Wednesday the 23rd: 13 working days, 5 of them away.
    #[test]
    fn a_bay_is_not_kept_while_the_vehicle_is_away() {
        let mut away = build(&[]);
        for (stage, (from, to)) in away.stages.iter_mut().zip([(7, 9), (10, 16), (18, 23)]) {
            (stage.begun_on, stage.done_on) = (Some(on(from)), Some(on(to)));
        }
        away.stages[1].away = true;
        let past = away.past(StartRule::AllHere, &WorkCalendar::monday_to_friday());
        assert_eq!((past.bay_days, past.work_days, past.done_on), (Some(8), 6, Some(on(23))));
        // Not ticked off: it is over, but nobody knows for how long it kept its bay.
        away.stages[2].done_on = None;
        away.delivered_on = Some(on(30));
        let past = away.past(StartRule::AllHere, &WorkCalendar::monday_to_friday());
        assert_eq!((past.bay_days, past.done_on), (None, Some(on(30))));
    }
}
