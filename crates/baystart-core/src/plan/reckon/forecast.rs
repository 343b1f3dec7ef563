//! One build's start date, as an exact distribution.

use crate::book::Book;
use crate::book::model::{Build, Line, StartRule};
use crate::decide::{Warning, warnings_of};
use crate::forecast::{Forecast, Source, SourceForecast, forecast_with};
use crate::ids::{BuildId, StageId, SupplierId};
use crate::plan::bays::delivery::Delivery;
use crate::plan::bays::live::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::needs::{Finishers, Need, ready};
use crate::plan::frame::placed::{Placed, place};
use crate::plan::frame::view::{View, as_if_open, live_build};
use crate::plan::ground::{Awaiting, DateAt, Dates, StandsOn, Thing, WaitsFor, graded};
use crate::plan::reckon::assumptions::Assumption;
use crate::plan::reckon::packages::PlannedPackage;
use crate::plan::reckon::sources::{self, Outstanding};
use crate::plan::reckon::work::DayMass;
use crate::quantity::Quantity;
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// From where a build is forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Not begun: from its first stage.
    FromStart,
    /// In the bay: from where it stands.
    FromBay,
}

/// One thing that the build waits for.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedSource {
    /// What.
    pub thing: Thing,
    /// From where.
    pub waits_for: WaitsFor,
    /// What passes through the same finisher with it.
    pub joined: Vec<Awaiting>,
    /// Who sends it.
    pub supplier: Option<SupplierId>,
    /// Numbers of the build lines that hang on it.
    pub lines: Vec<i32>,
    /// The stage that needs it first.
    pub stage: Option<StageId>,
    /// Working days after the start at which that is; negative: before it, for
    /// what is needed to make something.
    pub offset_days: i32,
    /// Its own arrival at 50 and 80 %, rolled to working days.
    pub arrival: [DateAt; 2],
    /// Chance that it is the last; ties shared.
    pub gating: f64,
    /// Working days by which the start comes earlier if it were here, in the mean; see
    /// [`SourceForecast::days_gained`].
    pub days_gained: f64,
    /// Whose past orders its arrival stands on; None: quotes and promises alone.
    pub evidence: Option<StandsOn>,
}

/// Something without any date.
#[derive(Clone, Debug, PartialEq)]
pub struct UndatedLine {
    /// The line that lacks it, by number; None: no line does, but a stage.
    pub line: Option<i32>,
    /// What.
    pub thing: Thing,
    /// How much is missing.
    pub quantity: Quantity,
    /// Where it would come from.
    pub waits_for: WaitsFor,
    /// What passes through the same finisher with it.
    pub joined: Vec<Awaiting>,
}

/// When a build can start and not stall.
#[derive(Clone, Debug, PartialEq)]
pub struct BuildForecast {
    /// Which build.
    pub build: BuildId,
    /// The day at whose start it speaks.
    pub as_of: Date,
    /// From where.
    pub basis: Basis,
    /// Earliest start at [`LEVELS`].
    pub start: Dates,
    /// Last day of work at [`LEVELS`], if it starts on the start date of the
    /// same level and takes its planned days.
    pub finish: Dates,
    /// Chance that it can start today and not stall; 0 with an undated line.
    pub startable_today: f64,
    /// Chance that some dated source does not come within the horizon.
    pub without_date: f64,
    /// Handover at [`LEVELS`] that the parts alone would allow: the work done, work off
    /// site back, and the papers here that gate handover only.
    pub handover: Dates,
    /// The same with the bays counted in: what can be promised.
    pub delivery: Delivery,
    /// Things that gate handover only, with their own arrival: awaited ones, and what finished stages
    /// still lack.
    pub last_papers: Vec<PlannedSource>,
    /// What should be told of its parts, by line; see [`crate::decide::warnings`].
    pub warnings: Vec<Warning>,
    /// Working days still to do.
    pub remaining_days: u32,
    /// What it waits for, the likeliest to gate first.
    pub sources: Vec<PlannedSource>,
    /// Packages of which it waits for several pieces.
    pub packages: Vec<PlannedPackage>,
    /// Lines that no date exists for; the dates hold for the others.
    pub undated: Vec<UndatedLine>,
    /// Chance that it can start by a day, on days on which it changes.
    pub distribution: Vec<(Date, f64)>,
    /// The planned start, and the chance of a stall if it starts then.
    pub planned_start: Option<Date>,
    /// See `planned_start`; a start in the past counts as today. None once it
    /// has begun.
    pub stall_at_planned_start: Option<f64>,
    /// Chance of a stall if it starts on the day that was asked for.
    pub stall_at_asked_start: Option<f64>,
    /// What the dates take for granted.
    pub assumptions: Vec<Assumption>,
}

/// The forecast of one build at the start of `as_of`; `start_on` asks for the
/// chance of a stall if it starts on that day. A quoted build is forecast as if
/// it were opened today, one on hold as if it went on today.
///
/// # Errors
/// The build is not in the book, or delivered or cancelled.
pub fn forecast_build(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    as_of: Date,
    start_on: Option<Date>,
) -> Result<BuildForecast, Refusal> {
    let row = live_build(book, build)?;
    let view = View::new(book, learned, as_of);
    let bays = bays(book, learned, as_of, &view)?;
    match as_if_open(book, row, as_of)? {
        Some(overlaid) => Ok(View::new(&overlaid, learned, as_of).forecast(row, start_on, &bays)),
        None => Ok(view.forecast(row, start_on, &bays)),
    }
}

