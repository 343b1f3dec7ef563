//! What to order and how much: shortages that no draft covers, order quantities, and the
//! textbook's reorder point, order quantity and newsvendor.

mod demand;
mod document;
mod formula;
mod needs;
mod stocked;
#[cfg(test)]
mod stocked_tests;
#[cfg(test)]
mod tests;

pub use demand::{DemandError, demand_in_lead_time, reorder_point_empirical};
pub use document::{DocumentLine, OrderDocument, OrderWish, order_document};
pub use formula::{economic_order_quantity, newsvendor_normal, reorder_point_normal};
pub use needs::{LinePiece, PartNeed, WhyNot, order_quantity, part_needs};
pub use stocked::{
    ENOUGH_DAYS, ENOUGH_USES, StockBasis, StockNeed, StockPoint, StockRule, daily_use, stock_need,
    stock_rule,
};
