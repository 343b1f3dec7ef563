//! What was done to stock, as a sentence.

use super::{amount_of_stock, named};
use crate::book::Book;
use crate::book::model::StockKey;
use crate::decide::effect::StockEffect;
use crate::ids::BinId;
use crate::quantity::Quantity;

pub(super) fn sentence(
    book: &Book,
    (key, bin): (&StockKey, BinId),
    quantity: Quantity,
    what: &StockEffect,
) -> String {
    let taken_off = quantity.is_negative();
    let amount = amount_of_stock(book, key, if taken_off { -quantity } else { quantity });
    let bin = book.bin_code(bin);
    match what {
        StockEffect::Corrected { reason } if taken_off => {
            format!("Took {amount} off bin {bin}: {reason}")
        }
        StockEffect::Corrected { reason } => format!("Added {amount} to bin {bin}: {reason}"),
        StockEffect::Scrapped { reason } => format!("Scrapped {amount} from bin {bin}: {reason}"),
        StockEffect::SentBack { reason } => format!("Sent back {amount} from bin {bin}: {reason}"),
        StockEffect::Quarantined { reason } => {
            format!("Quarantined {amount} in bin {bin}: {reason}")
        }
        StockEffect::OutOfQuarantine { reason } => {
            format!("Released {amount} in bin {bin} from quarantine: {reason}")
        }
        StockEffect::Moved { from } => {
            format!("Moved {amount} from bin {} to bin {bin}", book.bin_code(*from))
        }
        StockEffect::NotFound => format!("{amount} not found in bin {bin}: variance"),
        StockEffect::Received => format!("Received {amount} into bin {bin}, without an order"),
        StockEffect::FromCustomer => format!("Received {amount} from the customer into bin {bin}"),
        StockEffect::Delivered { on } => {
            format!("Received {amount} into bin {bin}, {}", named(book, *on))
        }
        StockEffect::Rejected { sent_back: true } => format!("Sent back {amount} from bin {bin}"),
        StockEffect::Rejected { sent_back: false } => {
            format!("Quarantined {amount} from bin {bin}")
        }
        StockEffect::Made => format!("Made {amount}, into bin {bin}"),
        StockEffect::Finished => format!("Came back finished: {amount}, into bin {bin}"),
    }
}
