//! The shop's days.

use super::desk::{Desk, Fault, after};
use super::jobs::{BuildOutcome, Job, Outlook, Supply};
use super::past::{Record, placed};
use super::policy::{Ordering, Policy};
use super::promise_list::Looked;
use super::truth::{Assumed, STAGES, Said, Truth};
use baystart_core::calendar::{WorkCalendar, next_ordering_day};
use baystart_core::leadtime::history::Fact;
use baystart_core::plan::Learned;
use jiff::civil::{Date, Weekday, date};
use std::collections::BTreeMap;

/// The first day, a Monday.
const FIRST: Date = date(2024, 1, 8);
/// Calendar days after the last counted acceptance by which every build must be delivered.
const RUN_DOWN_DAYS: i64 = 730;

/// What came of one play.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Builds that were accepted in the counted time, by number; every one was delivered.
    pub builds: Vec<BuildOutcome>,
    /// Promises in force as they were looked at in the months after.
    pub looks: Vec<Looked>,
    /// Calls to suppliers, in all.
    pub calls: u32,
    /// Bay days in the counted time: of all bays, with a vehicle in it, and worked on.
    pub bay_days: [u32; 3],
}

/// How long a shop is played, in calendar days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// Until the shop is as full as it will be; builds accepted before are not counted.
    pub fill_days: i64,
    /// Then the days whose acceptances are counted.
    pub days: i64,
}

/// A shop under way.
#[derive(Clone)]
pub(super) struct Play<'a> {
    pub(super) truth: Truth,
    pub(super) policy: &'a Policy,
    pub(super) desk: Desk,
    pub(super) calendar: WorkCalendar,
    pub(super) record: Record,
    pub(super) learned: Learned,
    pub(super) jobs: Vec<Job>,
    /// Which lines of each job are ordered.
    pub(super) ordered: Vec<Vec<bool>>,
    /// The last safe ordering day of lines, as far as it was asked for and still holds.
    pub(super) order_by: BTreeMap<(usize, usize), Date>,
    pub(super) supplies: Vec<Supply>,
    pub(super) calls: u32,
    bay_days: [u32; 3],
    counted: (Date, Date),
}

/// Plays the shop over a span; new builds come in until the last counted one is delivered. `check` is given
/// the book at the end of each week, ledger included.
///
/// # Errors
/// A command that the shop refuses, or a build that nobody can date or deliver: none is expected.
pub fn play(
    seed: u64,
    assumed: Assumed,
    policy: &Policy,
    span: Span,
    check: Option<&mut dyn FnMut(&baystart_core::book::Book)>,
) -> Result<Outcome, String> {
    let truth = Truth::new(seed, assumed);
    let mut desk = Desk::new(&truth, FIRST, check.is_some())?;
    if let Some(settings) = &mut desk.book.settings {
        settings.ways = policy.ways();
    }
    let calendar = desk.calendar();
    let mut record = Record::new(&truth, FIRST, &calendar)?;
    let learned = record.learn(&desk, &[], &[]);
    let from = after(FIRST, span.fill_days)?;
    let counted = (from, after(from, span.days)?);
    let mut play = Play {
        truth,
        policy,
        desk,
        calendar,
        record,
        learned,
        jobs: Vec::new(),
        ordered: Vec::new(),
        order_by: BTreeMap::new(),
        supplies: Vec::new(),
        calls: 0,
        bay_days: [0; 3],
        counted,
    };
    play.run(check)
}

