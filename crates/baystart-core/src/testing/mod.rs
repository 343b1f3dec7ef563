//! What every test of the workspace begins from: an example shop, and plain builders of what commands
//! carry. A builder leaves everything out that can be left out; a test writes what it is about:
//! `NewPart { lot_tracked: true, ..part("BELT") }`.
//!
//! Only tests have it: it is behind the feature `testing`, which no crate of the release turns on
//! (`tests/all/architecture.rs` holds that).
#![allow(clippy::unwrap_used, clippy::panic)]

mod new;
mod shop;

pub use new::{
    Amount, NewBuild, Ordered, at, components, need, offer, order_line, part, receipt, stage,
};
pub use shop::Shop;

use crate::book::model::Settings;
use crate::decide::Context;
use crate::ids::FreshIds;
use crate::money::Currency;
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use jiff::Timestamp;
use jiff::civil::{Date, date};

/// Monday 14 September 2026, the day of the example shop.
pub const TODAY: Date = date(2026, 9, 14);

/// A text that is known to be a number.
#[must_use]
pub fn number(text: &str) -> Number {
    Number::parse(text).unwrap()
}

/// What is called by a number.
#[must_use]
pub fn by(text: &str) -> Ref {
    Ref::Number(number(text))
}

/// A quantity as people write it.
#[must_use]
pub fn qty(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

/// The usual settings of a shop in Britain.
#[must_use]
pub fn settings() -> Settings {
    Settings::usual("Glen Orran", "Europe/London", Currency::parse("GBP").unwrap())
}

/// What a decision knows beside the book, where a person of the parts desk asks and the command needs
/// nothing more than the day.
pub fn context(ids: &mut dyn FreshIds, today: Date, recorded_at: Timestamp) -> Context<'_> {
    Context {
        ids,
        today,
        recorded_at,
        by: "parts",
        secret_hash: None,
        stated_chance: None,
        stock_points: &[],
        revision: 0,
    }
}
