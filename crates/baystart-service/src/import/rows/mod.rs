//! What a row of each file says, as exact values.

mod cursor;
mod dates;
mod parse;
mod stood;

pub(super) use cursor::Cursor;
pub(super) use dates::promises;
pub(super) use parse::read;

use baystart_core::book::model::{BuildState, CustomerPromise, Promise, StockPolicy};
use baystart_core::command::{BuildFields, NewMade};
use baystart_core::money::{Currency, Money};
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::restore::{RestoredAwaited, RestoredBinding, RestoredLine};
use baystart_core::units::Unit;
use jiff::Timestamp;
use jiff::civil::Date;

#[derive(Clone, Debug)]
pub(crate) struct Supplier {
    pub(crate) code: Number,
    pub(crate) name: String,
}

#[derive(Clone, Debug)]
pub(crate) struct Part {
    pub(crate) number: Number,
    pub(crate) description: String,
    pub(crate) unit: Unit,
    pub(crate) consumable: bool,
    pub(crate) safety_related: bool,
    pub(crate) lot_tracked: bool,
    pub(crate) gtin: String,
    pub(crate) handling_note: String,
    pub(crate) made: NewMade,
    pub(crate) family: String,
    pub(crate) finish: String,
    pub(crate) made_to_order: bool,
    pub(crate) superseded_by: Option<Number>,
    pub(crate) companions: Vec<Number>,
    pub(crate) stocked: Option<StockPolicy>,
}

#[derive(Clone, Debug)]
pub(crate) struct Kit {
    pub(crate) kit: Number,
    pub(crate) component: Number,
    pub(crate) quantity: Quantity,
}

/// A price; without a currency it is in the shop's.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Price {
    amount: Money,
    in_shops_currency: bool,
}

impl Price {
    pub(super) const fn new(amount: Money, in_shops_currency: bool) -> Self {
        Self { amount, in_shops_currency }
    }

    /// The price, with the shop's currency where it names none.
    pub(crate) fn money(self, shops: Currency) -> Money {
        match self.in_shops_currency {
            true => Money { currency: shops, ..self.amount },
            false => self.amount,
        }
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Offer {
    pub(crate) supplier: Number,
    pub(crate) part: Number,
    pub(crate) item_number: String,
    pub(crate) price: Option<Price>,
    pub(crate) pack_size: Option<Quantity>,
    pub(crate) minimum_quantity: Option<Quantity>,
    pub(crate) quoted_days: Option<u32>,
    pub(crate) preferred: bool,
}

#[derive(Clone, Debug)]
pub(crate) struct Bin {
    pub(crate) code: Number,
    pub(crate) description: String,
}

#[derive(Clone, Debug)]
pub(crate) struct Stock {
    pub(crate) part: Number,
    pub(crate) bin: Number,
    pub(crate) quantity: Quantity,
    pub(crate) lot: String,
    pub(crate) quarantined: bool,
    pub(crate) expires_on: Option<Date>,
    pub(crate) counted_on: Option<Date>,
}

#[derive(Clone, Debug)]
pub(crate) struct Build {
    pub(crate) number: Number,
    pub(crate) fields: BuildFields,
    pub(crate) state: BuildState,
    pub(crate) note: String,
    pub(crate) for_stock: bool,
    pub(crate) held_from: Option<BuildState>,
    pub(crate) opened_at: Option<Timestamp>,
    pub(crate) customer_promises: Vec<CustomerPromise>,
    pub(crate) delivered_on: Option<Date>,
}

impl Build {
    /// Whether it says what only a build as it stood can say.
    pub(crate) fn is_as_it_stood(&self) -> bool {
        let told = self.held_from.is_some() || self.opened_at.is_some();
        told || self.delivered_on.is_some() || !self.customer_promises.is_empty()
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Stage {
    pub(crate) build: Number,
    pub(crate) name: Number,
    pub(crate) planned_days: u32,
    pub(crate) begun_on: Option<Date>,
    pub(crate) done_on: Option<Date>,
    pub(crate) off_site: Option<Number>,
}

#[derive(Clone, Debug)]
pub(crate) struct Line {
    pub(crate) build: Number,
    pub(crate) stage: String,
    pub(crate) part: Number,
    pub(crate) quantity: Quantity,
    pub(crate) issued: Quantity,
    pub(crate) customer_supplied: bool,
    /// As it stood, where the row has a line number.
    pub(crate) stood: Option<Box<RestoredLine>>,
}

#[derive(Clone, Debug)]
pub(crate) struct OrderLine {
    pub(crate) order: Number,
    pub(crate) line: i32,
    pub(crate) supplier: Number,
    pub(crate) part: Number,
    pub(crate) quantity: Quantity,
    pub(crate) supplier_reference: String,
    pub(crate) price: Option<Price>,
    pub(crate) placed_on: Option<Date>,
    pub(crate) acknowledged_on: Option<Date>,
    /// Promise date and the day on which it became known, by that day.
    pub(crate) promises: Vec<(Date, Date)>,
    pub(crate) despatched_on: Option<Date>,
    pub(crate) for_build: Option<Number>,
    pub(crate) for_stage: String,
    pub(crate) for_line: Option<i32>,
    pub(crate) package_line: i32,
    pub(crate) rejected: Quantity,
    /// None: as the offer says.
    pub(crate) quoted_days: Option<Option<u32>>,
    pub(crate) last_contact_on: Option<Date>,
    /// None: the row does not say.
    pub(crate) taken_over: Option<bool>,
    /// A promise that was taken back, and the day on which it was.
    pub(crate) taken_back: Vec<(Promise, Date)>,
}

impl OrderLine {
    /// Whether the row says more of how the line stood than a sheet of open
    /// orders does.
    pub(crate) fn stood(&self) -> bool {
        self.for_line.is_some()
            || self.package_line != 0
            || !self.rejected.is_zero()
            || self.quoted_days.is_some()
            || self.last_contact_on.is_some()
            || self.taken_over.is_some()
            || !self.taken_back.is_empty()
    }
}

#[derive(Clone, Debug)]
pub(crate) struct Awaited {
    pub(crate) build: Number,
    pub(crate) item: RestoredAwaited,
}

#[derive(Clone, Debug)]
pub(crate) struct Binding {
    pub(crate) build: Number,
    pub(crate) binding: RestoredBinding,
}
