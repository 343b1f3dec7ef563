//! What a build has and lacks today, stage by stage, and whether it can start.

use crate::book::Book;
use crate::book::model::{Build, BuildState, Line, Made, StageState};
use crate::ids::BuildId;
use crate::leadtime::ArrivalLaw;
use crate::plan::frame::learned::Learned;
use crate::plan::frame::needs::need_of;
use crate::plan::frame::placed::Placed;
use crate::plan::frame::view::{View, as_if_open, live_build};
use crate::plan::reckon::arrivals;
use crate::plan::reckon::arrivals::Arrival;
use crate::plan::reckon::forecast::Reckoned;
use crate::plan::reckon::sources::{Key, describe, waits};
use crate::plan::words;
use crate::quantity::Quantity;
use crate::refusal::Refusal;
use jiff::civil::Date;

/// Chance of a stall up to which a build counts as free to start, where the
/// shop has not set its own.
const STALL_TOLERANCE: f64 = 0.05;

/// Chance of a stall from which the sentence says so outright.
const ALMOST_SURE: f64 = 0.95;

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
    /// Build line.
    pub line: i32,
    /// Part number.
    pub part: String,
    /// Its description.
    pub description: String,
    /// How much is missing.
    pub quantity: Quantity,
    /// For people.
    pub waits_for: String,
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
    /// Name.
    pub stage: String,
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

/// What a build has and lacks today.
#[derive(Clone, Debug, PartialEq)]
pub struct Readiness {
    /// Build number.
    pub build: String,
    /// The day at whose start it speaks.
    pub as_of: Date,
    /// Can it start.
    pub verdict: Verdict,
    /// One sentence with the chance and the part.
    pub text: String,
    /// Chance of a stall if it starts, or goes on, today.
    pub stall: f64,
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
        let reckoned = self.reckon(row.id);
        let mut stages: Vec<StageReadiness> = Vec::new();
        for placed in &reckoned.placed {
            stages.push(StageReadiness {
                stage: placed.stage.name.written().to_owned(),
                state: placed.state,
                offset_days: placed.offset_days,
                lines_here: 0,
                lines_total: 0,
                missing: Vec::new(),
            });
        }
        for line in self.lines(row.id) {
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
        let (verdict, text) = self.verdict(row, &reckoned, &stages, stall);
        let build = row.number.written().to_owned();
        Readiness { build, as_of: self.as_of, verdict, text, stall, stages }
    }

    /// The vehicle and the papers that stages wait for.
    fn missing_things(&self, row: &Build, placed: &[Placed<'_>], stages: &mut [StageReadiness]) {
        for awaited in self.awaited(row.id).iter().filter(|a| a.is_open() && a.line.is_none()) {
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
                line: 0,
                part: String::new(),
                description: format!("{}, {}", awaited.kind.text(), awaited.name),
                quantity: Quantity::ZERO,
                waits_for: words::of_awaited(self, awaited),
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
        let part = self.book.parts.get(&line.part);
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
                line: line.number,
                part: self.book.part_number(line.part).to_owned(),
                description: part.map_or(String::new(), |part| part.description.clone()),
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
        let components = self.lines(made.build).iter().filter(|row| row.made_for == made.number);
        components.into_iter().any(|row| self.book.gates(row) && self.here(row) < row.required)
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

    fn verdict(
        &self,
        row: &Build,
        reckoned: &Reckoned<'_>,
        stages: &[StageReadiness],
        stall: f64,
    ) -> (Verdict, String) {
        let begun = row.state == BuildState::InBay || row.held_from == Some(BuildState::InBay);
        let verb = if begun { "go on" } else { "start" };
        let now: Vec<&MissingPart> = stages
            .iter()
            .filter(|stage| stage.state != StageState::Done && stage.offset_days == 0)
            .flat_map(|stage| &stage.missing)
            .collect();
        if row.state == BuildState::ReadyForHandover || reckoned.remaining_days == 0 {
            return (Verdict::CanStart, "No work is left to do.".to_owned());
        }
        if let Some(first) = now.first() {
            let others = match now.len() {
                1 => String::new(),
                2 => " and 1 more part".to_owned(),
                n => format!(" and {} more parts", n - 1),
            };
            let what = format!("{} {}", first.part, first.description);
            let text = format!(
                "Cannot {verb} today: the first work lacks {}{others} ({}).",
                what.trim(),
                first.waits_for
            );
            return (Verdict::CannotStart, text);
        }
        if let Some(undated) = reckoned.undated.first() {
            let what = undated.part.map_or(undated.name.as_str(), |p| self.book.part_number(p));
            let text = format!(
                "Can {verb} today, but will stall: nothing dates {what} ({}), which stage {} \
                 needs.",
                undated.waits_for, undated.stage
            );
            return (Verdict::MayStall, text);
        }
        if reckoned.dated.is_empty() {
            return (Verdict::CanStart, format!("Can {verb} today: every part is here."));
        }
        let tolerance = self.book.settings.as_ref().map_or(STALL_TOLERANCE, |s| s.stall_tolerance);
        let culprit = self.likeliest_stall(reckoned);
        if stall <= tolerance {
            let text = format!(
                "Can {verb} today: what is missing is likely to come in time; chance of a stall \
                 {}{culprit}.",
                percent(stall)
            );
            return (Verdict::CanStart, text);
        }
        let how = if stall > ALMOST_SURE { "will almost surely stall" } else { "may stall" };
        let text = format!("Can {verb} today, but {how}: chance {}{culprit}.", percent(stall));
        (Verdict::MayStall, text)
    }

    /// `, most likely on HD-1042 Fuse box (order P-2007 line 3, CORRIE)`: the
    /// source that is least likely to be here when it is needed.
    fn likeliest_stall(&self, reckoned: &Reckoned<'_>) -> String {
        let worst = reckoned
            .dated
            .iter()
            .zip(&reckoned.in_time_today)
            .map(|(found, in_time)| (1.0 - in_time, found))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, found)) = worst else { return String::new() };
        format!(", most likely on {} ({})", self.named(found), found.waits_for)
    }

    /// `HD-1042 Fuse box`, or what an awaited thing is called.
    fn named(&self, found: &crate::plan::reckon::sources::Found<'_>) -> String {
        match found.part.and_then(|part| self.book.parts.get(&part)) {
            Some(part) => format!("{} {}", part.number, part.description),
            None => found.name.clone(),
        }
    }
}

/// `42 %`, `<1 %`, `>99 %`: a probability for people, never rounded to certain.
pub(in crate::plan) fn percent(p: f64) -> String {
    let rounded = (p * 100.0).round();
    if p > 0.0 && rounded < 1.0 {
        return "<1 %".to_owned();
    }
    if p < 1.0 && rounded > 99.0 {
        return ">99 %".to_owned();
    }
    format!("{rounded:.0} %")
}
