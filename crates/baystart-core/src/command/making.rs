//! What is made for a line.

use crate::quantity::Quantity;
use crate::refs::Ref;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What is made for a line, in the shop or at a finisher. No quantity: all that
/// is open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum MakeCommand {
    /// The components are used up, the assembly goes into `bin` and is reserved
    /// for the line.
    RecordMade {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        bin: Ref,
        lot: String,
        occurred_on: Option<Date>,
    },
    /// The components leave to the finisher, still ours.
    SendOut {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        promised_on: Option<Date>,
        occurred_on: Option<Date>,
    },
    /// The finisher gives a date.
    PromiseBack { build: Ref, line: i32, promised_on: Option<Date>, occurred_on: Option<Date> },
    /// It came back finished, into `bin`, and is reserved for the line.
    CameBack {
        build: Ref,
        line: i32,
        quantity: Option<Quantity>,
        bin: Ref,
        lot: String,
        occurred_on: Option<Date>,
    },
}
