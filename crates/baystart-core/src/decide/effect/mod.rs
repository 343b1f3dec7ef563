//! What a command did, as values: ids, quantities, dates and enums, and texts that people typed.
//! The room [`super::words`] says them.

mod builds;
mod caution;
mod lines;
mod orders;
mod shop;
mod stock;

pub use builds::{AwaitedEffect, BuildEffect};
pub use caution::Caution;
pub use lines::{LeftFor, LineEffect, OfLine, Why};
pub use orders::{OrderEffect, OrderLineEffect};
pub use shop::{Put, ShopEffect};
pub use stock::StockEffect;

use crate::book::model::StockKey;
use crate::ids::{BinId, BuildId, OrderId, OrderLineId};
use crate::quantity::Quantity;
use serde::{Deserialize, Serialize};

/// What kind of thing was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum EffectKind {
    Booked,
    Reserved,
    Released,
    Pegged,
    Unpegged,
    Short,
    Displaced,
    OverIssued,
    State,
    Caution,
}

/// One thing that a command did.
///
/// What the command itself may change later, such as a line's part and stage, is copied; what never
/// goes from a book is an id.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// To a line of a build.
    Line {
        /// The line.
        of: OfLine,
        /// In the base unit of the line's part.
        quantity: Quantity,
        /// What.
        what: LineEffect,
    },
    /// To stock, for no line.
    Stock {
        /// Part and lot.
        key: StockKey,
        /// Where it lies now; for what left, where it lay.
        bin: BinId,
        /// In the part's base unit; negative: taken off.
        quantity: Quantity,
        /// What.
        what: StockEffect,
    },
    /// To a build.
    Build {
        /// Which.
        build: BuildId,
        /// What.
        what: BuildEffect,
    },
    /// To an order.
    Order {
        /// Which.
        order: OrderId,
        /// What.
        what: OrderEffect,
    },
    /// To one line of an order.
    OrderLine {
        /// Which.
        line: OrderLineId,
        /// What.
        what: OrderLineEffect,
    },
    /// To what the shop knows.
    Shop(ShopEffect),
    /// Nothing was done: somebody should know it.
    Caution(Caution),
}

impl Effect {
    /// What kind of thing that is.
    #[must_use]
    pub const fn kind(&self) -> EffectKind {
        match self {
            Self::Line { what, .. } => what.kind(),
            Self::Stock { .. } => EffectKind::Booked,
            Self::Build { .. } | Self::Order { .. } | Self::OrderLine { .. } | Self::Shop(_) => {
                EffectKind::State
            }
            Self::Caution(_) => EffectKind::Caution,
        }
    }
}