/// The reckoning behind a forecast, before it is put into words.
pub(in crate::plan) struct Reckoned<'a> {
    pub(in crate::plan) placed: Vec<Placed<'a>>,
    pub(in crate::plan) remaining_days: u32,
    /// Working days still to do in the shop, as a distribution.
    pub(in crate::plan) work: DayMass,
    /// Dated sources, in the order of the forecast's.
    pub(in crate::plan) dated: Vec<Outstanding<'a>>,
    pub(in crate::plan) undated: Vec<Outstanding<'a>>,
    pub(in crate::plan) left_behind: Vec<&'a Line>,
    /// What gates handover only: awaited things, and what finished stages still lack.
    pub(in crate::plan) handover: Vec<Outstanding<'a>>,
    /// P(here, finished where it is, by axis index i), source by source.
    pub(in crate::plan) here: Vec<Vec<f64>>,
    /// P(all that hangs on it is in time for a start today), source by source.
    pub(in crate::plan) in_time_today: Vec<f64>,
    /// The dated sources as the forecast took them.
    pub(in crate::plan) sources: Vec<Source>,
    pub(in crate::plan) forecast: Forecast,
}

impl Reckoned<'_> {
    /// Chance of a stall for a start on an axis index; certain with an undated
    /// line.
    pub(in crate::plan) fn stall(&self, start: usize) -> f64 {
        match self.undated.is_empty() {
            true => self.forecast.stall(start),
            false => 1.0,
        }
    }
}

