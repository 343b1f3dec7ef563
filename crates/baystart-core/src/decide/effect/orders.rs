//! What was done to an order and its lines.

use crate::command::{CancelledBy, Settlement};
use crate::quantity::Quantity;
use jiff::civil::Date;

/// What was done to an order as a whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OrderEffect {
    /// It is new.
    Drafted {
        /// How many lines were asked for; the pieces of packages are not counted.
        lines: usize,
    },
    /// Its drafts were placed.
    Placed {
        /// On which day.
        on: Date,
    },
    /// The supplier knows it still.
    KnownOpen {
        /// The lines that were asked about, by number; empty: all.
        lines: Vec<i32>,
        /// On which day.
        on: Date,
        /// What was said; may be empty.
        note: String,
    },
}

/// What was done to one line of an order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OrderLineEffect {
    /// The supplier answered.
    Acknowledged {
        /// The date that it promises.
        promised_on: Option<Date>,
        /// The date before.
        before: Option<Date>,
    },
    /// A promise was recorded by mistake.
    TakenBack {
        /// The date that it named.
        promised_on: Date,
        /// The date that is promised without it.
        now: Option<Date>,
        /// Why, as somebody wrote it.
        reason: String,
    },
    /// The goods left the supplier.
    Despatched {
        /// On which day.
        on: Date,
    },
    /// Some of it will not be delivered.
    Cancelled {
        /// How much, in the part's base unit.
        quantity: Quantity,
        /// Who cancelled it.
        by: CancelledBy,
        /// Why, as somebody wrote it.
        reason: String,
    },
    /// Some of it was not as ordered.
    Rejected {
        /// How much, in the part's base unit.
        quantity: Quantity,
        /// What becomes of it.
        settlement: Settlement,
        /// Why, as somebody wrote it.
        reason: String,
    },
    /// Every piece of the package is here.
    PackageComplete,
}
