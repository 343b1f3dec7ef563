//! Builds, stages and lines.

use super::catalogue::Made;
use super::purchasing::Promise;
use super::stock::StockKey;
use crate::ids::{AwaitedId, BinId, BuildId, LineId, PartId, StageId, SupplierId};
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

    /// Those of the builds that stand on the board.
    pub const ON_BOARD: [Self; 3] = [Self::Open, Self::InBay, Self::OnHold];

    /// Whether the build stands on the board.
    #[must_use]
    pub fn on_board(self) -> bool {
        Self::ON_BOARD.contains(&self)
    }

    /// Whether nothing is left to do for it.
    #[must_use]
    pub const fn is_over(self) -> bool {
        matches!(self, Self::Delivered | Self::Cancelled)
    }

    /// Whether its lines take supply that comes free.
    #[must_use]
    pub const fn binds(self) -> bool {
        matches!(self, Self::Open | Self::InBay)
    }

    /// Whether its lines may hold stock and pegs.
    #[must_use]
    pub const fn keeps_bindings(self) -> bool {
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
    /// It makes stock, not a vehicle.
    #[serde(default)]
    pub for_stock: bool,
    /// The shelf on which its picked parts wait.
    #[serde(default)]
    pub staging_bin: Option<BinId>,
    /// Delivery dates that sales gave to the customer, in that order; the last one holds.
    #[serde(default)]
    pub customer_promises: Vec<CustomerPromise>,
    /// The day on which it was handed over.
    #[serde(default)]
    pub delivered_on: Option<Date>,
    /// Orders builds by the time at which they were opened; 0 until then.
    pub opened_at: Option<Timestamp>,
    /// Counts the changes of this row.
    pub version: i64,
}

impl Build {
    /// Whether it stands in a bay, on hold or not.
    #[must_use]
    pub fn is_in_bay(&self) -> bool {
        let held_there =
            self.state == BuildState::OnHold && self.held_from == Some(BuildState::InBay);
        self.state == BuildState::InBay || held_there
    }
}

/// A delivery date that was given to a customer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CustomerPromise {
    /// The day by which the vehicle is handed over.
    pub delivery_on: Date,
    /// The day on which it was given.
    pub made_on: Date,
    /// The chance of keeping it, in [0, 1], as it was reckoned then; None: nobody could.
    pub stated_chance: Option<f64>,
    /// Name of the token that recorded it.
    pub made_by: String,
    /// To whom, how, on what terms.
    pub note: String,
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
    /// The firm at which the vehicle is meanwhile; its bay is free.
    #[serde(default)]
    pub off_site: Option<SupplierId>,
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
    /// The line whose making uses this one up, or 0.
    #[serde(default)]
    pub made_for: i32,
    /// What of the line is made for it, in the shop or at a finisher.
    #[serde(default)]
    pub making: Option<Making>,
    /// The customer brings it: it is neither ordered nor taken from the shop's stock.
    #[serde(default)]
    pub customer_supplied: bool,
    /// Why it is not the part that was first asked for.
    #[serde(default)]
    pub substituted: Option<Substitution>,
}

/// What of a line is made for it; the list and the way are those of the day it was added.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Making {
    /// In the shop or at a finisher.
    pub how: Made,
    /// How much is made.
    pub quantity: Quantity,
    /// How much was made, or came back.
    pub done: Quantity,
    /// How much is at the finisher.
    pub out: Quantity,
    /// The components that are there, by part and lot.
    pub out_stock: Vec<(StockKey, Quantity)>,
    /// Day of the last sending out.
    pub sent_on: Option<Date>,
    /// Day on which the last of it was back.
    pub back_on: Option<Date>,
    /// When the finisher will be done, in the order in which it became known.
    pub promises: Vec<Promise>,
}

impl Making {
    /// What is neither made nor back yet.
    #[must_use]
    pub fn open(&self) -> Quantity {
        (self.quantity - self.done).or_zero()
    }
}

/// An accepted alternative on one line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Substitution {
    /// The part that was first asked for.
    pub instead_of: PartId,
    /// Who accepted it.
    pub approved_by: String,
    /// Why.
    pub reason: String,
    /// The day.
    pub on: Date,
}

/// What kind of thing a build waits for that no order brings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum AwaitedKind {
    /// The vehicle itself.
    Vehicle,
    /// A part that the customer brings.
    CustomerPart,
    /// An approval, permit or certificate.
    Paper,
}

impl AwaitedKind {
    /// In the trade's words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Vehicle => "vehicle",
            Self::CustomerPart => "customer's part",
            Self::Paper => "paper",
        }
    }
}

/// A thing from outside that no order brings: the vehicle, a customer's part, a paper.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Awaited {
    /// Identity.
    pub id: AwaitedId,
    /// Whose.
    pub build: BuildId,
    /// From 1; never used twice in a build.
    pub number: i32,
    /// What kind.
    pub kind: AwaitedKind,
    /// For people: "front winch", "mass approval".
    pub name: String,
    /// Its identification number: of the vehicle, a serial number, a file number; or empty.
    pub identification: String,
    /// From whom, as the shop says it: what slips alike has one name. Empty: the kind alone.
    pub source: String,
    /// The stage that cannot begin without it; None: it gates handover only.
    pub stage: Option<StageId>,
    /// The build line that it is, for a customer's part.
    pub line: Option<LineId>,
    /// The day it was asked for, from which its lead time counts.
    pub asked_on: Date,
    /// Calendar days that it usually takes, if anybody said so.
    pub quoted_days: Option<u32>,
    /// Dates that were given, in the order in which they became known; the last one holds.
    pub promises: Vec<Promise>,
    /// The day it came.
    pub received_on: Option<Date>,
    /// The day on which it was no longer needed.
    pub dropped_on: Option<Date>,
}

impl Awaited {
    /// Whether it has neither come nor been dropped.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.received_on.is_none() && self.dropped_on.is_none()
    }
}
