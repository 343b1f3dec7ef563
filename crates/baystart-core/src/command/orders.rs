//! Orders from draft to receipt, and what comes back.

use crate::money::Money;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::units::Unit;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// An order line as it is asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewOrderLine {
    pub part: Ref,
    pub quantity: Quantity,
    pub unit: Option<Unit>,
    pub price: Option<Money>,
    pub for_line: Option<(Ref, i32)>,
}

/// What came of one order line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct ReceiptLine {
    pub line: i32,
    pub quantity: Option<Quantity>,
    pub bin: Ref,
    pub lot: String,
    pub expires_on: Option<Date>,
    pub over_accepted_by: Option<String>,
}

/// Who cancelled: two different facts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum CancelledBy {
    Us,
    Supplier,
}

/// What becomes of a rejected quantity of an order line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Settlement {
    /// The supplier delivers again: it is on order again.
    Redelivery,
    /// The supplier will not: it counts as cancelled by the supplier.
    Credit,
}

/// Where a rejected quantity is, or goes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Rejection {
    /// Refused at the door: it never was in stock.
    Refused,
    /// Received before; it goes from the bin back to the supplier.
    SentBack {
        /// Where it lies.
        bin: Ref,
        /// Its lot.
        lot: String,
        /// It lies there in quarantine.
        from_quarantine: bool,
    },
    /// Received before; it stays in the bin, in quarantine.
    Quarantined {
        /// Where it lies.
        bin: Ref,
        /// Its lot.
        lot: String,
    },
}

/// Orders from draft to receipt. Empty `lines` of despatch, contact and cancel
/// mean every open line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum OrderCommand {
    Create {
        number: Number,
        supplier: Ref,
        lines: Vec<NewOrderLine>,
        placed_on: Option<Date>,
    },
    /// Drafts of what is short and neither on order nor drafted, an order a supplier.
    DraftSuggested {
        /// Only this supplier's; None: every supplier's.
        supplier: Option<Ref>,
    },
    Place {
        order: Ref,
        occurred_on: Option<Date>,
        /// Drafts that nobody needs any more are bought all the same.
        #[serde(skip_serializing_if = "std::ops::Not::not")]
        unneeded_too: bool,
    },
    Acknowledge {
        order: Ref,
        supplier_reference: String,
        promises: Vec<(i32, Option<Date>)>,
        occurred_on: Option<Date>,
    },
    Despatch {
        order: Ref,
        lines: Vec<i32>,
        occurred_on: Option<Date>,
    },
    Contact {
        order: Ref,
        lines: Vec<i32>,
        note: String,
        occurred_on: Option<Date>,
    },
    /// The last promise of each line was recorded by mistake.
    TakeBack {
        order: Ref,
        lines: Vec<i32>,
        reason: String,
        occurred_on: Option<Date>,
    },
    Receive {
        order: Ref,
        lines: Vec<ReceiptLine>,
        occurred_on: Option<Date>,
    },
    Cancel {
        order: Ref,
        lines: Vec<i32>,
        quantity: Option<Quantity>,
        by: CancelledBy,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Goods of a line that are not as ordered.
    Reject {
        order: Ref,
        line: i32,
        quantity: Quantity,
        how: Rejection,
        settlement: Settlement,
        reason: String,
        occurred_on: Option<Date>,
    },
}
