//! What is bound to a build, picked and issued.

use crate::quantity::Quantity;
use crate::refs::Ref;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// What was found in a bin when a line was picked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct PickedLine {
    pub line: i32,
    pub bin: Ref,
    pub lot: String,
    pub picked: Quantity,
    /// Not where the ledger says: written off as variance in the same step.
    pub missing: Quantity,
}

/// A quantity of one line; see `LineQuantity` of the API.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct LineQuantity {
    pub line: i32,
    pub quantity: Option<Quantity>,
    pub lot: Option<String>,
    pub bin: Option<Ref>,
}

/// What is bound to a build, and what leaves to it and comes back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum BindCommand {
    /// No lines: every line of the build that lacks something.
    Reserve {
        build: Ref,
        lines: Vec<LineQuantity>,
    },
    Release {
        build: Ref,
        lines: Vec<LineQuantity>,
    },
    Peg {
        build: Ref,
        line: i32,
        order: Ref,
        order_line: i32,
        quantity: Option<Quantity>,
    },
    Unpeg {
        build: Ref,
        line: i32,
        order: Ref,
        order_line: i32,
    },
    /// What is bound to one build's line goes to another build's line of the same part.
    Lend {
        build: Ref,
        line: i32,
        to_build: Ref,
        to_line: i32,
        /// None: all that the other line would get sooner.
        quantity: Option<Quantity>,
        /// May be empty where `shown` is None.
        reason: String,
        /// The shop's revision at which both builds' dates were shown; None: nobody looked, as in
        /// the copy in which a preview is reckoned. The API always asks for it.
        shown: Option<i64>,
    },
    /// No lines: everything reserved, for the stage where one is named.
    Issue {
        build: Ref,
        lines: Vec<LineQuantity>,
        stage: Option<String>,
        occurred_on: Option<Date>,
    },
    Return {
        build: Ref,
        lines: Vec<LineQuantity>,
        occurred_on: Option<Date>,
    },
    /// Reserved stock goes to the build's staging bin.
    Pick {
        build: Ref,
        lines: Vec<PickedLine>,
        occurred_on: Option<Date>,
    },
}
