//! Builds and orders under way, with what is true of them.

use super::truth::{Said, TrueBuild};
use baystart_core::ids::BuildId;
use baystart_core::leadtime::history::{Fact, PastLine, PastPromise};
use jiff::civil::Date;

/// A build from acceptance to handover.
#[derive(Clone, Debug)]
pub(super) struct Job {
    pub(super) build: u64,
    pub(super) id: BuildId,
    pub(super) truth: TrueBuild,
    /// The days that would have been promised at 50, 80 and 95 %.
    pub(super) dates: [Date; 3],
    pub(super) said: Outlook,
    /// Calendar days until the promised day, and the chance that was said then.
    pub(super) looked: Vec<(i64, f64)>,
    /// The first morning on which it might have begun, had a bay been free.
    pub(super) eligible: Option<Date>,
    /// See [`super::Policy::alone`].
    pub(super) delivered_alone: Option<Date>,
    pub(super) planned_start: Date,
    pub(super) started: Option<Date>,
    pub(super) delivered: Option<Date>,
    /// Which stage is next or under way, and working days left of it; 0: not begun.
    pub(super) stage: usize,
    pub(super) days_left: u32,
    /// Working days in a bay on which nothing was worked for want of parts.
    pub(super) stalled_days: u32,
    /// Day of receipt and of fitting, line by line.
    pub(super) received: Vec<Option<Date>>,
    pub(super) fitted: Vec<Option<Date>>,
}

/// What was said of a build when it was accepted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Outlook {
    /// The chances of its days at 50, 80 and 95 %.
    pub chances: [f64; 3],
    /// Working days from acceptance to the first morning on which it may begin, bays aside; mean.
    pub may_begin_days: f64,
    /// Working days from then to its start, mean.
    pub wait: f64,
    /// Builds accepted later that begin before it, mean.
    pub overtaken: f64,
    /// Working days in a bay without the parts to go on, mean.
    pub stalled: f64,
}

impl Job {
    /// Whether every line of a stage is here.
    pub(super) fn has_parts_of(&self, stage: usize) -> bool {
        let lines = self.truth.lines.iter().zip(&self.received);
        lines.into_iter().all(|((_, of, _), received)| *of != stage || received.is_some())
    }

    pub(super) fn is_in_bay(&self) -> bool {
        self.started.is_some() && self.delivered.is_none()
    }
}

/// An order line.
#[derive(Clone, Debug)]
pub(super) struct Supply {
    pub(super) order: String,
    pub(super) order_line: i32,
    /// Index of its job, and of the line there.
    pub(super) job: usize,
    pub(super) line: usize,
    pub(super) part: usize,
    pub(super) arrival: Date,
    pub(super) news: Vec<(Date, Said)>,
    pub(super) calls: u32,
    pub(super) called_on: Option<Date>,
    /// What is on record.
    pub(super) past: PastLine,
}

impl Supply {
    /// By the promise in force, else by the quote.
    pub(super) fn expected_on(&self) -> Date {
        let quote = i64::from(self.past.quoted_days.unwrap_or(0));
        let quoted = baystart_core::calendar::add_days(self.past.placed.on, quote);
        let promised = self.past.promises.last().map(|promise| promise.date);
        promised.or(quoted).unwrap_or(self.past.placed.on)
    }

    pub(super) fn is_open(&self) -> bool {
        self.past.completed.is_none()
    }

    pub(super) fn note(&mut self, day: Date, said: Said) {
        match said {
            Said::Promised(date) => {
                self.past.promises.push(PastPromise { date, known_on: day, recorded_on: day })
            }
            Said::Despatched => self.past.despatched = Some(Fact { on: day, recorded_on: day }),
        }
    }
}

/// What became of one build.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BuildOutcome {
    /// Which.
    pub build: u64,
    /// At 50, 80 and 95 %; the promise is that at 80 %.
    pub at: [PromiseOutcome; 3],
    /// Delivered by the same days if no other build had been accepted after it, where that was played.
    pub kept_alone: [bool; 3],
    /// What was said when it was accepted.
    pub said: Outlook,
    /// Working days from acceptance to the first morning on which it might begin, as it came.
    pub may_begin_days: f64,
    /// Working days of waiting for a bay after that.
    pub wait: f64,
    /// Builds accepted later that began before it.
    pub overtaken: f64,
    /// Calendar days from acceptance to delivery.
    pub actual_days: f64,
    /// Calendar days from acceptance to the day on which it came into a bay.
    pub until_bay_days: f64,
    /// Working days in a bay without the parts to go on.
    pub stalled_days: f64,
    /// Calendar days from receipt to fitting, mean over its lines.
    pub stock_days: f64,
    /// Working days by which it came into a bay later than booked; negative: earlier.
    pub start_late_days: f64,
    /// Every part came by the day on which its stage would have needed it after a start on the booked day.
    pub parts_in_time: bool,
}

/// What became of a delivery date.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PromiseOutcome {
    /// Delivered by the day.
    pub kept: bool,
    /// The chance reckoned at acceptance, in [0, 1].
    pub said: f64,
    /// Calendar days from acceptance to the day.
    pub promised_days: f64,
    /// Calendar days by which it was delivered after the day, 0 if it was not.
    pub late_days: f64,
}

impl BuildOutcome {
    /// The promise.
    #[must_use]
    pub const fn promise(&self) -> &PromiseOutcome {
        let [_, at_80, _] = &self.at;
        at_80
    }
}
