//! Closures, parts and offers as they are asked for.

use crate::book::model::StockPolicy;
use crate::money::Money;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::units::Unit;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Groups of settings that stay as they were.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptSettings {
    /// How lead times are learned.
    pub learning: bool,
    /// How the shop decides.
    pub ways: bool,
}

/// A closure as it is asked for; see `Closure`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewClosure {
    pub supplier: Option<Ref>,
    pub first_day: Date,
    pub last_day: Date,
    pub name: String,
}

/// A part's fields; see `Part`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewPart {
    pub number: Number,
    pub description: String,
    pub unit: Unit,
    pub consumable: bool,
    pub safety_related: bool,
    pub lot_tracked: bool,
    pub components: Vec<(Ref, Quantity)>,
    pub made: NewMade,
    pub family: String,
    pub finish: String,
    pub made_to_order: bool,
    pub superseded_by: Option<Ref>,
    pub companions: Vec<Ref>,
    #[serde(default)]
    pub stocked: Option<StockPolicy>,
    pub gtin: String,
    pub handling_note: String,
}

/// How a part's components become it; see `Made`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum NewMade {
    #[default]
    Listed,
    InShop {
        working_days: u32,
    },
    AtFinisher {
        supplier: Ref,
        quoted_days: Option<u32>,
    },
}

/// An offer's fields; see `Offer`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct NewOffer {
    pub supplier: Ref,
    pub part: Ref,
    pub item_number: String,
    pub price: Option<Money>,
    pub pack_size: Option<Quantity>,
    pub minimum_quantity: Option<Quantity>,
    pub quoted_days: Option<u32>,
    pub preferred: bool,
}
