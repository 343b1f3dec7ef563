//! A build's life, lines, stages and awaited things.

use crate::book::model::AwaitedKind;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::units::Unit;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A stage as it is asked for; `planned_days` in working days, `off_site` the firm
/// at which the vehicle is meanwhile.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewStage {
    pub name: Number,
    pub planned_days: u32,
    pub off_site: Option<Ref>,
}

/// A thing from outside that no order brings, as it is asked for; see `Awaited`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewAwaited {
    pub kind: AwaitedKind,
    pub name: String,
    pub identification: String,
    pub source: String,
    /// None: it gates handover only.
    pub stage: Option<String>,
    /// Number of the build line that it is, for a customer's part.
    pub line: Option<i32>,
    pub asked_on: Option<Date>,
    pub quoted_days: Option<u32>,
    pub expected_on: Option<Date>,
}

/// A build line as it is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewLine {
    pub stage: String,
    pub part: Ref,
    pub quantity: Quantity,
    pub unit: Option<Unit>,
    /// In the vehicle before the shop began with Baystart: booked from variance
    /// as the line is made, so that the line never asks for it. Only imports
    /// set it; zero otherwise.
    pub fitted_before: Quantity,
    pub customer_supplied: bool,
}

/// What people may change of a build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BuildFields {
    pub vehicle: String,
    pub customer: String,
    pub priority: i32,
    pub planned_start: Option<Date>,
    pub required_by: Option<Date>,
    /// The shelf on which its picked parts wait.
    pub staging_bin: Option<Ref>,
}

/// A build's life and lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum BuildCommand {
    /// `for_stock`: it makes stock, not a vehicle.
    Create {
        number: Number,
        fields: BuildFields,
        stages: Vec<NewStage>,
        lines: Vec<NewLine>,
        for_stock: bool,
    },
    Update {
        build: Ref,
        fields: BuildFields,
        etag: String,
    },
    AddLines {
        build: Ref,
        lines: Vec<NewLine>,
    },
    ChangeLine {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        stage: Option<String>,
    },
    Open {
        build: Ref,
        occurred_on: Option<Date>,
    },
    Hold {
        build: Ref,
        reason: String,
        occurred_on: Option<Date>,
    },
    Resume {
        build: Ref,
        occurred_on: Option<Date>,
    },
    PutInBay {
        build: Ref,
        occurred_on: Option<Date>,
    },
    BeginStage {
        build: Ref,
        stage: String,
        occurred_on: Option<Date>,
    },
    FinishStage {
        build: Ref,
        stage: String,
        occurred_on: Option<Date>,
    },
    MarkReady {
        build: Ref,
        occurred_on: Option<Date>,
    },
    Deliver {
        build: Ref,
        occurred_on: Option<Date>,
    },
    Cancel {
        build: Ref,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Accepts another part for one line.
    Substitute {
        build: Ref,
        line: i32,
        part: Ref,
        approved_by: String,
        reason: String,
        occurred_on: Option<Date>,
    },
    AddAwaited {
        build: Ref,
        items: Vec<NewAwaited>,
    },
    /// News of a thing that is awaited: a date, its identification, or both.
    ExpectAwaited {
        build: Ref,
        item: i32,
        expected_on: Option<Date>,
        identification: Option<String>,
        occurred_on: Option<Date>,
    },
    /// It came; a customer's part goes into `bin` and is reserved for its line.
    ReceiveAwaited {
        build: Ref,
        item: i32,
        bin: Option<Ref>,
        lot: String,
        identification: Option<String>,
        occurred_on: Option<Date>,
    },
    /// It is no longer needed.
    DropAwaited {
        build: Ref,
        item: i32,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Records the delivery date that sales gave to the customer.
    PromiseDelivery {
        build: Ref,
        delivery_on: Date,
        note: String,
        occurred_on: Option<Date>,
    },
}
