//! What to order, from whom, and by when.

mod rows;
mod stocked;
#[cfg(test)]
mod stocked_tests;
#[cfg(test)]
mod tests;
mod wished;

pub use crate::plan::reckon::timing::{Timing, TimingBasis};
pub(crate) use rows::sums;
pub use stocked::stock_points;
pub use wished::wished;

use crate::book::Book;
use crate::ids::{LineId, OfferId, OrderLineId, PartId, SupplierId};
use crate::money::Money;
use crate::ordering::{PartNeed, StockBasis, WhyNot, part_needs};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::View;
use crate::plan::reckon::timing::Clock;
use crate::quantity::Quantity;
use jiff::civil::Date;
use rows::{by_supplier, unordered};
use stocked::for_stock;

/// One use of what is to be ordered.
#[derive(Clone, Debug, PartialEq)]
pub struct SuggestedFor {
    /// The build's line.
    pub line: LineId,
    /// How much of it.
    pub quantity: Quantity,
    /// When to order for it.
    pub timing: Timing,
}

/// What a reorder point stands on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StandsOnUse {
    /// Open builds need so much, which is more than the point.
    OpenBuilds {
        /// In the part's unit.
        needed: Quantity,
    },
    /// Past use.
    Past {
        /// How it was reckoned.
        basis: StockBasis,
        /// Mean use of a working day.
        mean: f64,
        /// Days with use.
        uses: usize,
        /// Working days that were looked at.
        days: usize,
    },
}

/// Why a part that is kept in stock is ordered.
#[derive(Clone, Debug, PartialEq)]
pub struct SuggestedStock {
    /// Usable, set aside for builds or not.
    pub on_hand: Quantity,
    /// On order, drafted, or to be ordered for builds.
    pub on_order: Quantity,
    /// Ordered below this.
    pub reorder_at: Quantity,
    /// What that stands on.
    pub basis: StandsOnUse,
}

/// A part to order, or a draft of one to place.
#[derive(Clone, Debug, PartialEq)]
pub struct SuggestedLine {
    /// Which part.
    pub part: PartId,
    /// The offer that it is ordered from.
    pub offer: Option<OfferId>,
    /// What builds are short of.
    pub needed: Quantity,
    /// What to order: at least the minimum, in whole packs; of a draft, what it is for.
    pub quantity: Quantity,
    /// Per base quantity.
    pub price: Option<Money>,
    /// Price times quantity.
    pub amount: Option<Money>,
    /// The draft that exists already; None: to be ordered.
    pub draft: Option<OrderLineId>,
    /// The most urgent use's.
    pub timing: Timing,
    /// What it is for, in the order of service.
    pub uses: Vec<SuggestedFor>,
    /// It is for stock, not for builds.
    pub stock: Option<SuggestedStock>,
}

/// What to order from one supplier.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplierSuggestion {
    /// Who.
    pub supplier: SupplierId,
    /// The first day on which a line must be ordered.
    pub order_by: Option<Date>,
    /// The most urgent first.
    pub lines: Vec<SuggestedLine>,
    /// Sum of the lines that have a price, by currency.
    pub sums: Vec<Money>,
    /// Lines without a price.
    pub unpriced: u32,
}

/// A shortage that nobody can be asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Unordered {
    /// Which part.
    pub part: PartId,
    /// How much is missing.
    pub quantity: Quantity,
    /// Why.
    pub why: WhyNot,
    /// The build lines that lack it.
    pub uses: Vec<LineId>,
}

/// Order suggestions of one day.
#[derive(Clone, Debug, PartialEq)]
pub struct Suggestions {
    /// The day at whose start they speak.
    pub as_of: Date,
    /// The chance at which an order counts as safe.
    pub confidence: f64,
    /// The next day on which the shop orders.
    pub next_ordering_day: Option<Date>,
    /// The most urgent first.
    pub suppliers: Vec<SupplierSuggestion>,
    /// By part number.
    pub unordered: Vec<Unordered>,
}

/// For every shortage of every build that is open or in the bay, the last ordering day d with
/// P(in time | ordered on d) >= `confidence`^(1/n), n the lines that the build still waits for, so that
/// *all* of them are in time with `confidence`, by supplier; what has a draft is shown as such. Beside
/// them what parts that are kept in stock lack, see [`crate::ordering::stock_rule`].
///
/// `supplier`: only what would be ordered, or is drafted, there. `confidence` lies in (0, 1).
#[must_use]
pub fn suggest(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    confidence: f64,
    supplier: Option<SupplierId>,
) -> Suggestions {
    let view = View::new(book, learned, as_of);
    let mut clock = Clock::new(&view, confidence);
    let needs: Vec<PartNeed> = part_needs(book);
    let stock = for_stock(&view, &clock, &needs, supplier);
    let suppliers = by_supplier(book, &mut clock, &needs, supplier, stock);
    let unordered = match supplier {
        Some(_) => Vec::new(),
        None => unordered(&needs),
    };
    let next_ordering_day = clock.next();
    Suggestions { as_of, confidence, next_ordering_day, suppliers, unordered }
}
