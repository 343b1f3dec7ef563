//! How long stages take, learned from finished ones of the same name: working days against plan.
//!
//! The estimator is that of lead times ([`super::estimate`]), with the planned days as the quote:
//! own name <- all stages <- a log-logistic default around the plan; a stage that is under way is
//! right-censored at the day before the as-of date; weight 2^(-age / half-life) by the day it began.
//!
//! What is counted is the days from the first to the last day of work, both included. A last day on
//! which the next stage of the same build began belongs to that one, so that stages add up to the
//! build's days. Days on which a stage waited, for parts or because its build was on hold, are days
//! of the stage: the rows do not say since when a build was held. A stage that stalled often is
//! therefore dated a little too late. An open stage counts only while its build is in the bay.

use super::DayLaw;
use super::estimate::{Counts, Observation, ratio};
use super::learn::LearnSettings;
use crate::book::model::Stage;
use crate::calendar::{WorkCalendar, days_between};
use crate::ids::BuildId;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Finished stages of any name from which on lengths are learned.
pub const STAGES_MIN: usize = 5;
/// Shape of the default around the plan: 80 % by 1.19 and 95 % by 1.44 times it. Judgement.
const DEFAULT_SHAPE: u32 = 8;
/// An open stage past so many times its plan was forgotten in the books: it teaches nothing.
const FORGOTTEN_RATIO: u32 = 8;

/// What past stages taught, at the start of one day.
#[derive(Clone, Debug, PartialEq)]
pub struct StageLengths {
    finished: usize,
    middle_ratio: f64,
    all: Counts,
    /// By the name's normal form.
    own: BTreeMap<String, Counts>,
    settings: LearnSettings,
    /// The laws of the names and plans that were seen, so that a board need not make each anew.
    made: BTreeMap<(String, u32), DayLaw>,
}

impl StageLengths {
    /// Learns from the stages of a shop that have begun, in any order; `in_bay` holds the builds that
    /// are in the bay now. Work off site and stages planned to take no day are passed over.
    #[must_use]
    pub fn learn(
        stages: &[Stage],
        in_bay: &BTreeSet<BuildId>,
        calendar: &WorkCalendar,
        as_of: Date,
        settings: &LearnSettings,
    ) -> Self {
        let mut begins: BTreeSet<(BuildId, Date, i32)> = BTreeSet::new();
        for stage in stages {
            begins.extend(stage.begun_on.map(|on| (stage.build, on, stage.ordinal)));
        }
        let mut found = Self {
            finished: 0,
            middle_ratio: 1.0,
            all: Counts::default(),
            own: BTreeMap::new(),
            settings: *settings,
            made: BTreeMap::new(),
        };
        let mut seen_plans: BTreeSet<(&str, u32)> = BTreeSet::new();
        let mut ratios = Vec::new();
        for stage in stages {
            let Some(begun) = stage.begun_on.filter(|on| *on < as_of) else { continue };
            if stage.off_site.is_some() || stage.planned_days == 0 {
                continue;
            }
            let done = stage.done_on.filter(|on| *on < as_of);
            let days = match done {
                Some(done) => {
                    let worked = calendar.working_days_between(begun, done);
                    let later =
                        (stage.build, done, stage.ordinal + 1)..=(stage.build, done, i32::MAX);
                    let shared = begins.range(later).next().is_some();
                    worked + i64::from(!shared && calendar.is_working(done))
                }
                None => calendar.working_days_between(begun, as_of),
            };
            let Ok(mut day) = u32::try_from(days) else { continue };
            if done.is_some() {
                day = day.max(1);
                found.finished += 1;
                ratios.push(f64::from(day) / f64::from(stage.planned_days));
            } else if stage.done_on.is_none() && !in_bay.contains(&stage.build)
                || day > stage.planned_days.saturating_mul(FORGOTTEN_RATIO)
            {
                continue;
            }
            let age = days_between(begun, as_of).max(0) as f64;
            let half_life = settings.half_life_days.filter(|days| *days > 0.0);
            let weight = half_life.map_or(1.0, |half_life| (-age / half_life).exp2());
            let seen = Observation { entry_day: None, day, event: done.is_some(), weight };
            seen_plans.insert((stage.name.normal(), stage.planned_days));
            let own = found.own.entry(stage.name.normal().to_owned()).or_default();
            for counts in [own, &mut found.all] {
                ratio::add_seen(counts, stage.planned_days, &seen);
            }
        }
        ratios.sort_by(f64::total_cmp);
        if let Some(middle) = ratios.get(ratios.len() / 2) {
            found.middle_ratio = *middle;
        }
        if found.is_enough() {
            for (name, planned_days) in seen_plans {
                let law = found.make(name, planned_days);
                found.made.insert((name.to_owned(), planned_days), law);
            }
        }
        found
    }

    /// Finished stages that were learned from.
    #[must_use]
    pub fn finished(&self) -> usize {
        self.finished
    }

    /// The (upper) median of days taken over days planned, of the finished ones; 1 without any.
    #[must_use]
    pub fn middle_ratio(&self) -> f64 {
        self.middle_ratio
    }

    /// Whether there is enough to go by ([`STAGES_MIN`]).
    #[must_use]
    pub fn is_enough(&self) -> bool {
        self.finished >= STAGES_MIN
    }

    /// The law of the working days of a stage with this name (normal form) and plan; `None` where
    /// there are too few finished stages, or it is planned to take no day.
    #[must_use]
    pub fn law(&self, name: &str, planned_days: u32) -> Option<DayLaw> {
        if !self.is_enough() || planned_days == 0 {
            return None;
        }
        let made = self.made.get(&(name.to_owned(), planned_days));
        Some(made.cloned().unwrap_or_else(|| self.make(name, planned_days)))
    }

