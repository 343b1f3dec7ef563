//! Typed identifiers: a build's id cannot be passed as a part's.

use serde::{Deserialize, Serialize};
use std::fmt;
use uuid::Uuid;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    )*};
}

ids! {
    /// One workshop and all its data.
    ShopId,
    /// A stocked or bought item.
    PartId,
    /// Who sells.
    SupplierId,
    /// One supplier's terms for one part.
    OfferId,
    /// Where stock lies.
    BinId,
    /// One vehicle's job.
    BuildId,
    /// A step of a build.
    StageId,
    /// One requirement of a build.
    LineId,
    /// A thing from outside that no order brings.
    AwaitedId,
    /// A purchase order.
    OrderId,
    /// One line of a purchase order.
    OrderLineId,
    /// Stock set aside for one build line.
    ReservationId,
    /// One immutable booking.
    MovementId,
    /// An access token's record.
    TokenId,
}

/// Source of fresh ids. The core has no randomness of its own: the service
/// hands in UUID v7 values, tests hand in a counter.
pub trait FreshIds {
    /// An id that was never given before.
    fn fresh(&mut self) -> Uuid;
}

/// Ids 1, 2, 3 ...: for tests and models, never for a database.
#[derive(Clone, Debug, Default)]
pub struct CountingIds(
    /// The last id given.
    pub u128,
);

impl FreshIds for CountingIds {
    fn fresh(&mut self) -> Uuid {
        self.0 += 1;
        Uuid::from_u128(self.0)
    }
}
