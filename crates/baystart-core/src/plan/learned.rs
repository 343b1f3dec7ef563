//! What a shop's history taught, as plans use it.

use crate::forecast::CommonCause;
use crate::ids::{PartId, SupplierId};
use crate::leadtime::SupplyKeys;
use crate::leadtime::learn::LearnedLaws;
use std::collections::BTreeMap;

/// Laws learned from a shop's history, with the keys by which the history knows
/// its suppliers and offers, and the common cause of their delays.
#[derive(Clone, Debug)]
pub struct Learned {
    /// The laws.
    pub laws: LearnedLaws,
    /// The correlation within a supplier.
    pub cause: CommonCause,
    /// Key of each supplier in the history.
    pub suppliers: BTreeMap<SupplierId, u32>,
    /// Key of each supplier's offer for a part.
    pub offers: BTreeMap<(SupplierId, PartId), u32>,
    /// Order lines that were learned from, as `History::lines_watched` counts them.
    pub lines: usize,
}

impl Learned {
    /// Whose evidence speaks for a part from a supplier.
    pub(super) fn keys(&self, supplier: SupplierId, part: PartId) -> SupplyKeys {
        SupplyKeys {
            supplier: self.suppliers.get(&supplier).copied(),
            offer: self.offers.get(&(supplier, part)).copied(),
        }
    }
}
