//! Quotes.

use super::forecast::build_forecast;
use super::{date, decimal, money};
use crate::v1;
use baystart_core::ids::PartId;
use baystart_core::plan::{FreeStock, QuoteAsked, QuotedVariant, Words};

/// One way to choose, made of a revision; `words` are of the book in which it is a build.
#[must_use]
pub fn quoted_variant(
    words: &Words<'_>,
    asked: &QuoteAsked,
    variant: &QuotedVariant,
    revision: i64,
) -> v1::QuotedVariant {
    let book = words.book();
    let free = |row: &FreeStock| v1::FreeStock {
        part_number: book.part_number(row.part).to_owned(),
        part_description: book
            .parts
            .get(&row.part)
            .map_or(String::new(), |part| part.description.clone()),
        quantity: Some(decimal(row.quantity)),
    };
    let numbers = |parts: &[PartId]| {
        parts.iter().map(|part| book.part_number(*part).to_owned()).collect::<Vec<_>>()
    };
    let group = variant.differs.and_then(|(group, _)| asked.groups.get(group));
    let choice = group.zip(variant.differs).and_then(|(group, (_, c))| group.choices.get(c));
    v1::QuotedVariant {
        group_name: group.map_or(String::new(), |group| group.name.clone()),
        choice_name: choice.map_or(String::new(), |choice| choice.name.clone()),
        forecast: Some(build_forecast(words, &variant.forecast, revision)),
        parts_cost: variant.parts_cost.iter().copied().map(money).collect(),
        unpriced_part_numbers: numbers(&variant.unpriced),
        free_stock: variant.free_stock.iter().map(free).collect(),
        customer_part_numbers: numbers(&variant.customer_brings),
        as_it_is: None,
        accept_by: variant.accept_by.map(date),
    }
}
