//! What to order and how much: shortages that no draft covers, order quantities, and the
//! textbook's reorder point, order quantity and newsvendor.

mod demand;
mod document;
mod formula;
mod needs;
#[cfg(test)]
mod tests;

pub use demand::{DemandError, demand_in_lead_time, reorder_point_empirical};
pub use document::{DocumentLine, OrderDocument, OrderWish, order_document};
pub use formula::{economic_order_quantity, newsvendor_normal, reorder_point_normal};
pub use needs::{LinePiece, PartNeed, WhyNot, order_quantity, part_needs};
