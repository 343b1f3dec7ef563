//! A shop's past order lines, its own and the imported ones, as lead times are
//! learned from them.
//!
//! The whole history is read once; after that only what changed since, which a
//! holder of the history takes over with [`ShopHistory::apply`].

mod accepted;
mod apply;
mod changes;
mod imported;
mod names;
mod own;
mod read;
mod recorded;
mod stages;
mod taken_over;
mod waits;

pub use accepted::AcceptedBuilds;
pub use apply::LineChange;
pub use changes::HistoryChanges;
pub use stages::PastStages;
pub use waits::OtherWaits;

use baystart_core::book::model::Settings;
use baystart_core::calendar::WorkCalendar;
use baystart_core::ids::{OrderLineId, PartId, SupplierId};
use baystart_core::leadtime::history::History;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// Every order line that a shop ever placed, as of one revision: the imported
/// ones first, then its own by id.
#[derive(Clone, Debug)]
pub struct ShopHistory {
    /// The lines and the suppliers' closures, by keys.
    pub history: History,
    /// Key of each supplier of the shop.
    pub suppliers: BTreeMap<SupplierId, u32>,
    /// Key of each supplier's offer for a part of the catalogue.
    pub offers: BTreeMap<(SupplierId, PartId), u32>,
    /// Names of the lines, parallel to them; empty where nobody asked.
    pub labels: Vec<LineLabel>,
    /// The shop's settings at that revision.
    pub settings: Settings,
    /// The shop's last revision.
    pub revision: i64,
    /// The last revision that changed what lead times are learned from.
    pub evidence_revision: i64,
    /// Keys of the offers by supplier key and part number, in its normal form.
    numbers: HashMap<(u32, String), u32>,
    /// Normal form of each part's number.
    parts: HashMap<PartId, String>,
    /// What no order brings, and work off site.
    pub waits: OtherWaits,
    /// Stages that have begun, of all builds that were not cancelled, and which builds are in the bay.
    pub stages: PastStages,
    /// The days on which the shop works.
    pub calendar: WorkCalendar,
    /// Which order lines the last lines of the history are, in their order.
    own: Vec<OrderLineId>,
}

/// What people call a line of the history.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineLabel {
    /// From whom.
    pub supplier: SupplierId,
    /// The supplier's code.
    pub supplier_code: Arc<str>,
    /// The order's number; of imported lines the normal form.
    pub order: String,
    /// The line's number; 0 where an imported file named none.
    pub line: i32,
    /// The part's number; of imported lines the normal form.
    pub part: String,
    /// From an imported history, not one of the shop's own orders.
    pub imported: bool,
}

/// How a shop's history stands against one that the reader has.
#[derive(Debug)]
pub enum HistoryRead {
    /// Nothing that counts has changed.
    Same,
    /// What changed since.
    Changed(Box<HistoryChanges>),
    /// Nothing to compare with, or too much has changed.
    Whole(Box<ShopHistory>),
    /// The reader's is newer than this snapshot: take another.
    Behind,
}

impl ShopHistory {
    /// Whether there is nothing to learn from.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.history.lines.is_empty()
            && self.waits.history.lines.is_empty()
            && self.stages.stages.is_empty()
    }

    /// Key of a supplier's offer for a part number in its normal form, given now
    /// if there was none.
    fn offer_key(&mut self, supplier: u32, part: &str) -> u32 {
        let next = u32::try_from(self.numbers.len()).unwrap_or(u32::MAX);
        *self.numbers.entry((supplier, part.to_owned())).or_insert(next)
    }

    /// Links a part of the catalogue to the offers that go by its number.
    fn link(&mut self, part: PartId, normal: &str) {
        for (id, supplier) in &self.suppliers {
            if let Some(offer) = self.numbers.get(&(*supplier, normal.to_owned())) {
                self.offers.insert((*id, part), *offer);
            }
        }
    }
}
