//! What is free to promise.

use super::forecast::order_line;
use super::{date, decimal};
use crate::v1;
use baystart_core::plan::{Available, Words};

/// A quantity that nobody holds.
#[must_use]
pub fn available(words: &Words<'_>, row: &Available) -> v1::AvailableToPromise {
    let (order_number, order_line_number) = order_line(words.book(), row.order_line);
    v1::AvailableToPromise {
        from: words.free_on(row.order_line),
        order_number,
        order_line_number,
        quantity: Some(decimal(row.quantity)),
        by_50: row.by_50.map(date),
        by_80: row.by_80.map(date),
        in_all: Some(decimal(row.in_all)),
    }
}