    fn make(&self, name: &str, planned_days: u32) -> DayLaw {
        let own = self.own.get(name);
        let strength = self.settings.strength;
        let mut law = ratio::RatioLaw::log_logistic(DEFAULT_SHAPE);
        law = law.moved_by(&self.all.at_risk(own, 1.0), strength);
        if let Some(own) = own {
            law = law.moved_by(&own.at_risk(None, 1.0), strength);
        }
        law.in_days(planned_days)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::calendar::add_days;
    use crate::ids::StageId;
    use crate::leadtime::estimate::Strength;
    use crate::number::Number;
    use jiff::civil::date;
    use uuid::Uuid;

    /// Monday.
    const TODAY: Date = date(2026, 9, 14);

    fn stage(id: u128, name: &str, planned_days: u32, begun: Date, done: Option<Date>) -> Stage {
        Stage {
            id: StageId(Uuid::from_u128(id)),
            build: BuildId(Uuid::from_u128(id)),
            ordinal: 1,
            name: Number::parse(name).unwrap(),
            planned_days,
            begun_on: Some(begun),
            done_on: done,
            off_site: None,
        }
    }

    fn settings(orders: f64) -> LearnSettings {
        LearnSettings {
            half_life_days: None,
            strength: Strength { orders, tail_exponent: 0.5 },
            ..LearnSettings::default()
        }
    }

    fn learn(stages: &[Stage], orders: f64) -> StageLengths {
        let in_bay = stages.iter().map(|stage| stage.build).collect();
        let calendar = WorkCalendar::monday_to_friday();
        StageLengths::learn(stages, &in_bay, &calendar, TODAY, &settings(orders))
    }

    impl StageLengths {
        fn law_of(&self, name: &str, planned_days: u32) -> Option<DayLaw> {
            self.law(Number::parse(name).unwrap().normal(), planned_days)
        }
    }

    /// Begun on a Monday, done on the Friday of the same week: 5 days, of a plan of 4.
    fn weeks(count: u128) -> Vec<Stage> {
        let monday = |week: u128| add_days(TODAY, -7 * i64::try_from(week).unwrap()).unwrap();
        (1..=count).map(|n| stage(n, "Body", 4, monday(n), add_days(monday(n), 4))).collect()
    }

    #[test]
    fn four_stages_are_too_few() {
        let lengths = learn(&weeks(4), 8.0);
        assert_eq!((lengths.finished(), lengths.is_enough()), (4, false));
        assert!(lengths.law_of("body", 4).is_none());
    }

    #[test]
    fn stages_that_always_take_a_quarter_more() {
        let lengths = learn(&weeks(40), 0.0);
        assert_eq!((lengths.finished(), lengths.middle_ratio()), (40, 1.25));
        let days = lengths.law_of("body", 4).unwrap().conditional(1, 8);
        // Nobody borrows here: every one took five days. Bins of the ratio are 3 % wide and end on no
        // day, which moves a few per cent to the day before.
        assert!(days[3] < 0.02 && days[4] > 0.99, "{days:?}");
        // The same ratio for twice the plan: between 4.5/4 and 5.5/4 of 8 days.
        let days = lengths.law_of("wiring", 8).unwrap().conditional(1, 14);
        assert!(days[7] < 0.02 && days[10] > 0.99, "{days:?}");
        assert!(lengths.law_of("body", 0).is_none());
    }

    #[test]
    fn what_is_under_way_counts_as_far_as_it_has_come() {
        let mut stages = weeks(10);
        let before = learn(&stages, 8.0).law_of("body", 4).unwrap().conditional(1, 10);
        stages.push(stage(99, "Body", 4, date(2026, 9, 1), None));
        let after = learn(&stages, 8.0);
        assert_eq!(after.finished(), 10);
        let after = after.law_of("body", 4).unwrap().conditional(1, 10);
        assert!(after[4] < before[4] - 0.01, "{} {}", after[4], before[4]);
        // Forgotten in the books: more than eight times its plan.
        stages.last_mut().unwrap().begun_on = Some(date(2025, 9, 1));
        let forgotten = learn(&stages, 8.0).law_of("body", 4).unwrap().conditional(1, 10);
        assert!((forgotten[4] - before[4]).abs() < 1e-12);
    }

    #[test]
    fn a_day_that_two_stages_share_counts_once() {
        let mut stages = weeks(5);
        let firsts = stages.clone();
        for first in &firsts {
            let mut next = first.clone();
            next.id = StageId(Uuid::from_u128(first.id.0.as_u128() + 100));
            next.ordinal = 2;
            next.name = Number::parse("Electrical").unwrap();
            next.begun_on = first.done_on;
            stages.push(next);
        }
        let lengths = learn(&stages, 0.0);
        // Body four days (Friday is the next one's), Electrical one: planned four each.
        let body = lengths.law_of("body", 4).unwrap().conditional(1, 6);
        assert!(body[2] < 0.03 && body[3] > 0.99, "{body:?}");
        let electrical = lengths.law_of("electrical", 4).unwrap().conditional(1, 6);
        assert!(electrical[0] > 0.98, "{electrical:?}");
    }

    #[test]
    fn nothing_is_known_of_today_and_later() {
        let mut stages = weeks(8);
        for late in &mut stages {
            late.done_on = Some(TODAY);
        }
        let lengths = learn(&stages, 0.0);
        assert_eq!(lengths.finished(), 0);
    }
}
