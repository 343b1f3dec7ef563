//! What was done to a build.

use crate::book::model::BuildState;
use crate::ids::{AwaitedId, PartId, StageId};
use jiff::civil::Date;

/// What was done to a build.
#[derive(Clone, Debug, PartialEq)]
pub enum BuildEffect {
    /// It is new.
    Quoted {
        /// How many stages it has.
        stages: usize,
        /// How many lines.
        lines: usize,
    },
    /// What people say of it changed.
    Changed,
    /// It went into a state.
    Stands(BuildState),
    /// It was put on hold.
    OnHold {
        /// Why, as somebody wrote it.
        reason: String,
    },
    /// It was taken off hold.
    OffHold {
        /// What it is again.
        state: BuildState,
    },
    /// A stage was begun.
    StageBegun(StageId),
    /// A stage was done.
    StageDone(StageId),
    /// So many lines are new, those of kits and made parts counted.
    LinesAdded(usize),
    /// A line takes another part.
    Substituted {
        /// The line's number.
        line: i32,
        /// The part that it asked for.
        old: PartId,
        /// The part that it takes.
        new: PartId,
        /// Who accepted it.
        approved_by: String,
        /// Why, as somebody wrote it.
        reason: String,
    },
    /// News of a thing that no order brings.
    Awaited {
        /// Which.
        item: AwaitedId,
        /// What.
        what: AwaitedEffect,
    },
    /// A delivery date was given to the customer.
    Promised {
        /// The date.
        on: Date,
        /// The date before.
        before: Option<Date>,
        /// The chance in [0, 1] of keeping it.
        chance: Option<f64>,
    },
}

/// News of a thing that no order brings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AwaitedEffect {
    /// The build waits for it.
    Added {
        /// The date in force.
        expected_on: Option<Date>,
    },
    /// Its identification number is known.
    Identified {
        /// The number.
        identification: String,
    },
    /// A date was given.
    Expected {
        /// The date.
        on: Date,
        /// The date before.
        before: Option<Date>,
    },
    /// It came.
    Here {
        /// On which day.
        since: Date,
    },
    /// It is no longer needed.
    Dropped {
        /// Why, as somebody wrote it.
        reason: String,
    },
}
