//! The rows that decisions are made on.

use crate::ids::{
    BinId, BuildId, LineId, MovementId, OfferId, OrderId, OrderLineId, PartId, ReservationId,
    StageId, SupplierId, TokenId,
};
use crate::money::{Currency, Money};
use crate::number::Number;
use crate::quantity::Quantity;
use crate::units::Unit;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A workshop's settings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// Name for people.
    pub name: String,
    /// IANA time zone; decides what "today" is.
    pub time_zone: String,
    /// Currency that prices default to.
    pub currency: Currency,
    /// Days on which the shop works, Monday first.
    pub working_days: [bool; 7],
    /// Days on which the shop places orders, Monday first.
    pub ordering_days: [bool; 7],
    /// Working days before the planned start from which a build takes stock
    /// before open orders.
    pub reserve_window_days: u32,
    /// Chance of a stall up to which a build counts as free to start, in [0, 1).
    pub stall_tolerance: f64,
    /// Counts the changes of this row.
    pub version: i64,
}

/// Days on which the shop or a supplier is closed, both ends inclusive.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Closure {
    /// None: the shop itself.
    pub supplier: Option<SupplierId>,
    /// First closed day.
    pub first_day: Date,
    /// Last closed day.
    pub last_day: Date,
    /// Name for people.
    pub name: String,
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
    /// Not empty: the part is a kit. Quantity for one of the kit.
    pub components: Vec<(PartId, Quantity)>,
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
        !self.components.is_empty()
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

/// A lot's code in normal form; empty for parts that are not lot tracked.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Lot(pub String);

impl fmt::Display for Lot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// What stock is kept by: part and lot.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct StockKey {
    /// The part.
    pub part: PartId,
    /// The lot, or the empty one.
    pub lot: Lot,
}

/// A part and lot over all bins; the row that carries RS-1.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stock {
    /// On hand and not quarantined.
    pub usable: Quantity,
    /// Set aside for build lines, at most `usable`.
    pub reserved: Quantity,
    /// On hand, but may not be used.
    pub quarantined: Quantity,
    /// Best before.
    pub expires_on: Option<Date>,
    /// Day of the first receipt.
    pub first_received_on: Option<Date>,
}

impl Stock {
    /// Usable less reserved.
    #[must_use]
    pub fn available(&self) -> Quantity {
        self.usable - self.reserved
    }
}

/// A part and lot in one bin.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct BinBalance {
    /// Not quarantined.
    pub usable: Quantity,
    /// Quarantined.
    pub quarantined: Quantity,
}

/// A side of a booking.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Account {
    /// Outside: goods come from it.
    Supplier(SupplierId),
    /// Outside, supplier not known.
    UnknownSupplier,
    /// Usable stock in a bin.
    Bin(BinId),
    /// Quarantined stock in a bin.
    Quarantine(BinId),
    /// In a vehicle.
    Build(BuildId),
    /// Written off.
    Scrap,
    /// What the ledger did not know: corrections, counts, found parts.
    Variance,
}

/// Why stock moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum MovementKind {
    Opening,
    Receipt,
    Adjustment,
    Found,
    Issue,
    ReturnToStock,
    Transfer,
    Scrap,
    Quarantine,
    QuarantineRelease,
}

/// One side of a movement.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// Part and lot.
    pub key: StockKey,
    /// Which account.
    pub account: Account,
    /// Positive into the account.
    pub quantity: Quantity,
}

/// One immutable booking.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Movement {
    /// Identity.
    pub id: MovementId,
    /// Why.
    pub kind: MovementKind,
    /// The day it happened.
    pub occurred_on: Date,
    /// The instant it was entered.
    pub recorded_at: Timestamp,
    /// Name of the token that booked it.
    pub recorded_by: String,
    /// For people.
    pub reason: String,
    /// The build line, for issue, return and found.
    pub line: Option<LineId>,
    /// The order line, for a receipt.
    pub order_line: Option<OrderLineId>,
    /// Sum to zero per part and lot.
    pub entries: Vec<Entry>,
}

/// Where a build stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum BuildState {
    Quoted,
    Open,
    InBay,
    ReadyForHandover,
    Delivered,
    OnHold,
    Cancelled,
}

