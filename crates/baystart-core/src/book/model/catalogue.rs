//! Parts, suppliers, offers and bins.

use crate::ids::{BinId, OfferId, PartId, SupplierId};
use crate::money::Money;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::units::Unit;
use serde::{Deserialize, Serialize};

/// How a part's components become it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Made {
    /// Not at all: it is bought, or a kit that only stands for its list.
    #[default]
    Listed,
    /// Assembled in the shop.
    InShop {
        /// Working days that it takes.
        working_days: u32,
    },
    /// Finished outside: painted, coated, trimmed.
    AtFinisher {
        /// By whom.
        supplier: SupplierId,
        /// Calendar days outside the finisher's closures, as quoted.
        quoted_days: Option<u32>,
    },
}

/// How a part is kept in stock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockPolicy {
    /// Thousandths of the lead times in which stock must suffice, 500 to 999.
    pub service_permille: u16,
    /// Working days of use that an order brings, 1 to 365.
    pub cover_days: u16,
    /// Reordered below this at the latest, whatever demand says.
    pub least: Quantity,
}

impl Default for StockPolicy {
    fn default() -> Self {
        Self { service_permille: 950, cover_days: 30, least: Quantity::ZERO }
    }
}

/// A stocked or bought item.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Identity.
    pub id: PartId,
    /// The shop's own number.
    pub number: Number,
    /// For people.
    pub description: String,
    /// Base unit of every quantity of it.
    pub unit: Unit,
    /// Never gates, never must be reserved.
    pub consumable: bool,
    /// Recovery points, brakes, seats and the like.
    pub safety_related: bool,
    /// Stock is held by lot.
    pub lot_tracked: bool,
    /// Not empty: the part is a kit, or made; see `made`. Quantity for one of it.
    pub components: Vec<(PartId, Quantity)>,
    /// How its components become it; a kit is only a list.
    #[serde(default)]
    pub made: Made,
    /// What the same thing in several finishes shares; empty: none.
    #[serde(default)]
    pub family: String,
    /// Its finish or colour; empty: none.
    #[serde(default)]
    pub finish: String,
    /// Made or finished for one build: never lent to another finish.
    #[serde(default)]
    pub made_to_order: bool,
    /// The part that replaced it for good.
    #[serde(default)]
    pub superseded_by: Option<PartId>,
    /// Parts that it calls for, as a wider axle calls for wider guards.
    #[serde(default)]
    pub companions: Vec<PartId>,
    /// Kept in stock, whether a build asks for it or not; None: ordered for builds only.
    #[serde(default)]
    pub stocked: Option<StockPolicy>,
    /// GTIN or empty.
    pub gtin: String,
    /// Shelf-life or dangerous-goods note.
    pub handling_note: String,
    /// Counts the changes of this row.
    pub version: i64,
}

impl Part {
    /// Whether it stands for a list of parts.
    #[must_use]
    pub fn is_kit(&self) -> bool {
        !self.components.is_empty() && self.made == Made::Listed
    }

    /// Whether it is stocked but made of other parts, in the shop or at a finisher.
    #[must_use]
    pub fn is_made(&self) -> bool {
        !self.components.is_empty() && self.made != Made::Listed
    }
}

/// Who sells.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Supplier {
    /// Identity.
    pub id: SupplierId,
    /// Short code.
    pub code: Number,
    /// Name for people.
    pub name: String,
    /// Counts the changes of this row.
    pub version: i64,
}

/// One supplier's terms for one part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Offer {
    /// Identity.
    pub id: OfferId,
    /// Who sells.
    pub supplier: SupplierId,
    /// What.
    pub part: PartId,
    /// The supplier's own item number.
    pub item_number: String,
    /// Per base quantity.
    pub price: Option<Money>,
    /// Sold in multiples of this.
    pub pack_size: Option<Quantity>,
    /// Smallest order.
    pub minimum_quantity: Option<Quantity>,
    /// Calendar days outside the supplier's closures.
    pub quoted_days: Option<u32>,
    /// Ordered from first.
    pub preferred: bool,
    /// Counts the changes of this row.
    pub version: i64,
}

/// Where stock lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bin {
    /// Identity.
    pub id: BinId,
    /// Code on the shelf.
    pub code: Number,
    /// For people.
    pub description: String,
}
