//! What a build has and lacks today, stage by stage, and whether it can start.

use crate::book::Book;
use crate::book::model::{Build, BuildState, Line, Made, StageState, StartRule};
use crate::ids::{BuildId, StageId};
use crate::leadtime::ArrivalLaw;
use crate::plan::frame::learned::Learned;
use crate::plan::frame::needs::need_of;
use crate::plan::frame::placed::Placed;
use crate::plan::frame::view::{View, as_if_open, live_build};
use crate::plan::ground::{Awaiting, Thing, WaitsFor, graded};
use crate::plan::reckon::arrivals;
use crate::plan::reckon::arrivals::Arrival;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::sources::{Key, Outstanding, awaited_from, describe, waits};
use crate::quantity::Quantity;
use crate::refusal::Refusal;
use jiff::civil::Date;

/// Whether a build can start, or go on, today.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It can, and a stall is not to be expected.
    CanStart,
    /// The first work has its parts, but later parts may come too late.
    MayStall,
    /// Work that comes first lacks parts.
    CannotStart,
}

/// A part that a stage lacks.
#[derive(Clone, Debug, PartialEq)]
pub struct MissingPart {
    /// Number of the build line; None: no line lacks it, but the stage itself.
    pub line: Option<i32>,
    /// What.
    pub thing: Thing,
    /// How much is missing.
    pub quantity: Quantity,
    /// From where.
    pub waits_for: WaitsFor,
    /// Median arrival.
    pub expected_on: Option<Date>,
    /// Arrival at 80 %.
    pub likely_by: Option<Date>,
    /// When the stage needs it, if the build starts today.
    pub needed_on: Option<Date>,
}

/// One stage's parts.
#[derive(Clone, Debug, PartialEq)]
pub struct StageReadiness {
    /// Which.
    pub stage: StageId,
    /// Waiting, begun or done.
    pub state: StageState,
    /// Working days from today until it begins if nothing stalls.
    pub offset_days: u32,
    /// Lines that gate and have all their parts.
    pub lines_here: u32,
    /// Lines that gate.
    pub lines_total: u32,
    /// What is missing, by line.
    pub missing: Vec<MissingPart>,
}

/// Why the verdict is what it is.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// No work is left to do.
    NothingToDo,
    /// The first work lacks a part.
    FirstWorkLacks {
        /// The first such part.
        first: Awaiting,
        /// How many more there are.
        others: usize,
    },
    /// Nothing dates something that a later stage needs.
    Undated {
        /// What.
        source: Awaiting,
        /// What passes through the same finisher with it.
        joined: Vec<Awaiting>,
        /// The stage that needs it.
        stage: Option<StageId>,
    },
    /// The shop begins with all parts here, and later work lacks some.
    NotAllHere {
        /// The first such part.
        first: Awaiting,
        /// How many more there are.
        others: usize,
    },
    /// The shop begins on the booked day, which is still to come.
    BookedFor(Date),
    /// Every part is here.
    EverythingHere,
    /// What is missing is likely to come in time.
    InTime {
        /// What is least likely to.
        source: Option<Awaiting>,
        /// What passes through the same finisher with it.
        joined: Vec<Awaiting>,
    },
    /// What is missing may come too late.
    Late {
        /// What is least likely to come in time.
        source: Option<Awaiting>,
        /// What passes through the same finisher with it.
        joined: Vec<Awaiting>,
        /// The chance of a stall up to which the shop begins it, where that has a say.
        tolerated: Option<f64>,
    },
}

/// What a build has and lacks today.
#[derive(Clone, Debug, PartialEq)]
pub struct Readiness {
    /// Which build.
    pub build: BuildId,
    /// The day at whose start it speaks.
    pub as_of: Date,
    /// Its work has begun: it goes on, and does not start.
    pub begun: bool,
    /// It is on hold: what is said below is as if it went on today.
    pub on_hold: bool,
    /// Can it start; on hold it cannot.
    pub verdict: Verdict,
    /// Why.
    pub why: Why,
    /// Chance of a stall if it starts, or goes on, today.
    pub stall: f64,
    /// Who stands in the bays, where it is in none and none is free for it today.
    pub in_the_bays: Vec<BuildId>,
    /// In the order of work.
    pub stages: Vec<StageReadiness>,
}