impl BuildState {
    /// In the trade's words.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Quoted => "quoted",
            Self::Open => "open",
            Self::InBay => "in bay",
            Self::ReadyForHandover => "ready for handover",
            Self::Delivered => "delivered",
            Self::OnHold => "on hold",
            Self::Cancelled => "cancelled",
        }
    }

    /// Whether its lines take supply that comes free.
    #[must_use]
    pub const fn binds(self) -> bool {
        matches!(self, Self::Open | Self::InBay)
    }

    /// Whether its lines may hold stock and pegs.
    #[must_use]
    pub const fn holds(self) -> bool {
        matches!(self, Self::Open | Self::InBay | Self::OnHold | Self::ReadyForHandover)
    }
}

impl fmt::Display for BuildState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.text())
    }
}

/// One vehicle's job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Build {
    /// Identity.
    pub id: BuildId,
    /// The shop's own number.
    pub number: Number,
    /// Which vehicle and what it becomes.
    pub vehicle: String,
    /// For people.
    pub customer: String,
    /// Where it stands.
    pub state: BuildState,
    /// The state to which a hold returns.
    pub held_from: Option<BuildState>,
    /// 1 is served first.
    pub priority: i32,
    /// The working day that the shop has booked.
    pub planned_start: Option<Date>,
    /// The day by which the customer wants it.
    pub required_by: Option<Date>,
    /// Why it is on hold or was cancelled.
    pub note: String,
    /// Orders builds by the time at which they were opened; 0 until then.
    pub opened_at: Option<Timestamp>,
    /// Counts the changes of this row.
    pub version: i64,
}

/// A step of a build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stage {
    /// Identity.
    pub id: StageId,
    /// Whose.
    pub build: BuildId,
    /// From 1, in the order of work.
    pub ordinal: i32,
    /// Unique in the build, whatever the case.
    pub name: Number,
    /// In working days.
    pub planned_days: u32,
    /// First day of work.
    pub begun_on: Option<Date>,
    /// Last day of work.
    pub done_on: Option<Date>,
}

/// Where a stage stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum StageState {
    Waiting,
    Begun,
    Done,
}

impl Stage {
    /// Where it stands.
    #[must_use]
    pub const fn state(&self) -> StageState {
        match (self.begun_on, self.done_on) {
            (_, Some(_)) => StageState::Done,
            (Some(_), None) => StageState::Begun,
            (None, None) => StageState::Waiting,
        }
    }
}

/// One requirement of a build.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Identity.
    pub id: LineId,
    /// Whose.
    pub build: BuildId,
    /// For which step.
    pub stage: StageId,
    /// From 1; never used twice in a build.
    pub number: i32,
    /// What.
    pub part: PartId,
    /// How much in all.
    pub required: Quantity,
    /// Net of returns.
    pub issued: Quantity,
    /// The kit line it comes from, or 0.
    pub kit_line: i32,
    /// A kit whose components stand as lines of their own.
    pub exploded: bool,
}

/// Usable stock set aside for one line. RS-2: made = held + issued + released
/// + moved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reservation {
    /// Identity.
    pub id: ReservationId,
    /// For which line.
    pub line: LineId,
    /// Of which stock.
    pub key: StockKey,
    /// In all.
    pub made: Quantity,
    /// Still set aside.
    pub held: Quantity,
    /// Left to the build.
    pub issued: Quantity,
    /// Given back.
    pub released: Quantity,
    /// Passed to another line.
    pub moved: Quantity,
}

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

/// What a token may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Role {
    Parts,
    Sales,
    Workshop,
    ReadOnly,
    Admin,
}

/// An access token's record; the secret itself is kept nowhere.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Token {
    /// Identity.
    pub id: TokenId,
    /// Whose it is.
    pub name: String,
    /// What it may do.
    pub roles: Vec<Role>,
    /// SHA-256 of the secret.
    pub hash: [u8; 32],
    /// When it was issued.
    pub issued_at: Timestamp,
    /// From then on it is refused.
    pub revoked_at: Option<Timestamp>,
}
