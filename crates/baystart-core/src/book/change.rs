//! What a decision changes: whole rows, and bookings.

use super::model::{
    Awaited, Bin, Build, Closure, Line, Movement, Offer, Order, OrderLine, Part, Peg, Reservation,
    Settings, Stage, StockKey, Supplier, Token,
};
use jiff::civil::Date;

/// One change of one row, or one booking. Rows come whole, as they are after
/// the change; what stock they move follows from them.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// New settings.
    Settings(Settings),
    /// A closure more.
    ClosureAdded(Closure),
    /// A closure less.
    ClosureRemoved(Closure),
    /// A part, new or changed.
    Part(Part),
    /// A supplier, new or changed.
    Supplier(Supplier),
    /// An offer, new or changed.
    Offer(Offer),
    /// A new bin.
    Bin(Bin),
    /// Facts of a lot, known at its first receipt.
    Lot {
        /// Part and lot.
        key: StockKey,
        /// Best before.
        expires_on: Option<Date>,
        /// Day of the first receipt.
        first_received_on: Option<Date>,
    },
    /// A booking: bins, totals and the ledger.
    Moved(Movement),
    /// A build, new or changed.
    Build(Build),
    /// A stage, new or changed.
    Stage(Stage),
    /// A build line, new or changed.
    Line(Line),
    /// A thing from outside that no order brings, new or changed.
    Awaited(Awaited),
    /// A reservation, new or changed; the reserved total follows.
    Reservation(Reservation),
    /// An order, new or changed.
    Order(Order),
    /// An order line, new or changed, with all its promises.
    OrderLine(OrderLine),
    /// A peg; a quantity of zero removes it.
    Peg(Peg),
    /// A token, new or changed.
    Token(Token),
}
