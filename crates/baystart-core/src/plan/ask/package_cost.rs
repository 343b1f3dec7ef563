//! What a package costs, as its parts are quoted.

use crate::book::Book;
use crate::book::model::Part;
use crate::command::NewLine;
use crate::ids::PartId;
use crate::limits::DEPTH_MAX;
use crate::money::Money;
use crate::quantity::Quantity;
use crate::refusal::{Faults, FieldPath, Reason, Refusal};
use std::collections::BTreeMap;

/// The price of the lines by currency, and the parts without one.
pub(super) fn cost(
    book: &Book,
    lines: &[(NewLine, FieldPath)],
) -> Result<(Vec<Money>, Vec<PartId>), Refusal> {
    let mut sums: BTreeMap<&'static str, Money> = BTreeMap::new();
    let mut unpriced = Vec::new();
    for (line, field) in lines {
        if line.customer_supplied {
            continue;
        }
        let Ok(part) = book.find_part(&line.part).map(|part| part.id) else { continue };
        let priced = price(book, part, line.quantity, DEPTH_MAX, &mut sums, &mut unpriced);
        if let Err(message) = priced {
            let mut faults = Faults::new();
            faults.push(field.then("quantity"), Reason::QuantityInvalid, message);
            faults.check()?;
        }
    }
    unpriced.sort_by_key(|part| book.part_number(*part));
    unpriced.dedup();
    Ok((sums.into_values().collect(), unpriced))
}

/// A part's own price where somebody quotes one, else the sum of what it is made of.
fn price(
    book: &Book,
    part: PartId,
    quantity: Quantity,
    depth: usize,
    sums: &mut BTreeMap<&'static str, Money>,
    unpriced: &mut Vec<PartId>,
) -> Result<(), String> {
    if let Some(price) = book.best_offer(part).and_then(|offer| offer.price) {
        let amount = price.times(quantity).map_err(|error| error.to_string())?;
        let sum = match sums.get(amount.currency.code()) {
            Some(sum) => sum.to_decimal() + amount.to_decimal(),
            None => amount.to_decimal(),
        };
        let sum = Money::from_decimal(sum, amount.currency).map_err(|error| error.to_string())?;
        sums.insert(amount.currency.code(), sum);
        return Ok(());
    }
    let components: &[(PartId, Quantity)] =
        book.parts.get(&part).map_or(&[], |part: &Part| part.components.as_slice());
    if components.is_empty() || depth == 0 {
        unpriced.push(part);
        return Ok(());
    }
    for (component, each) in components {
        let needed = each.times(quantity).map_err(|error| error.to_string())?;
        price(book, *component, needed, depth - 1, sums, unpriced)?;
    }
    Ok(())
}
