//! What was done to what the shop knows: its catalogue, its calendar, its tokens.

use crate::book::model::Closure;
use crate::ids::{BinId, OfferId, PartId, SupplierId, TokenId};

/// Whether a row is new.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Put {
    Added,
    Changed,
}

/// What was done to what the shop knows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ShopEffect {
    /// Its settings changed.
    SettingsChanged,
    /// A part was put into the catalogue.
    Part(PartId, Put),
    /// A supplier was.
    Supplier(SupplierId, Put),
    /// A supplier's terms for a part were.
    Offer(OfferId, Put),
    /// A bin is new.
    BinAdded(BinId),
    /// Closed days are new.
    Closed(Closure),
    /// Closed days are closed no longer.
    OpenAgain(Closure),
    /// A token was issued.
    TokenIssued(TokenId),
    /// A token was revoked.
    TokenRevoked(TokenId),
    /// Of what is suggested, all is drafted already.
    NothingToDraft,
}
