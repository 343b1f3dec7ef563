//! What was done to a line of a build, as a sentence.

use super::{amount, amount_of, amount_of_lot, counted, named};
use crate::book::Book;
use crate::book::model::Made;
use crate::decide::effect::{LeftFor, LineEffect, OfLine, Why};
use crate::quantity::Quantity;

pub(super) fn sentence(book: &Book, of: &OfLine, quantity: Quantity, what: &LineEffect) -> String {
    let OfLine { build, stage, number, part } = *of;
    let (build, stage) = (book.build_number(build), book.stage_name(stage));
    let place = format!("build {build}, stage {stage}");
    let amount_of_it = amount_of(book, part, quantity);
    let of_lot = |lot| amount_of_lot(book, part, lot, quantity);
    match what {
        LineEffect::Reserved { lot } => format!("Reserved {} for {place}", of_lot(lot)),
        LineEffect::Released { lot, why } => {
            let (amount, because) = (of_lot(lot), because(book, why));
            match why {
                Why::Lent { .. } | Why::StockGone => {
                    format!("{amount} no longer reserved for {place}{because}")
                }
                _ => format!("Gave back {amount} reserved for {place}{because}"),
            }
        }
        LineEffect::Pegged { to } => {
            format!("Pegged {amount_of_it} to {} for {place}", named(book, *to))
        }
        LineEffect::Unpegged { from, why } => format!(
            "{amount_of_it} no longer pegged to {} for {place}{}",
            named(book, *from),
            because(book, why)
        ),
        LineEffect::Short { customer: true } => {
            format!("The customer brings {amount_of_it} for {place}")
        }
        LineEffect::Short { customer: false } => format!("Short of {amount_of_it} for {place}"),
        LineEffect::OverIssued => {
            format!("{amount_of_it} more than line {number} of build {build} requires")
        }
        LineEffect::RequiresLess { issued } => format!(
            "{} were issued to line {number} already; return what is not needed",
            amount_of(book, part, *issued)
        ),
        LineEffect::Left { how, lot, bin } => {
            let verb = match how {
                LeftFor::Issue => "Issued",
                LeftFor::Making => "Used up",
                LeftFor::Finisher => "Sent out",
            };
            format!("{verb} {} from bin {} for {place}", of_lot(lot), book.bin_code(*bin))
        }
        LineEffect::CameBack { lot, bin } => {
            format!("{} came back from build {build} into bin {}", of_lot(lot), book.bin_code(*bin))
        }
        LineEffect::Picked { lot, from, into } => format!(
            "Picked {} from bin {} into {} for {place}",
            of_lot(lot),
            book.bin_code(*from),
            book.bin_code(*into)
        ),
        LineEffect::Found { lot } => {
            format!("Found {} that the ledger did not have, and booked it to {place}", of_lot(lot))
        }
        LineEffect::Arrived => {
            let one = amount(book, part, quantity) == "1";
            format!("{amount_of_it} {} to {place}", if one { "goes" } else { "go" })
        }
        LineEffect::Exploded { lines } => {
            format!("Kit {} stands for {lines} lines for {place}", book.part_number(part))
        }
        LineEffect::Requires => {
            format!("Line {number} of build {build} now requires {amount_of_it}")
        }
        LineEffect::ToMake { how, components } => format!(
            "{amount_of_it} to be {}: {} for {place}",
            way(book, *how),
            counted(*components, "component")
        ),
        LineEffect::SentOut { to, promised_on } => {
            let back = promised_on.map_or(String::new(), |date| format!(", promised back {date}"));
            format!("With {}: {amount_of_it} for {place}{back}", book.supplier_code(*to))
        }
        LineEffect::PromisedBack { on } => {
            format!("Promised back for {on}: {amount_of_it} for {place}")
        }
    }
}

/// `made in the shop` or `finished by BEINN`.
pub(in crate::decide) fn way(book: &Book, made: Made) -> String {
    match made {
        Made::AtFinisher { supplier, .. } => {
            format!("finished by {}", book.supplier_code(supplier))
        }
        _ => "made in the shop".to_owned(),
    }
}

/// What follows the line's build and stage.
fn because(book: &Book, why: &Why) -> String {
    let text = match why {
        Why::Lent { build, line, reason } => {
            let colon = if reason.is_empty() { "" } else { ": " };
            let build = book.build_number(*build);
            return format!(", lent to build {build}, line {line}{colon}{reason}");
        }
        Why::GivenBack => "",
        Why::Substituted => ": another part takes its place",
        Why::NeedsNoMore => ": the line needs no more",
        Why::StockIsFree => ": stock is free",
        Why::EarlierSupply => ": an earlier supply is free",
        Why::TakenOver => ": the lender takes it over",
        Why::StockGone => ": the stock under it is gone",
        Why::Cancelled => ": the order was cancelled",
        Why::WillNotCome => ": it will not come",
    };
    text.to_owned()
}
