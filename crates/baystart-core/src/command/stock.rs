//! Bookings of stock that concern no order.

use crate::quantity::Quantity;
use crate::refs::Ref;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A quantity of one part and lot in one bin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct BinQuantity {
    pub part: Ref,
    pub bin: Ref,
    pub lot: String,
    pub quantity: Quantity,
}

/// Bookings that concern no order and no build, and found parts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum StockCommand {
    /// `at.quantity` is added; negative takes away. `opening` marks the stock
    /// with which a shop begins, `quarantined` books it as quarantined.
    Adjust {
        at: BinQuantity,
        reason: String,
        expires_on: Option<Date>,
        opening: bool,
        quarantined: bool,
        occurred_on: Option<Date>,
    },
    Move {
        at: BinQuantity,
        to: Ref,
        occurred_on: Option<Date>,
    },
    Scrap {
        at: BinQuantity,
        reason: String,
        from_quarantine: bool,
        occurred_on: Option<Date>,
    },
    Quarantine {
        at: BinQuantity,
        reason: String,
        occurred_on: Option<Date>,
    },
    ReleaseQuarantine {
        at: BinQuantity,
        reason: String,
        occurred_on: Option<Date>,
    },
    Found {
        build: Ref,
        line: i32,
        quantity: Quantity,
        lot: String,
        reason: String,
        occurred_on: Option<Date>,
    },
    /// Back to who sold it, without an order line.
    ReturnToSupplier {
        at: BinQuantity,
        supplier: Ref,
        reason: String,
        from_quarantine: bool,
        occurred_on: Option<Date>,
    },
    /// Without an order.
    Receive {
        at: BinQuantity,
        supplier: Option<Ref>,
        reason: String,
        expires_on: Option<Date>,
        occurred_on: Option<Date>,
    },
}
