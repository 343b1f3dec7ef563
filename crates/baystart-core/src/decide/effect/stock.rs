//! What was done to stock, for no line of a build.

use crate::ids::{BinId, OrderLineId};

/// What was done to stock; part, lot, bin and quantity stand beside it. Reasons are as people wrote
/// them.
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum StockEffect {
    /// Put right; the quantity's sign says which way.
    Corrected { reason: String },
    /// Thrown away.
    Scrapped { reason: String },
    /// Back to its supplier.
    SentBack { reason: String },
    /// Set aside as not to be used.
    Quarantined { reason: String },
    /// Usable again.
    OutOfQuarantine { reason: String },
    /// From another bin.
    Moved { from: BinId },
    /// Not there when it was to be picked.
    NotFound,
    /// Goods without an order.
    Received,
    /// Brought by the customer.
    FromCustomer,
    /// Goods on an order line.
    Delivered { on: OrderLineId },
    /// Not as ordered, and sent back or else quarantined.
    Rejected { sent_back: bool },
    /// Made in the shop.
    Made,
    /// Back from its finisher.
    Finished,
}
