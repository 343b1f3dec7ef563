//! What plans are made of: dates at confidences, and what is waited for.

use crate::book::model::{AwaitedKind, Made};
use crate::ids::{OfferId, OrderLineId, PartId, SupplierId};
use crate::leadtime::News;
use crate::leadtime::learn::{CameSoFar, Evidence};
use jiff::civil::Date;
use std::ops::Deref;

/// Confidences at which dates are given.
pub const LEVELS: [f64; 3] = [0.5, 0.8, 0.95];

/// A date at a stated confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DateAt {
    /// In (0, 1).
    pub probability: f64,
    /// None: not reached within the horizon.
    pub date: Option<Date>,
}

/// A date at each of [`LEVELS`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dates([DateAt; 3]);

impl Dates {
    /// The date of each level; None: not within the horizon.
    #[must_use]
    pub fn of(date: impl FnMut(f64) -> Option<Date>) -> Self {
        let dates = LEVELS.map(date);
        let [a, b, c] = LEVELS;
        let [x, y, z] = dates;
        let at = |probability, date| DateAt { probability, date };
        Self([at(a, x), at(b, y), at(c, z)])
    }

    /// The date that the shop works by: at 80 %.
    #[must_use]
    pub const fn at_80(&self) -> Option<Date> {
        let [_, at, _] = self.0;
        at.date
    }
}

impl Deref for Dates {
    type Target = [DateAt];

    fn deref(&self) -> &[DateAt] {
        &self.0
    }
}

/// What is waited for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Thing {
    /// A part.
    Part(PartId),
    /// A vehicle, or a paper.
    Awaited {
        /// Which of the two.
        kind: AwaitedKind,
        /// As people call it.
        name: String,
    },
}

impl Thing {
    /// The part, where it is one.
    #[must_use]
    pub const fn part(&self) -> Option<PartId> {
        match self {
            Self::Part(part) => Some(*part),
            Self::Awaited { .. } => None,
        }
    }
}

/// Where it comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WaitsFor {
    /// An order line that is on order.
    OrderLine {
        /// Which.
        line: OrderLineId,
        /// Calendar days by which it is supposed to come later; negative: sooner.
        supposed_days: Option<i64>,
    },
    /// As if ordered on the next ordering day.
    NotOrdered {
        /// From which offer; None: nobody offers it.
        offer: Option<OfferId>,
        /// The draft of an order that has it.
        draft: Option<OrderLineId>,
    },
    /// Made in the shop, or to be sent to its finisher: its parts are here.
    ToMake(Made),
    /// At its finisher.
    AtFinisher {
        /// Who.
        supplier: SupplierId,
        /// Since when.
        sent_on: Option<Date>,
        /// The promise in force.
        promised_on: Option<Date>,
    },
    /// No order brings it.
    Awaited {
        /// What kind of thing.
        kind: AwaitedKind,
        /// Who issues it; may be empty.
        source: String,
        /// Since when it is asked for.
        asked_on: Date,
        /// Days that it usually takes.
        quoted_days: Option<u32>,
        /// The date in force.
        expected_on: Option<Date>,
    },
    /// The customer brings it, and gave no date.
    Customer,
}

impl WaitsFor {
    /// What kind of source that is.
    #[must_use]
    pub const fn kind(&self) -> SourceKind {
        match self {
            Self::OrderLine { .. } => SourceKind::OrderLine,
            Self::NotOrdered { .. } => SourceKind::NotOrdered,
            Self::ToMake(_) => SourceKind::ToMake,
            Self::AtFinisher { .. } => SourceKind::AtFinisher,
            Self::Awaited { .. } | Self::Customer => SourceKind::Awaited,
        }
    }

    /// The order line that brings it.
    #[must_use]
    pub const fn order_line(&self) -> Option<OrderLineId> {
        match self {
            Self::OrderLine { line, .. } => Some(*line),
            _ => None,
        }
    }
}

/// What kind of thing a build waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceKind {
    /// An order line that is on order.
    OrderLine,
    /// As if ordered on the next ordering day.
    NotOrdered,
    /// Made in the shop, or to be sent to its finisher: its parts are here.
    ToMake,
    /// At its finisher.
    AtFinisher,
    /// The vehicle, a customer's part or a paper.
    Awaited,
}

/// A thing and where it comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Awaiting {
    /// What.
    pub thing: Thing,
    /// From where.
    pub waits_for: WaitsFor,
}

/// Whose past orders an arrival stands on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StandsOn {
    /// The news that decides.
    pub news: News,
    /// How many orders speak, and how far.
    pub evidence: Evidence,
    /// What has come so far of an order; None of what no order brings.
    pub came: Option<CameSoFar>,
}

/// A number as it is compared for an order of rows: what differs by less than 1e-9 is the same, so that
/// no row's place hangs on rounding.
pub(in crate::plan) fn graded(value: f64) -> i64 {
    (value * 1e9).round() as i64
}
