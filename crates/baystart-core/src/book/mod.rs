//! The state that a decision sees: a slice of one shop, or all of it.

mod apply;
mod change;
mod days;
mod find;
pub(crate) use find::by_beginning;
mod indexes;
pub mod model;
mod past;
mod past_use;
mod scan;
mod service;
mod table;
mod totals;

pub use apply::Undo;
pub use change::Change;
pub use days::CLOSURE_DAYS_MAX;
pub use past::PastRow;
pub use past_use::PastUse;
pub use scan::index_faults;
pub use service::ServiceKey;
use table::Row;
pub use table::{Held, Table, differing};

use crate::ids::{BinId, OrderLineId, PartId, TokenId};
use imbl::OrdMap;
use model::{
    Awaited, Bin, BinBalance, Build, Closure, Line, Movement, Offer, Order, OrderLine, Part, Peg,
    Reservation, Settings, Stage, Stock, StockKey, Supplier, Token,
};
use std::collections::{BTreeMap, BTreeSet};

/// One shop's rows, as far as a decision needs them.
///
/// A slice holds for each of its parts *everything* that binds it: stock, bins,
/// the lines of builds that hold, reservations, open order lines and pegs; for
/// each of its builds and orders all lines. Decisions rely on that.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Book {
    /// The shop's settings; None only in a book that nobody loaded.
    pub settings: Option<Settings>,
    /// Closed days of the shop and its suppliers.
    pub closures: BTreeSet<Closure>,
    /// Parts by id.
    pub parts: Table<Part>,
    /// All suppliers.
    pub suppliers: Table<Supplier>,
    /// Offers of the slice's parts.
    pub offers: Table<Offer>,
    /// All bins.
    pub bins: Table<Bin>,
    /// Totals over all bins.
    pub stock: OrdMap<StockKey, Stock>,
    /// What lies where.
    pub balances: OrdMap<(StockKey, BinId), BinBalance>,
    /// Builds by id.
    pub builds: Table<Build>,
    /// Stages by id.
    pub stages: Table<Stage>,
    /// Build lines by id.
    pub lines: Table<Line>,
    /// Things from outside that no order brings, by id.
    pub awaited: Table<Awaited>,
    /// Reservations by id.
    pub reservations: Table<Reservation>,
    /// Orders by id.
    pub orders: Table<Order>,
    /// Order lines by id.
    pub order_lines: Table<OrderLine>,
    /// Pegs by build line and order line.
    pub pegs: Table<Peg>,
    /// Calendar days by which order lines are supposed to come later than all that is known of them
    /// says; only in a copy that nobody keeps, see [`crate::plan::suppose`].
    pub supposed_days: BTreeMap<OrderLineId, i64>,
    /// Past use of parts that are kept in stock; only where suggestions need it.
    pub used: BTreeMap<PartId, PastUse>,
    /// Access tokens; only where a decision needs them.
    pub tokens: OrdMap<TokenId, Token>,
    /// Every booking, where `keep_ledger`; a slice leaves it empty.
    pub ledger: Vec<Movement>,
    /// Whether `apply` keeps bookings in `ledger`.
    pub keep_ledger: bool,
}
