//! What the shop has on record, and what it learns of it.

use super::desk::{Desk, Fault, after};
use super::jobs::{Job, Supply};
use super::truth::{STAGES, Said, Truth};
use crate::world::number;
use baystart_core::book::model::{LearningSettings, Stage};
use baystart_core::calendar::{WorkCalendar, add_days};
use baystart_core::forecast::CommonCause;
use baystart_core::ids::{BuildId, StageId, SupplierId};
use baystart_core::leadtime::history::{Fact, History, PastLine, PastPromise};
use baystart_core::leadtime::learn::{LearnSettings, LearnedLaws, Tuning, tune};
use baystart_core::leadtime::stages::StageLengths;
use baystart_core::plan::Learned;
use jiff::civil::Date;
use std::collections::BTreeMap;
use uuid::Uuid;

/// Calendar days of orders before the first day.
const BEFORE_DAYS: i64 = 365;
/// Builds of the past are numbered from here.
const PAST_BUILDS: u64 = 1_000_000;
/// Calendar days for which the settings of learning stand once they were found. The service finds them every
/// 28 days; a play would take longer.
const TUNED_FOR_DAYS: i64 = 80;
/// Calendar days from a past build's acceptance to its first stage.
const PAST_START_DAYS: i64 = 100;

/// The record before the first day, then the delivered builds' stages.
#[derive(Clone)]
pub(super) struct Record {
    before: Vec<PastLine>,
    pub(super) stages: Vec<Stage>,
    /// The first day on record, and the builds that were accepted before the first day played.
    pub(super) accepted: (Date, usize),
    cause: CommonCause,
    /// The settings as they were last found, and the day from which they are to be found again.
    tuning: Option<(Date, Tuning)>,
}

fn fact(on: Date) -> Fact {
    Fact { on, recorded_on: on }
}

/// The record of an order; what is still to come is passed over by whoever learns.
pub(super) fn placed(truth: &Truth, part: usize, day: Date) -> Option<PastLine> {
    let row = truth.parts.get(part)?;
    Some(PastLine {
        supplier: u32::try_from(row.supplier).ok()?,
        offer: u32::try_from(part).ok()?,
        order: None,
        quoted_days: Some(row.quoted_days),
        placed: fact(day),
        taken_over_on: None,
        rejected: false,
        promises: Vec::new(),
        despatched: None,
        completed: None,
        cancelled: None,
        contacts: Vec::new(),
    })
}

impl Record {
    /// About a year of builds, each of which ordered everything when it was accepted.
    pub(super) fn new(truth: &Truth, first: Date, calendar: &WorkCalendar) -> Result<Self, Fault> {
        let rho = LearningSettings::default().correlation;
        let cause = CommonCause::new(rho).map_err(|error| error.to_string())?;
        let mut record = Self {
            before: Vec::new(),
            stages: Vec::new(),
            accepted: (first, 0),
            cause,
            tuning: None,
        };
        let mut day = after(first, -BEFORE_DAYS)?;
        record.accepted.0 = day;
        for build in PAST_BUILDS.. {
            let gap = truth.gap(build).round() as i32;
            day = calendar.add_working_days(day, gap).ok_or("no such day")?;
            if day >= first {
                break;
            }
            record.accepted.1 += 1;
            record.add(truth, build, day, calendar)?;
        }
        Ok(record)
    }

    fn add(
        &mut self,
        truth: &Truth,
        build: u64,
        day: Date,
        calendar: &WorkCalendar,
    ) -> Result<(), Fault> {
        let row = truth.build(build, day);
        for (part, _, _) in &row.lines {
            let order = truth.order(build, *part, day, calendar).ok_or("no such order")?;
            let mut line = placed(truth, *part, day).ok_or("no such part")?;
            line.completed = Some(fact(order.arrival));
            for (known_on, said) in order.news {
                match said {
                    Said::Promised(date) => {
                        line.promises.push(PastPromise { date, known_on, recorded_on: known_on });
                    }
                    Said::Despatched => line.despatched = Some(fact(known_on)),
                }
            }
            self.before.push(line);
        }
        let mut begun = calendar.roll_forward(after(day, PAST_START_DAYS)?).ok_or("no such day")?;
        for (ordinal, ((name, _, _), (planned_days, actual))) in
            (1..).zip(STAGES.iter().zip(&row.stages))
        {
            let last = i32::try_from(*actual).unwrap_or(i32::MAX) - 1;
            let done = calendar.add_working_days(begun, last).ok_or("no such day")?;
            let id = Uuid::from_u128(u128::from(build) << 8 | ordinal as u128);
            self.stages.push(Stage {
                id: StageId(id),
                build: BuildId(Uuid::from_u128(u128::from(build) << 8)),
                ordinal,
                name: number(name),
                planned_days: *planned_days,
                begun_on: Some(begun),
                done_on: Some(done),
                off_site: None,
            });
            begun = calendar.next_working_day(done).ok_or("no such day")?;
        }
        Ok(())
    }

    /// What all of it teaches at the start of today.
    pub(super) fn learn(&mut self, desk: &Desk, jobs: &[Job], supplies: &[Supply]) -> Learned {
        let as_of = desk.today;
        let shop = desk.book.settings.as_ref();
        let working = shop.map_or([true; 7], |shop| shop.working_days);
        let learning = shop.map(|shop| shop.learning).unwrap_or_default();
        let settings = LearnSettings::of(&learning, working);
        let mut history = History::default();
        history.lines.extend(self.before.iter().cloned());
        history.lines.extend(supplies.iter().map(|supply| supply.past.clone()));
        let mut stages = self.stages.clone();
        stages.extend(desk.book.stages.values().filter(|stage| stage.begun_on.is_some()).cloned());
        let in_bay = jobs.iter().filter(|job| job.is_in_bay()).map(|job| job.id).collect();
        let lengths = StageLengths::learn(&stages, &in_bay, &desk.calendar(), as_of, &settings);
        let suppliers = keys(desk);
        let mut offers = BTreeMap::new();
        for offer in desk.book.offers.values() {
            let part = super::desk::part_index(desk.book.part_number(offer.part));
            let key = part.and_then(|part| u32::try_from(part).ok());
            offers.extend(key.map(|key| ((offer.supplier, offer.part), key)));
        }
        if self.tuning.as_ref().is_none_or(|(until, _)| as_of >= *until) {
            let until = add_days(as_of, TUNED_FOR_DAYS).unwrap_or(Date::MAX);
            self.tuning = Some((until, tune(&history, as_of, &settings)));
        }
        let tuning = self.tuning.as_ref().map(|(_, tuning)| tuning.clone());
        let tuning = tuning.unwrap_or_else(|| Tuning::none(&settings));
        Learned {
            laws: LearnedLaws::learn_tuned(&history, as_of, &settings, tuning),
            cause: self.cause.clone(),
            suppliers,
            offers,
            waits: None,
            lengths: Some(lengths),
            coming: None,
            lines: history.lines_watched(as_of),
        }
    }
}

fn keys(desk: &Desk) -> BTreeMap<SupplierId, u32> {
    let mut keys = BTreeMap::new();
    for row in desk.book.suppliers.values() {
        let at = super::truth::SUPPLIERS.iter().position(|code| *code == row.code.written());
        let key = at.and_then(|at| u32::try_from(at).ok());
        keys.extend(key.map(|key| (row.id, key)));
    }
    keys
}
