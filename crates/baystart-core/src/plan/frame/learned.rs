//! What a shop's history taught, as plans use it.

use crate::book::model::{AwaitedKind, Order};
use crate::forecast::CommonCause;
use crate::ids::{PartId, SupplierId};
use crate::leadtime::SupplyKeys;
use crate::leadtime::history::order_key;
use crate::leadtime::learn::LearnedLaws;
use crate::leadtime::stages::StageLengths;
use crate::plan::frame::coming::Coming;
use std::collections::BTreeMap;

/// How long things took that no order brings: their own laws, apart from the suppliers'.
#[derive(Clone, Debug, PartialEq)]
pub struct LearnedWaits {
    /// The laws; each source counts as a supplier with one offer.
    pub laws: LearnedLaws,
    /// Keys of each kind of awaited thing with the name of its source; the empty name is the kind.
    pub awaited: BTreeMap<(AwaitedKind, String), (u32, u32)>,
    /// Keys of each firm's work on vehicles that were away at it.
    pub off_site: BTreeMap<SupplierId, (u32, u32)>,
}

impl LearnedWaits {
    /// Whose evidence speaks for an awaited thing: its own source's, else the kind's.
    pub(in crate::plan) fn awaited_keys(&self, kind: AwaitedKind, source: &str) -> SupplyKeys {
        let of = |source: &str| self.awaited.get(&(kind, source.to_owned())).copied();
        own_keys(of(source).or_else(|| of("")))
    }

    /// Whose evidence speaks for a vehicle that is away at a firm; None where it never was.
    pub(in crate::plan) fn off_site_keys(&self, firm: SupplierId) -> Option<SupplyKeys> {
        let keys = self.off_site.get(&firm).copied();
        keys.map(|keys| own_keys(Some(keys)))
    }
}

/// Laws learned from a shop's history, with the keys by which the history knows
/// its suppliers and offers, and the common cause of their delays.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// The laws.
    pub laws: LearnedLaws,
    /// The correlation within a supplier.
    pub cause: CommonCause,
    /// Key of each supplier in the history.
    pub suppliers: BTreeMap<SupplierId, u32>,
    /// Key of each supplier's offer for a part.
    pub offers: BTreeMap<(SupplierId, PartId), u32>,
    /// What was learned of things that no order brings, and of work off site.
    pub waits: Option<LearnedWaits>,
    /// How long stages take; None: no stage was ever begun.
    pub lengths: Option<StageLengths>,
    /// The builds that were accepted; None: nobody asked, and nobody is taken to come.
    pub coming: Option<Coming>,
    /// Order lines that were learned from, as `History::lines_watched` counts them.
    pub lines: usize,
}

impl Learned {
    /// Whose evidence speaks for a part from a supplier.
    pub(in crate::plan) fn keys(&self, supplier: SupplierId, part: PartId) -> SupplyKeys {
        SupplyKeys {
            supplier: self.suppliers.get(&supplier).copied(),
            offer: self.offers.get(&(supplier, part)).copied(),
            order: None,
        }
    }

    /// Whose evidence speaks for a part that is on order.
    pub(in crate::plan) fn keys_on_order(&self, order: &Order, part: PartId) -> SupplyKeys {
        let order_key = order_key(order.supplier, order.number.normal());
        SupplyKeys { order: Some(order_key), ..self.keys(order.supplier, part) }
    }
}

fn own_keys(keys: Option<(u32, u32)>) -> SupplyKeys {
    SupplyKeys { supplier: keys.map(|keys| keys.0), offer: keys.map(|keys| keys.1), order: None }
}
