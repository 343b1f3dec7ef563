//! Orders and pegs.

use crate::ids::{LineId, OrderId, OrderLineId, PartId, SupplierId};
use crate::money::Money;
use crate::number::Number;
use crate::quantity::Quantity;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A purchase order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Order {
    /// Identity.
    pub id: OrderId,
    /// The shop's own number.
    pub number: Number,
    /// To whom.
    pub supplier: SupplierId,
    /// As the supplier answered.
    pub supplier_reference: String,
    /// Counts the changes of this row.
    pub version: i64,
}

/// A promise date with the day on which it became known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Promise {
    /// The date the supplier committed to.
    pub promised_on: Date,
    /// When we knew.
    pub known_on: Date,
}

/// Where an order line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum OrderLineState {
    Draft,
    Placed,
    Acknowledged,
    Despatched,
    Received,
    Cancelled,
}

impl OrderLineState {
    /// In the trade's words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Draft => "draft",
            Self::Placed => "placed",
            Self::Acknowledged => "acknowledged",
            Self::Despatched => "despatched",
            Self::Received => "received",
            Self::Cancelled => "cancelled",
        }
    }
}

/// A promise that was recorded by mistake: it counts for nothing, and stays on record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TakenBack {
    /// The promise as it was recorded.
    pub promise: Promise,
    /// Its place among all promises of the line, from 0, those that were taken back included.
    pub place: usize,
    /// The day on which it was taken back.
    pub on: Date,
    /// Why, as somebody wrote it; empty where a file brought it.
    pub reason: String,
}

/// One line of a purchase order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OrderLine {
    /// Identity.
    pub id: OrderLineId,
    /// Whose.
    pub order: OrderId,
    /// From 1.
    pub number: i32,
    /// What.
    pub part: PartId,
    /// How much was ordered.
    pub ordered: Quantity,
    /// Accepted into stock.
    pub received: Quantity,
    /// Accepted beyond what was ordered, by name.
    pub over_accepted: Quantity,
    /// We no longer want it.
    pub cancelled_by_us: Quantity,
    /// The supplier failed.
    pub cancelled_by_supplier: Quantity,
    /// Per base quantity.
    pub price: Option<Money>,
    /// The quote as it stood when the order was placed.
    pub quoted_days: Option<u32>,
    /// None: a draft.
    pub placed_on: Option<Date>,
    /// The supplier answered.
    pub acknowledged_on: Option<Date>,
    /// Goods left.
    pub despatched_on: Option<Date>,
    /// Last day on which it was truly known to be open.
    pub last_contact_on: Option<Date>,
    /// Day on which nothing more was on order.
    pub closed_on: Option<Date>,
    /// The build line that it was ordered for.
    pub for_line: Option<LineId>,
    /// In the order in which they became known; the last one is in force.
    pub promises: Vec<Promise>,
    /// The package line whose piece this is, or 0; a piece has no price of its own.
    #[serde(default)]
    pub package_line: i32,
    /// A package: its pieces are lines of their own, and it is complete when they are.
    #[serde(default)]
    pub package: bool,
    /// Refused or found faulty and taken off `received`, in all.
    #[serde(default)]
    pub rejected: Quantity,
    /// Promises that were recorded by mistake, by place; none of `promises`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_back: Vec<TakenBack>,
}

impl OrderLine {
    /// Neither received nor cancelled, whether placed or not.
    #[must_use]
    pub fn outstanding(&self) -> Quantity {
        let gone = self.received + self.cancelled_by_us + self.cancelled_by_supplier;
        (self.ordered - gone).or_zero()
    }

    /// Ordered, neither received nor cancelled; nothing while it is a draft.
    #[must_use]
    pub fn on_order(&self) -> Quantity {
        match self.placed_on {
            Some(_) => self.outstanding(),
            None => Quantity::ZERO,
        }
    }

    /// Where it stands.
    #[must_use]
    pub fn state(&self) -> OrderLineState {
        if self.outstanding().is_zero() {
            return match self.received.is_positive() {
                true => OrderLineState::Received,
                false => OrderLineState::Cancelled,
            };
        }
        if self.placed_on.is_none() {
            return OrderLineState::Draft;
        }
        if self.despatched_on.is_some() {
            return OrderLineState::Despatched;
        }
        match self.acknowledged_on {
            Some(_) => OrderLineState::Acknowledged,
            None => OrderLineState::Placed,
        }
    }
}

/// A requirement bound to a supply that has not arrived.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Peg {
    /// For which line.
    pub line: LineId,
    /// Which supply.
    pub order_line: OrderLineId,
    /// How much; zero removes the peg.
    pub quantity: Quantity,
    /// Ordered for the line or pegged by a person: never rebound by itself.
    pub kept: bool,
}
