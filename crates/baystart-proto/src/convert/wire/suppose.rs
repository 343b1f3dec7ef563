//! Dates as they are, beside what supposed facts make of them.

use super::date;
use crate::v1;
use baystart_core::plan::AsItIs;

/// A build's dates as they are.
#[must_use]
pub fn as_it_is(row: &AsItIs) -> v1::AsItIs {
    let small = |days: Option<i64>| days.and_then(|days| i32::try_from(days).ok());
    v1::AsItIs {
        start_on: row.start.map(date),
        delivery_on: row.delivery.map(date),
        start_days_later: small(row.start_days),
        delivery_days_later: small(row.delivery_days),
    }
}
