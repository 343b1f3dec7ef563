//! Builds, stages and lines.

use crate::ids::{BuildId, LineId, PartId, StageId};
use crate::number::Number;
use crate::quantity::Quantity;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Where a build stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum BuildState {
    Quoted,
    Open,
    InBay,
    ReadyForHandover,
    Delivered,
    OnHold,
    Cancelled,
}

impl BuildState {
    /// In the trade's words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Quoted => "quoted",
            Self::Open => "open",
            Self::InBay => "in bay",
            Self::ReadyForHandover => "ready for handover",
            Self::Delivered => "delivered",
            Self::OnHold => "on hold",
            Self::Cancelled => "cancelled",
        }
    }

    /// Whether its lines take supply that comes free.
    #[must_use]
    pub const fn binds(self) -> bool {
        matches!(self, Self::Open | Self::InBay)
    }

    /// Whether its lines may hold stock and pegs.
    #[must_use]
    pub const fn holds(self) -> bool {
        matches!(self, Self::Open | Self::InBay | Self::OnHold | Self::ReadyForHandover)
    }
}

impl fmt::Display for BuildState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.text())
    }
}

/// One vehicle's job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Build {
    /// Identity.
    pub id: BuildId,
    /// The shop's own number.
    pub number: Number,
    /// Which vehicle and what it becomes.
    pub vehicle: String,
    /// For people.
    pub customer: String,
    /// Where it stands.
    pub state: BuildState,
    /// The state to which a hold returns.
    pub held_from: Option<BuildState>,
    /// 1 is served first.
    pub priority: i32,
    /// The working day that the shop has booked.
    pub planned_start: Option<Date>,
    /// The day by which the customer wants it.
    pub required_by: Option<Date>,
    /// Why it is on hold or was cancelled.
    pub note: String,
    /// Orders builds by the time at which they were opened; 0 until then.
    pub opened_at: Option<Timestamp>,
    /// Counts the changes of this row.
    pub version: i64,
}

/// A step of a build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stage {
    /// Identity.
    pub id: StageId,
    /// Whose.
    pub build: BuildId,
    /// From 1, in the order of work.
    pub ordinal: i32,
    /// Unique in the build, whatever the case.
    pub name: Number,
    /// In working days.
    pub planned_days: u32,
    /// First day of work.
    pub begun_on: Option<Date>,
    /// Last day of work.
    pub done_on: Option<Date>,
}

/// Where a stage stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum StageState {
    Waiting,
    Begun,
    Done,
}

impl Stage {
    /// Where it stands.
    #[must_use]
    pub const fn state(&self) -> StageState {
        match (self.begun_on, self.done_on) {
            (_, Some(_)) => StageState::Done,
            (Some(_), None) => StageState::Begun,
            (None, None) => StageState::Waiting,
        }
    }
}

/// One requirement of a build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Identity.
    pub id: LineId,
    /// Whose.
    pub build: BuildId,
    /// For which step.
    pub stage: StageId,
    /// From 1; never used twice in a build.
    pub number: i32,
    /// What.
    pub part: PartId,
    /// How much in all.
    pub required: Quantity,
    /// Net of returns.
    pub issued: Quantity,
    /// The kit line it comes from, or 0.
    pub kit_line: i32,
    /// A kit whose components stand as lines of their own.
    pub exploded: bool,
}
