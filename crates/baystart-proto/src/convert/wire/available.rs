//! What is free to promise.

use super::{date, decimal};
use crate::v1;
use baystart_core::plan::Available;

/// A quantity that nobody holds.
#[must_use]
pub fn available(row: &Available) -> v1::AvailableToPromise {
    v1::AvailableToPromise {
        from: row.from.clone(),
        order_number: row.order.clone(),
        order_line_number: row.order_line,
        quantity: Some(decimal(row.quantity)),
        by_50: row.by_50.map(date),
        by_80: row.by_80.map(date),
        in_all: Some(decimal(row.in_all)),
    }
}
