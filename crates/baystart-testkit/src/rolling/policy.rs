//! The two ways of promising, ordering, calling and starting.

use super::day::Play;
use super::desk::{Desk, Fault, STALL_TOLERANCE, after};
use super::jobs::{Job, Outlook};
use super::truth::{Said, TrueBuild};
use baystart_core::book::Book;
use baystart_core::book::model::{StartWay, Ways};
use baystart_core::calendar::days_between;
use baystart_core::leadtime::history::Fact;
use baystart_core::plan::{
    QuoteAsked, QuotedVariant, chances_of_promise, chases, forecast_build, quote, readiness,
    suggest,
};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Calendar days for which nobody is called again about the same line.
const QUIET_DAYS: i64 = 13;

/// How a delivery date is promised and a build is started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Promise: the quote's delivery at 80 %. Start: a bay is free and the chance of a stall is within the
    /// shop's tolerance; the first in the order of booked starts begins.
    Forecast,
    /// The same, but all parts must be here.
    ForecastAllHere,
    /// The same promise. Start: from the booked start on as soon as a bay is free and the first stage has
    /// its parts, whatever the chance of a stall later on.
    ForecastBooked,
    /// Promise: the longest quoted lead time, then the planned working days. Start: on that day or as soon
    /// as a bay is free after it, whatever is missing.
    LongestQuote,
}

/// When parts are ordered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ordering {
    /// All on the day of acceptance.
    AtAcceptance,
    /// All on the first ordering day from acceptance on.
    NextOrderingDay,
    /// On each ordering day what the suggestions call due at this confidence, line by line.
    Suggested(f64),
}

/// A way of running the shop.
#[derive(Clone, Debug, PartialEq)]
pub struct Policy {
    /// For people.
    pub name: String,
    /// Promise and start.
    pub way: Way,
    /// Orders.
    pub ordering: Ordering,
    /// Calls to suppliers a week, at most.
    pub calls: usize,
    /// The chance of news that forecasts reckon with.
    pub news: f64,
    /// Plays each counted build's truth a second time, in which nothing is accepted after it: what is
    /// missed there is not missed for builds to come.
    pub alone: bool,
    /// Forecasts draw builds that nobody has accepted yet.
    pub to_come: bool,
}

impl Policy {
    /// How the shop says that it decides.
    pub(super) fn ways(&self) -> Ways {
        let start = match self.way {
            Way::Forecast | Way::LongestQuote => StartWay::StallTolerated,
            Way::ForecastAllHere => StartWay::AllHere,
            Way::ForecastBooked => StartWay::BookedDay,
        };
        let asked = Ways { start, news: self.news, ..Ways::default() };
        match self.ordering {
            Ordering::Suggested(confidence) => Ways { as_suggested: true, confidence, ..asked },
            Ordering::AtAcceptance | Ordering::NextOrderingDay => asked,
        }
    }
}