impl Play<'_> {
    fn run(
        &mut self,
        mut check: Option<&mut dyn FnMut(&baystart_core::book::Book)>,
    ) -> Result<Outcome, Fault> {
        let last = after(self.counted.1, RUN_DOWN_DAYS)?;
        let mut accept_on = self.accept_day(FIRST, 0)?;
        let mut next_build = 0;
        let mut month = self.desk.today.month();
        let (mut months, mut look) = (0, false);
        while self.desk.today < self.counted.1 || self.is_owing() {
            let today = self.desk.today;
            if today > last {
                return Err("a build is never delivered".to_owned());
            }
            if today.month() != month {
                month = today.month();
                self.learned = self.record.learn(&self.desk, &self.jobs, &self.supplies);
                self.order_by.clear();
                months += 1;
                look = true;
            }
            if self.calendar.is_working(today) {
                self.learned.coming = self.coming();
                if std::mem::take(&mut look) {
                    self.look_at_promises(months)?;
                }
                while accept_on <= today {
                    self.accept(next_build)?;
                    next_build += 1;
                    accept_on = self.accept_day(accept_on, next_build)?;
                }
                self.working_day()?;
            }
            if let Some(check) = check.as_deref_mut().filter(|_| today.weekday() == Weekday::Sunday)
            {
                check(&self.desk.book);
            }
            self.desk.sleep()?;
        }
        let counted = self.jobs.iter().filter(|job| self.counts(job));
        let builds = counted.filter_map(|job| self.outcome(job)).collect();
        let looks = self.looks();
        Ok(Outcome { builds, looks, calls: self.calls, bay_days: self.bay_days })
    }

    /// When the last accepted build is delivered in the same truth if no other is ever accepted.
    fn delivered_alone(&self) -> Result<Option<Date>, Fault> {
        let mut alone = self.clone();
        let last = after(self.desk.today, RUN_DOWN_DAYS)?;
        while alone.jobs.last().is_some_and(|job| job.delivered.is_none()) {
            if alone.desk.today > last {
                return Ok(None);
            }
            if alone.calendar.is_working(alone.desk.today) {
                alone.working_day()?;
            }
            alone.desk.sleep()?;
        }
        Ok(alone.jobs.last().and_then(|job| job.delivered))
    }

    fn accept_day(&self, from: Date, build: u64) -> Result<Date, Fault> {
        let gap = self.truth.gap(build).round() as i32;
        self.calendar.add_working_days(from, gap).ok_or_else(|| "no such day".to_owned())
    }

    pub(super) fn counts(&self, job: &Job) -> bool {
        job.truth.accepted >= self.counted.0 && job.truth.accepted < self.counted.1
    }

    fn is_owing(&self) -> bool {
        self.jobs.iter().any(|job| self.counts(job) && job.delivered.is_none())
    }

    fn accept(&mut self, build: u64) -> Result<(), Fault> {
        let today = self.desk.today;
        let row = self.truth.build(build, today);
        let (planned_start, dates) = self.promise_for(&row)?;
        let [_, promised_on, _] = dates;
        let id = self.desk.open(build, &row, planned_start)?;
        let lines = row.lines.len();
        let mut job = Job {
            build,
            id,
            truth: row,
            dates,
            said: Outlook::default(),
            looked: Vec::new(),
            eligible: None,
            delivered_alone: None,
            planned_start,
            started: None,
            delivered: None,
            stage: 0,
            days_left: 0,
            stalled_days: 0,
            received: vec![None; lines],
            fitted: vec![None; lines],
        };
        job.said = self.said_for(&job)?;
        let [_, said, _] = job.said.chances;
        self.desk.promise(build, promised_on, said)?;
        self.jobs.push(job);
        self.ordered.push(vec![false; lines]);
        if self.policy.ordering == Ordering::AtAcceptance {
            let due = self.due();
            self.order(due)?;
        }
        if self.policy.alone && self.jobs.last().is_some_and(|job| self.counts(job)) {
            let delivered = self.delivered_alone()?;
            if let Some(job) = self.jobs.last_mut() {
                job.delivered_alone = delivered;
            }
        }
        Ok(())
    }

    fn order(&mut self, due: Vec<(usize, usize)>) -> Result<(), Fault> {
        let mut by_supplier: BTreeMap<usize, Vec<(usize, usize, usize, i64)>> = BTreeMap::new();
        for (job, line) in due {
            let (part, quantity, supplier) = self.line(job, line).ok_or("no such line")?;
            by_supplier.entry(supplier).or_default().push((job, line, part, quantity));
            let ordered = self.ordered.get_mut(job).and_then(|lines| lines.get_mut(line));
            *ordered.ok_or("no such line")? = true;
        }
        let today = self.desk.today;
        for (supplier, rows) in by_supplier {
            let mut lines = Vec::new();
            for (job, line, part, quantity) in &rows {
                let build = self.jobs.get(*job).ok_or("no such build")?.build;
                let number = i32::try_from(line + 1).map_err(|error| error.to_string())?;
                lines.push((build, number, *part, *quantity));
            }
            let order = self.desk.order(supplier, &lines)?;
            for (order_line, ((job, line, part, _), (build, _, _, _))) in
                (1..).zip(rows.into_iter().zip(lines))
            {
                let truth = self.truth.order(build, part, today, &self.calendar);
                let truth = truth.ok_or("no such order")?;
                let past = placed(&self.truth, part, today).ok_or("no such part")?;
                self.supplies.push(Supply {
                    order: order.clone(),
                    order_line,
                    job,
                    line,
                    part,
                    arrival: truth.arrival,
                    news: truth.news,
                    calls: 0,
                    called_on: None,
                    past,
                });
            }
        }
        Ok(())
    }

    /// Decisions in the morning, then what the day brings.
    fn working_day(&mut self) -> Result<(), Fault> {
        let today = self.desk.today;
        let shop = self.desk.book.settings.as_ref();
        let weekdays = shop.map_or([true; 7], |shop| shop.ordering_days);
        let orders = self.policy.ordering != Ordering::AtAcceptance;
        if orders && next_ordering_day(today, weekdays, &self.calendar) == Some(today) {
            let due = self.due();
            self.order(due)?;
        }
        if today.weekday() == Weekday::Tuesday && self.policy.calls > 0 {
            for supply in self.to_call()? {
                self.call(supply)?;
            }
        }
        self.start()?;
        self.hear()?;
        self.work()
    }

    fn start(&mut self) -> Result<(), Fault> {
        self.note_eligible()?;
        let bays = self.truth.assumed.bays as usize;
        while self.jobs.iter().filter(|job| job.is_in_bay()).count() < bays {
            let Some(at) = self.next_to_start()? else { return Ok(()) };
            let Some(job) = self.jobs.get_mut(at) else { return Ok(()) };
            self.desk.put_in_bay(job.build)?;
            job.started = Some(self.desk.today);
            job.eligible = job.eligible.or(job.started);
            self.order_by.retain(|(its, _), _| *its != at);
        }
        Ok(())
    }

    /// News and receipts up to today.
    fn hear(&mut self) -> Result<(), Fault> {
        let today = self.desk.today;
        for supply in self.supplies.iter_mut().filter(|supply| supply.is_open()) {
            while let Some((day, said)) = supply.news.first().copied().filter(|n| n.0 <= today) {
                supply.news.remove(0);
                match said {
                    Said::Promised(date) => {
                        self.desk.answer(&supply.order, supply.order_line, date)?;
                    }
                    Said::Despatched => self.desk.despatched(&supply.order, supply.order_line)?,
                }
                // On a closed day nobody listens.
                supply.note(today.max(day), said);
            }
            if supply.arrival > today {
                continue;
            }
            self.desk.receive(&supply.order, supply.order_line)?;
            supply.past.completed = Some(Fact { on: today, recorded_on: today });
            let job = self.jobs.get_mut(supply.job);
            let received = job.and_then(|job| job.received.get_mut(supply.line));
            *received.ok_or("no such line")? = Some(today);
        }
        Ok(())
    }

    fn work(&mut self) -> Result<(), Fault> {
        let today = self.desk.today;
        let counts = today >= self.counted.0 && today < self.counted.1;
        if counts {
            self.bay_days[0] += self.truth.assumed.bays;
        }
        for job in self.jobs.iter_mut().filter(|job| job.is_in_bay()) {
            let (name, _, _) = STAGES.get(job.stage).ok_or("no such stage")?;
            self.bay_days[1] += u32::from(counts);
            if job.days_left == 0 {
                if !job.has_parts_of(job.stage) {
                    job.stalled_days += 1;
                    continue;
                }
                let mut any = false;
                for (line, fitted) in job.truth.lines.iter().zip(&mut job.fitted) {
                    if line.1 == job.stage {
                        *fitted = Some(today);
                        any = true;
                    }
                }
                self.desk.begin(job.build, name, any)?;
                let (_, days) = job.truth.stages.get(job.stage).ok_or("no such stage")?;
                job.days_left = *days;
            }
            self.bay_days[2] += u32::from(counts);
            job.days_left -= 1;
            if job.days_left > 0 {
                continue;
            }
            self.desk.finish(job.build, name)?;
            job.stage += 1;
            if job.stage == STAGES.len() {
                self.desk.deliver(job.build)?;
                job.delivered = Some(today);
                let stages = self.desk.book.stages_of(job.id).into_iter().cloned();
                self.record.stages.extend(stages);
                self.desk.forget(job.id)?;
            }
        }
        Ok(())
    }
}