impl<'a> View<'a> {
    /// When a build can start under the shop's rule: without a stall, or with all its parts here.
    pub(in crate::plan) fn reckon(&self, build: BuildId) -> Reckoned<'a> {
        self.reckon_needed(build, self.starts_whole(build))
    }

    /// When a build can start and not stall, whatever the shop's rule.
    pub(in crate::plan) fn reckon_stall(&self, build: BuildId) -> Reckoned<'a> {
        self.reckon_needed(build, false)
    }

    /// Whether the shop begins it with all its parts here.
    fn starts_whole(&self, build: BuildId) -> bool {
        let begun = self.book.builds.get(&build).is_some_and(Build::is_in_bay);
        !begun && self.book.start_rule() == StartRule::AllHere
    }

    fn reckon_needed(&self, build: BuildId, whole: bool) -> Reckoned<'a> {
        let (placed, remaining_days) = place(self, build);
        let gates = sources::of_build(self, build, &placed);
        let (dated, undated): (Vec<_>, Vec<_>) =
            gates.sources.into_iter().partition(|source| source.arrival.is_some());
        let finishers = Finishers::default();
        let (mut here, mut in_time_today) = (Vec::new(), Vec::new());
        let mut groups: BTreeMap<SupplierId, u32> = BTreeMap::new();
        let mut sources = Vec::new();
        for source in &dated {
            let next = u32::try_from(groups.len()).unwrap_or(u32::MAX);
            let group = source.supplier.map(|id| *groups.entry(id).or_insert(next));
            let arrival = source.arrival.as_deref().unwrap_or_default();
            let by_start = || source.needs.iter().map(Need::by_start).collect();
            let needs: Cow<'_, [Need]> =
                if whole { Cow::Owned(by_start()) } else { Cow::Borrowed(&source.needs) };
            let ready = ready(self, &finishers, arrival, &needs);
            here.push(ready.here);
            in_time_today.push(ready.in_time.first().copied().unwrap_or(0.0));
            // Cumulative sums never fall, so this cannot fail; an empty source
            // would count as one that never comes. When it is needed is in it.
            let empty = || Source::new(0, group, Vec::new());
            sources.extend(Source::new(0, group, ready.in_time).or_else(|_| empty()));
        }
        let forecast = forecast_with(&sources, self.axis.len(), &self.cause());
        let work = self.work_days(&placed);
        Reckoned {
            placed,
            work,
            remaining_days,
            dated,
            undated,
            left_behind: gates.left_behind,
            handover: gates.handover,
            here,
            in_time_today,
            sources,
            forecast,
        }
    }

    /// The forecast of a build of this view; `row` may be its row before an
    /// overlay.
    pub(in crate::plan) fn forecast(
        &self,
        row: &Build,
        start_on: Option<Date>,
        bays: &Bays,
    ) -> BuildForecast {
        let reckoned = self.reckon(row.id);
        // That not all is here is no stall.
        let plain = self.starts_whole(row.id).then(|| self.reckon_stall(row.id));
        let stall_on = |date: Date| {
            let index = self.axis.index_of(date.max(self.as_of))?;
            Some(plain.as_ref().unwrap_or(&reckoned).stall(index))
        };
        let starts = |level: f64| {
            let at = reckoned.forecast.quantile(level).map(|at| at.max(self.starts_from));
            at.and_then(|at| self.axis.date(at))
        };
        let start = Dates::of(starts);
        let finish = Dates::of(|level| self.last_day(starts(level)?, reckoned.remaining_days));
        let undated = self.undated(&reckoned);
        let startable_today = match reckoned.undated.is_empty() {
            true => reckoned.forecast.startable_today(),
            false => 0.0,
        };
        let begun = row.is_in_bay();
        let delivery = self.delivery(row, &reckoned, bays);
        BuildForecast {
            build: row.id,
            as_of: self.as_of,
            basis: if begun { Basis::FromBay } else { Basis::FromStart },
            start,
            finish,
            startable_today,
            without_date: reckoned.forecast.mass_without_date(),
            handover: self.handover(&reckoned),
            last_papers: self.last_papers(&reckoned),
            warnings: warnings_of(self.book, &self.book.lines_of(row.id)),
            remaining_days: reckoned.remaining_days,
            sources: self.planned_sources(&reckoned),
            packages: self.packages(&reckoned),
            undated,
            distribution: self.distribution(&reckoned.forecast),
            planned_start: row.planned_start,
            stall_at_planned_start: row.planned_start.filter(|_| !begun).and_then(stall_on),
            stall_at_asked_start: start_on.and_then(stall_on),
            assumptions: self.assumptions(row, &reckoned, &delivery),
            delivery,
        }
    }

    /// The last day of `days` working days that begin on `start`.
    fn last_day(&self, start: Date, days: u32) -> Option<Date> {
        let after = i32::try_from(days.saturating_sub(1)).ok()?;
        self.calendar.add_working_days(start, after)
    }

    /// What nothing dates, line by line.
    pub(in crate::plan) fn undated(&self, reckoned: &Reckoned<'_>) -> Vec<UndatedLine> {
        reckoned.undated.iter().flat_map(undated).collect()
    }

    fn planned_sources(&self, reckoned: &Reckoned<'_>) -> Vec<PlannedSource> {
        let pairs = reckoned.dated.iter().zip(&reckoned.here).zip(reckoned.forecast.sources());
        let mut rows: Vec<_> = pairs
            .map(|((found, here), outcome)| self.planned_source(found, here, Some(outcome)))
            .collect();
        rows.sort_by(|a, b| {
            graded(b.gating)
                .cmp(&graded(a.gating))
                .then(graded(b.days_gained).cmp(&graded(a.days_gained)))
                .then_with(|| self.called(a).cmp(&self.called(b)))
        });
        rows
    }

    /// What gates handover only, in its own order.
    fn last_papers(&self, reckoned: &Reckoned<'_>) -> Vec<PlannedSource> {
        let rows = reckoned.handover.iter();
        rows.map(|found| {
            let here = found.arrival.as_deref().unwrap_or_default();
            self.planned_source(found, here, None)
        })
        .collect()
    }

    /// Part, order and line, as people call them.
    fn called(&self, source: &PlannedSource) -> (&str, &str, i32) {
        let part = source.thing.part().map_or("", |part| self.book.part_number(part));
        let line = source.waits_for.order_line().and_then(|id| self.book.order_lines.get(&id));
        let order = line.map_or("", |line| self.book.order_number(line.order));
        (part, order, line.map_or(0, |line| line.number))
    }

    fn planned_source(
        &self,
        found: &Outstanding<'_>,
        here: &[f64],
        outcome: Option<&SourceForecast>,
    ) -> PlannedSource {
        let at = |probability: f64| {
            let index = here.partition_point(|by| *by < probability - 1e-9);
            let date = self.axis.date(index).filter(|_| index < here.len());
            DateAt { probability, date }
        };
        PlannedSource {
            thing: found.thing.clone(),
            waits_for: found.waits_for.clone(),
            joined: found.joined.clone(),
            supplier: found.supplier,
            lines: found.waits.iter().map(|wait| wait.line.number).collect(),
            stage: found.stage,
            offset_days: found.offset_days(),
            arrival: [at(0.5), at(0.8)],
            gating: outcome.map_or(0.0, |outcome| outcome.gating),
            days_gained: outcome.map_or(0.0, |outcome| outcome.days_gained),
            evidence: found.evidence,
        }
    }

    fn distribution(&self, forecast: &Forecast) -> Vec<(Date, f64)> {
        let mut rows = Vec::new();
        let mut before = -1.0;
        for (index, probability) in forecast.start_cdf().iter().enumerate() {
            if *probability > before {
                rows.extend(self.axis.date(index).map(|date| (date, *probability)));
                before = *probability;
            }
        }
        rows
    }
}

fn undated(found: &Outstanding<'_>) -> Vec<UndatedLine> {
    let row = |line, thing, quantity| UndatedLine {
        line,
        thing,
        quantity,
        waits_for: found.waits_for.clone(),
        joined: found.joined.clone(),
    };
    if found.waits.is_empty() {
        return vec![row(None, found.thing.clone(), Quantity::ZERO)];
    }
    let waits = found.waits.iter();
    waits.map(|wait| row(Some(wait.line.number), found.thing.clone(), wait.quantity)).collect()
}
