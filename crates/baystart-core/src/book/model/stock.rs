//! Stock, its bookings and its reservations.

use crate::ids::{
    BinId, BuildId, LineId, MovementId, OrderLineId, PartId, ReservationId, SupplierId,
};
use crate::quantity::Quantity;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A lot's code in normal form; empty for parts that are not lot tracked.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Lot(pub String);

impl fmt::Display for Lot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// What stock is kept by: part and lot.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct StockKey {
    /// The part.
    pub part: PartId,
    /// The lot, or the empty one.
    pub lot: Lot,
}

/// A part and lot over all bins; the row that carries RS-1.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stock {
    /// On hand and not quarantined.
    pub usable: Quantity,
    /// Set aside for build lines, at most `usable`.
    pub reserved: Quantity,
    /// On hand, but may not be used.
    pub quarantined: Quantity,
    /// Best before.
    pub expires_on: Option<Date>,
    /// Day of the first receipt.
    pub first_received_on: Option<Date>,
}

impl Stock {
    /// Usable less reserved.
    #[must_use]
    pub fn available(&self) -> Quantity {
        self.usable - self.reserved
    }
}

/// A part and lot in one bin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct BinBalance {
    /// Not quarantined.
    pub usable: Quantity,
    /// Quarantined.
    pub quarantined: Quantity,
}

/// A side of a booking.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Account {
    /// Outside: goods come from it.
    Supplier(SupplierId),
    /// Outside, supplier not known.
    UnknownSupplier,
    /// Usable stock in a bin.
    Bin(BinId),
    /// Quarantined stock in a bin.
    Quarantine(BinId),
    /// In a vehicle.
    Build(BuildId),
    /// At a finisher, still ours.
    Finisher(SupplierId),
    /// Between components and what is made of them.
    Making,
    /// Outside: the customer brings it, or gets it back.
    Customer(BuildId),
    /// Written off.
    Scrap,
    /// What the ledger did not know: corrections, counts, found parts.
    Variance,
}

/// Why stock moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum MovementKind {
    Opening,
    Receipt,
    Adjustment,
    Found,
    Issue,
    ReturnToStock,
    Transfer,
    Scrap,
    Quarantine,
    QuarantineRelease,
    SentOut,
    CameBack,
    Made,
    CustomerReceipt,
    ReturnToSupplier,
    Picked,
}

/// One side of a movement.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// Part and lot.
    pub key: StockKey,
    /// Which account.
    pub account: Account,
    /// Positive into the account.
    pub quantity: Quantity,
}

/// One immutable booking.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Movement {
    /// Identity.
    pub id: MovementId,
    /// Why.
    pub kind: MovementKind,
    /// The day it happened.
    pub occurred_on: Date,
    /// The instant it was entered.
    pub recorded_at: Timestamp,
    /// Name of the token that booked it.
    pub recorded_by: String,
    /// For people.
    pub reason: String,
    /// The build line, for issue, return and found.
    pub line: Option<LineId>,
    /// The order line, for a receipt.
    pub order_line: Option<OrderLineId>,
    /// Sum to zero per part and lot.
    pub entries: Vec<Entry>,
}

/// Usable stock set aside for one line. RS-2: made = held + issued + released
/// + moved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reservation {
    /// Identity.
    pub id: ReservationId,
    /// For which line.
    pub line: LineId,
    /// Of which stock.
    pub key: StockKey,
    /// In all.
    pub made: Quantity,
    /// Still set aside.
    pub held: Quantity,
    /// Left to the build.
    pub issued: Quantity,
    /// Given back.
    pub released: Quantity,
    /// Passed to another line.
    pub moved: Quantity,
}
