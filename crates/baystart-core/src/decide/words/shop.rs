//! What was done to what the shop knows, as a sentence.

use crate::book::Book;
use crate::book::model::Closure;
use crate::decide::effect::{Put, ShopEffect};
use crate::ids::TokenId;

pub(super) fn sentence(book: &Book, what: &ShopEffect) -> String {
    match what {
        ShopEffect::SettingsChanged => "Settings changed".to_owned(),
        ShopEffect::Part(part, put) => format!("Part {} {}", book.part_number(*part), done(*put)),
        ShopEffect::Supplier(supplier, put) => {
            format!("Supplier {} {}", book.supplier_code(*supplier), done(*put))
        }
        ShopEffect::Offer(offer, put) => {
            let row = book.offers.get(offer);
            let code = row.map_or("?", |row| book.supplier_code(row.supplier));
            let part = row.map_or("?", |row| book.part_number(row.part));
            format!("Offer of {code} for part {part} {}", done(*put))
        }
        ShopEffect::BinAdded(bin) => format!("Bin {} added", book.bin_code(*bin)),
        ShopEffect::Closed(closure) => closed(book, closure),
        ShopEffect::OpenAgain(closure) => {
            format!("Open again {}: {}", span(closure), who(book, closure))
        }
        ShopEffect::TokenIssued(token) => format!("Token issued to {}", holder(book, *token)),
        ShopEffect::TokenRevoked(token) => format!("Token of {} revoked", holder(book, *token)),
        ShopEffect::NothingToDraft => "Nothing is left to draft".to_owned(),
    }
}

const fn done(put: Put) -> &'static str {
    match put {
        Put::Added => "added",
        Put::Changed => "changed",
    }
}

fn holder(book: &Book, token: TokenId) -> &str {
    book.tokens.get(&token).map_or("?", |token| token.name.as_str())
}

/// `Closed 2026-12-24 to 2027-01-03: the shop`.
pub(super) fn closed(book: &Book, closure: &Closure) -> String {
    format!("Closed {}: {}", span(closure), who(book, closure))
}

/// `the shop`, or a supplier's code.
pub(in crate::decide) fn who<'b>(book: &'b Book, closure: &Closure) -> &'b str {
    closure.supplier.map_or("the shop", |supplier| book.supplier_code(supplier))
}

/// `2026-12-24`, or `2026-12-24 to 2027-01-03`.
pub(in crate::decide) fn span(closure: &Closure) -> String {
    match closure.first_day == closure.last_day {
        true => closure.first_day.to_string(),
        false => format!("{} to {}", closure.first_day, closure.last_day),
    }
}