impl Play<'_> {
    /// The booked start, and the days at 50, 80 and 95 %.
    pub(super) fn promise_for(&self, row: &TrueBuild) -> Result<(Date, [Date; 3]), Fault> {
        match self.policy.way {
            Way::Forecast | Way::ForecastAllHere | Way::ForecastBooked => {
                let asked = QuoteAsked {
                    vehicle: "Rescue vehicle".to_owned(),
                    stages: Desk::stages(row),
                    lines: Desk::lines(row),
                    groups: Vec::new(),
                    accepted_on: None,
                    wanted_by: None,
                };
                let (book, learned) = (&self.desk.book, Some(&self.learned));
                let tell = |_: &Book, variant: QuotedVariant| variant.forecast.delivery;
                let told = quote(book, learned, &asked, self.desk.today, &|| true, tell);
                let told = told.map_err(|refusal| refusal.to_string())?;
                let dates = told.iter().flatten().next().and_then(|delivery| {
                    let [a, b, c] = delivery.levels.map(|at| at.date);
                    Some((delivery.planned_from?, [a?, b?, c?]))
                });
                dates.ok_or_else(|| "a quote has no date within the horizon".to_owned())
            }
            Way::LongestQuote => {
                let quotes = row.lines.iter().filter_map(|line| self.truth.parts.get(line.0));
                let longest = quotes.map(|part| part.quoted_days).max().unwrap_or(0);
                let start = after(self.desk.today, longest.into())?;
                let start = self.calendar.roll_forward(start).ok_or("no such day")?;
                let work: u32 = row.stages.iter().map(|(planned, _)| planned).sum();
                let work = i32::try_from(work).unwrap_or(i32::MAX);
                let end = self.calendar.add_working_days(start, work - 1).ok_or("no such day")?;
                Ok((start, [end; 3]))
            }
        }
    }

    /// What is said of an accepted build; of a promise without a forecast it is said afterwards only.
    pub(super) fn said_for(&self, job: &Job) -> Result<Outlook, Fault> {
        let (book, learned, today) = (&self.desk.book, Some(&self.learned), self.desk.today);
        let chances = chances_of_promise(book, learned, job.id, today, &job.dates);
        let chances = chances.map_err(|refusal| refusal.to_string())?;
        let forecast = forecast_build(book, learned, job.id, today, None);
        let told = forecast.map_err(|refusal| refusal.to_string())?.delivery;
        let chances = chances.try_into().map_err(|_| "three dates, three chances".to_owned())?;
        Ok(Outlook {
            chances,
            may_begin_days: told.may_begin_days,
            wait: told.bay_wait_days,
            overtaken: told.overtaken,
            stalled: told.stalled_days,
        })
    }

    /// What is to be ordered today: indices of job and line.
    pub(super) fn due(&mut self) -> Vec<(usize, usize)> {
        let mut open = Vec::new();
        for (job, lines) in self.ordered.iter().enumerate() {
            let lines = lines.iter().enumerate().filter(|(_, ordered)| !**ordered);
            open.extend(lines.map(|(line, _)| (job, line)));
        }
        if let Ordering::Suggested(confidence) = self.policy.ordering {
            self.time(confidence, &open);
            let today = self.desk.today;
            open.retain(|line| self.order_by.get(line).is_some_and(|day| *day <= today));
        }
        open
    }

    /// Asks the suggestions for the last safe ordering days that are not known yet.
    ///
    /// Suggestions take most of a play's time. Before a build starts that day is the same from week to week
    /// until more is learned, and here no build takes what is ordered for another: so only builds with lines
    /// that were not asked for are shown to them. For a build in the bay it is asked when it has started, and
    /// again with every month's learning: between, what its stages take longer than planned is not followed.
    fn time(&mut self, confidence: f64, open: &[(usize, usize)]) {
        let mut asked = BTreeMap::new();
        for at in open.iter().filter(|at| !self.order_by.contains_key(at)) {
            let Some(job) = self.jobs.get(at.0) else { continue };
            asked.insert(job.id, at.0);
        }
        if asked.is_empty() {
            return;
        }
        let mut book = self.desk.book.clone();
        book.lines.retain(|_, line| asked.contains_key(&line.build));
        let suggested = suggest(&book, Some(&self.learned), self.desk.today, confidence, None);
        let lines = suggested.suppliers.iter().flat_map(|supplier| &supplier.lines);
        for use_ in lines.flat_map(|line| &line.uses) {
            let line = self.desk.book.lines.get(&use_.line);
            let job = line.and_then(|line| asked.get(&line.build)).copied();
            let line = line.and_then(|line| usize::try_from(line.number - 1).ok());
            if let (Some(at), Some(day)) = (job.zip(line), use_.timing.order_by) {
                self.order_by.insert(at, day);
            }
        }
    }

    /// Order lines to call about, by index.
    pub(super) fn to_call(&self) -> Result<Vec<usize>, Fault> {
        let today = self.desk.today;
        let quiet = |at: &usize| {
            let called = self.supplies.get(*at).and_then(|supply| supply.called_on);
            called.is_none_or(|day| days_between(day, today) > QUIET_DAYS)
        };
        let mut found: Vec<usize> = Vec::new();
        match self.policy.way {
            Way::Forecast | Way::ForecastAllHere | Way::ForecastBooked => {
                let mut open = BTreeMap::new();
                for (at, supply) in self.supplies.iter().enumerate().filter(|(_, s)| s.is_open()) {
                    open.insert((supply.order.as_str(), supply.order_line), at);
                }
                let rows = chases(&self.desk.book, Some(&self.learned), today, &|| true);
                let rows = rows.map_err(|refusal| refusal.to_string())?;
                for row in rows.into_iter().flatten() {
                    let line = self.desk.book.order_lines.get(&row.order_line);
                    let called = line.map(|l| (self.desk.book.order_number(l.order), l.number));
                    found.extend(called.and_then(|called| open.get(&called)).copied());
                }
            }
            Way::LongestQuote => {
                let rows = self.supplies.iter().enumerate();
                let mut late: Vec<_> = rows
                    .filter(|(_, supply)| supply.is_open() && supply.expected_on() < today)
                    .map(|(at, supply)| (supply.expected_on(), at))
                    .collect();
                late.sort_unstable();
                found.extend(late.into_iter().map(|(_, at)| at));
            }
        }
        found.retain(quiet);
        found.truncate(self.policy.calls);
        Ok(found)
    }

    /// Calls about one order line.
    pub(super) fn call(&mut self, at: usize) -> Result<(), Fault> {
        let today = self.desk.today;
        let Some(supply) = self.supplies.get_mut(at) else { return Ok(()) };
        let Some(job) = self.jobs.get(supply.job) else { return Ok(()) };
        self.calls += 1;
        self.desk.contact(&supply.order, supply.order_line)?;
        supply.past.contacts.push(Fact { on: today, recorded_on: today });
        let to_come = days_between(today, supply.arrival);
        let overdue = supply.expected_on() < today;
        let key = (job.build, supply.part, supply.calls);
        let (days, told) = self.truth.call(key, to_come, overdue);
        supply.calls += 1;
        supply.called_on = Some(today);
        if days < to_come {
            let day = self.calendar.roll_forward(after(today, days)?).ok_or("no such day")?;
            supply.arrival = day.min(supply.arrival);
            let arrival = supply.arrival;
            supply.news.retain(|(day, _)| *day < arrival);
        }
        if told {
            supply.news.retain(|(_, said)| *said == Said::Despatched);
            supply.note(today, Said::Promised(supply.arrival));
            self.desk.answer(&supply.order, supply.order_line, supply.arrival)?;
        }
        Ok(())
    }

    /// Which of the waiting builds goes into a free bay today.
    pub(super) fn next_to_start(&self) -> Result<Option<usize>, Fault> {
        let today = self.desk.today;
        let waiting = self.jobs.iter().enumerate().filter(|(_, job)| job.started.is_none());
        let mut waiting: Vec<_> = waiting.map(|(at, job)| (job.planned_start, at)).collect();
        waiting.sort_unstable();
        for (planned, at) in waiting {
            let Some(job) = self.jobs.get(at) else { continue };
            if self.policy.way == Way::LongestQuote {
                return Ok((planned <= today).then_some(at));
            }
            if job.eligible.is_some() && self.may_begin(job)? {
                return Ok(Some(at));
            }
        }
        Ok(None)
    }

    /// Whether a build that waits begins today if a bay is free.
    pub(super) fn may_begin(&self, job: &Job) -> Result<bool, Fault> {
        let due = job.planned_start <= self.desk.today;
        // Without what the first stage needs the chance of a stall is far beyond any tolerance.
        let here = job.has_parts_of(0);
        Ok(match self.policy.way {
            Way::LongestQuote => due,
            Way::ForecastBooked => here && due,
            Way::ForecastAllHere => job.received.iter().all(Option::is_some),
            Way::Forecast => here && self.stall(job)? <= STALL_TOLERANCE,
        })
    }

    /// The chance of a stall if a build starts today.
    fn stall(&self, job: &Job) -> Result<f64, Fault> {
        let (book, learned) = (&self.desk.book, Some(&self.learned));
        let ready = readiness(book, learned, job.id, self.desk.today);
        ready.map(|ready| ready.stall).map_err(|refusal| refusal.to_string())
    }

    /// The part of a job's line, its quantity and its supplier.
    pub(super) fn line(&self, job: usize, line: usize) -> Option<(usize, i64, usize)> {
        let (part, _, quantity) = *self.jobs.get(job)?.truth.lines.get(line)?;
        Some((part, quantity, self.truth.parts.get(part)?.supplier))
    }
}
