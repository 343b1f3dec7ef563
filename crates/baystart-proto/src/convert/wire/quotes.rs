//! Quotes.

use super::forecast::build_forecast;
use super::{date, decimal, money};
use crate::v1;
use baystart_core::plan::{FreeStock, QuotedVariant};

/// One way to choose, made of a revision.
#[must_use]
pub fn quoted_variant(variant: &QuotedVariant, revision: i64) -> v1::QuotedVariant {
    let free = |row: &FreeStock| v1::FreeStock {
        part_number: row.part.clone(),
        part_description: row.description.clone(),
        quantity: Some(decimal(row.quantity)),
    };
    v1::QuotedVariant {
        group_name: variant.group.clone(),
        choice_name: variant.choice.clone(),
        forecast: Some(build_forecast(&variant.forecast, revision)),
        parts_cost: variant.parts_cost.iter().copied().map(money).collect(),
        unpriced_part_numbers: variant.unpriced.clone(),
        free_stock: variant.free_stock.iter().map(free).collect(),
        customer_part_numbers: variant.customer_brings.clone(),
        as_it_is: None,
        accept_by: variant.accept_by.map(date),
    }
}