/// What a build has and lacks at the start of `as_of`; quoted builds and builds
/// on hold as in [`super::forecast_build`].
///
/// # Errors
/// The build is not in the book, or delivered or cancelled.
pub fn readiness(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    as_of: Date,
) -> Result<Readiness, Refusal> {
    let row = live_build(book, build)?;
    match as_if_open(book, row, as_of)? {
        Some(overlaid) => Ok(View::new(&overlaid, learned, as_of).readiness(row)),
        None => Ok(View::new(book, learned, as_of).readiness(row)),
    }
}

impl View<'_> {
    pub(in crate::plan) fn readiness(&self, row: &Build) -> Readiness {
        let reckoned = self.reckon_stall(row.id);
        let mut stages: Vec<StageReadiness> = Vec::new();
        for placed in &reckoned.placed {
            stages.push(StageReadiness {
                stage: placed.stage.id,
                state: placed.state,
                offset_days: placed.offset_days,
                lines_here: 0,
                lines_total: 0,
                missing: Vec::new(),
            });
        }
        for line in self.book.lines_of(row.id) {
            let at = reckoned.placed.iter().position(|placed| placed.stage.id == line.stage);
            let Some(stage) = at.and_then(|at| stages.get_mut(at)) else { continue };
            if !self.book.gates(line) {
                continue;
            }
            stage.lines_total += 1;
            if self.here(line) >= line.required {
                stage.lines_here += 1;
            } else {
                stage.missing.extend(self.missing(line, &reckoned.placed));
            }
        }
        self.missing_things(row, &reckoned.placed, &mut stages);
        let stall = match self.axis.is_empty() {
            true => 1.0,
            false => reckoned.stall(0),
        };
        let (verdict, why) = self.verdict(row, &reckoned, &stages, stall);
        let begun = row.is_in_bay();
        let on_hold = row.state == BuildState::OnHold;
        let verdict = if on_hold { Verdict::CannotStart } else { verdict };
        let waits = !begun && row.state != BuildState::ReadyForHandover;
        let in_the_bays = if waits { self.book.bays_taken_beside(row.id) } else { Vec::new() };
        let (build, as_of) = (row.id, self.as_of);
        Readiness { build, as_of, begun, on_hold, verdict, why, stall, in_the_bays, stages }
    }

    /// The vehicle and the papers that stages wait for.
    fn missing_things(&self, row: &Build, placed: &[Placed<'_>], stages: &mut [StageReadiness]) {
        for awaited in
            self.book.awaited_of(row.id).iter().filter(|a| a.is_open() && a.line.is_none())
        {
            let at = placed.iter().position(|placed| Some(placed.stage.id) == awaited.stage);
            let Some((stage, placed)) = at.and_then(|at| stages.get_mut(at).zip(placed.get(at)))
            else {
                continue;
            };
            let law = arrivals::of_awaited(self, awaited).map(|arrival| arrival.law);
            let by = |p: f64| {
                let date = law.as_ref().and_then(|law| law.quantile(p));
                date.and_then(|date| self.calendar.roll_forward(date))
            };
            stage.missing.push(MissingPart {
                line: None,
                thing: Thing::Awaited { kind: awaited.kind, name: awaited.name.clone() },
                quantity: Quantity::ZERO,
                waits_for: awaited_from(awaited),
                expected_on: by(0.5),
                likely_by: by(0.8),
                needed_on: self.axis.date(placed.offset_days as usize),
            });
        }
    }

    /// The day on which a line's part is needed, if the build starts today.
    fn needed_on(&self, line: &Line, placed: &[Placed<'_>]) -> Option<Date> {
        let offset = need_of(self, placed, line)?.offset_days;
        match usize::try_from(offset) {
            Ok(index) => self.axis.date(index),
            Err(_) => self.calendar.add_working_days(self.axis.date(0)?, offset),
        }
    }

    fn missing(&self, line: &Line, placed_all: &[Placed<'_>]) -> Vec<MissingPart> {
        let mut rows = Vec::new();
        for wait in waits(self, line) {
            let to_make = matches!(wait.key, Key::ToMake(_));
            // What lacks components waits for them: they are listed themselves.
            if to_make && self.lacks_components(line) {
                continue;
            }
            let (arrival, _, waits_for) = describe(self, &wait);
            let made = if to_make { self.made_by(line) } else { None };
            let by = |p: f64| {
                let law = arrival.as_ref().or(made.as_ref());
                law.and_then(|arrival| arrival.law.quantile(p))
            };
            let rolled =
                |date: Option<Date>| date.and_then(|date| self.calendar.roll_forward(date));
            rows.push(MissingPart {
                line: Some(line.number),
                thing: Thing::Part(line.part),
                quantity: wait.quantity,
                waits_for,
                expected_on: rolled(by(0.5)),
                likely_by: rolled(by(0.8)),
                needed_on: self.needed_on(line, placed_all),
            });
        }
        rows
    }

    /// Whether some component of a made line is not all here, at any depth.
    fn lacks_components(&self, made: &Line) -> bool {
        let lines = self.book.lines_of(made.build);
        let mut components = lines.into_iter().filter(|row| row.made_for == made.number);
        components.any(|row| self.book.gates(row) && self.here(row) < row.required)
    }

    /// When a line whose components are all here is made, if the work begins today.
    fn made_by(&self, line: &Line) -> Option<Arrival> {
        match line.making.as_ref()?.how {
            Made::InShop { working_days } => {
                let date = self.axis.date(working_days as usize)?;
                let law = ArrivalLaw::on_date(date, self.as_of, self.horizon_days);
                Some(Arrival { law, evidence: None })
            }
            Made::AtFinisher { supplier, quoted_days } => {
                arrivals::of_finishing(self, supplier, line.part, self.as_of, quoted_days)
            }
            Made::Listed => None,
        }
    }

    /// What keeps a build that has its first work's parts from beginning under the shop's rule.
    fn bars(&self, row: &Build, reckoned: &Reckoned<'_>, stages: &[StageReadiness]) -> Option<Why> {
        if row.is_in_bay() {
            return None;
        }
        match self.book.start_rule() {
            StartRule::AllHere => {
                // What the shop makes of parts that are here gates no start.
                let out = reckoned.dated.iter().chain(&reckoned.undated).next()?.awaiting();
                let open = stages.iter().filter(|stage| stage.state != StageState::Done);
                let made = |row: &&MissingPart| {
                    matches!(row.waits_for, WaitsFor::ToMake(Made::InShop { .. }))
                };
                let mut missing =
                    open.flat_map(|stage| &stage.missing).filter(|row| !made(row)).map(lacks);
                let first = missing.next().unwrap_or(out);
                Some(Why::NotAllHere { first, others: missing.count() })
            }
            StartRule::OnBookedDay(_) => {
                row.planned_start.filter(|day| *day > self.as_of).map(Why::BookedFor)
            }
            StartRule::StallAtMost(_) => None,
        }
    }

    fn verdict(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        stages: &[StageReadiness],
        stall: f64,
    ) -> (Verdict, Why) {
        let mut now = stages
            .iter()
            .filter(|stage| stage.state != StageState::Done && stage.offset_days == 0)
            .flat_map(|stage| &stage.missing);
        if row.state == BuildState::ReadyForHandover || reckoned.remaining_days == 0 {
            return (Verdict::CanStart, Why::NothingToDo);
        }
        if let Some(first) = now.next() {
            let (first, others) = (lacks(first), now.count());
            return (Verdict::CannotStart, Why::FirstWorkLacks { first, others });
        }
        if let Some(why) = self.bars(row, reckoned, stages) {
            return (Verdict::CannotStart, why);
        }
        if let Some(undated) = reckoned.undated.first() {
            let (source, joined) = (undated.awaiting(), undated.joined.clone());
            return (Verdict::MayStall, Why::Undated { source, joined, stage: undated.stage });
        }
        if reckoned.dated.is_empty() {
            return (Verdict::CanStart, Why::EverythingHere);
        }
        let tolerance = self.book.stall_tolerance();
        let worst = likeliest_stall(reckoned);
        let source = worst.map(Outstanding::awaiting);
        let joined = worst.map(|found| found.joined.clone()).unwrap_or_default();
        match stall <= tolerance {
            true => (Verdict::CanStart, Why::InTime { source, joined }),
            false => {
                let booked = row.planned_start.is_some();
                let tolerated = self.book.start_rule().tolerance(booked);
                let tolerated = tolerated.filter(|_| !row.is_in_bay());
                (Verdict::MayStall, Why::Late { source, joined, tolerated })
            }
        }
    }
}

/// What a stage lacks, and from where it comes.
fn lacks(missing: &MissingPart) -> Awaiting {
    Awaiting { thing: missing.thing.clone(), waits_for: missing.waits_for.clone() }
}

/// The source that is least likely to be here when it is needed.
fn likeliest_stall<'r, 'a>(reckoned: &'r Reckoned<'a>) -> Option<&'r Outstanding<'a>> {
    let sources = reckoned.dated.iter().zip(&reckoned.in_time_today);
    let worst = sources.max_by_key(|source| graded(1.0 - source.1));
    worst.map(|(found, _)| found)
}
