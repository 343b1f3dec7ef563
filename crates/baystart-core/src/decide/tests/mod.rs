//! Each way in which a line's parts come to be there, with the sentences as a person reads them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod awaited;
mod binding;
mod by_hand;
mod lending;
mod making;
mod misled;
mod packages;
mod picking;
mod rejection;
mod said;
mod substitutes;
mod warned;

use crate::book::model::OrderLine;
use crate::command::{
    BuildCommand, BuildFields, Command, MakeCommand, NewLine, NewMade, NewOrderLine, NewPart,
    OrderCommand, StockCommand,
};
use crate::quantity::Quantity;
use crate::refusal::Reason;
use crate::testing::{
    NewBuild, Shop, TODAY, at, by, components, need, number, order_line, part, qty, receipt,
};
use crate::units::Unit;
use jiff::civil::{Date, date};

/// The example shop with plain parts RAW, NUT, BAR, WINCH and STROP, PACK by lot, and the consumable
/// SEALANT.
fn shop() -> Shop {
    let mut shop = Shop::new();
    for part in ["RAW", "NUT", "BAR", "WINCH", "STROP"] {
        shop.part(part);
    }
    shop.part(NewPart { lot_tracked: true, ..part("PACK") });
    shop.part(NewPart { consumable: true, ..part("SEALANT") });
    shop
}

/// An order of one line, placed today.
fn order(shop: &mut Shop, order: &str, supplier: &str, line: NewOrderLine) {
    shop.run(Command::Order(OrderCommand::Create {
        number: number(order),
        supplier: by(supplier),
        lines: vec![line],
        placed_on: Some(shop.today),
    }));
}

/// Line 1 of an order is promised for a day.
fn promised(shop: &mut Shop, order: &str, day: Date) {
    shop.run(Command::Order(OrderCommand::Acknowledge {
        order: by(order),
        supplier_reference: String::new(),
        promises: vec![(1, Some(day))],
        occurred_on: None,
    }));
}

impl Shop {
    /// Quantity pegged from a build line to line 1 of an order.
    fn pegged_to(&self, build: &str, number: i32, order: &str) -> String {
        let key = (self.line(build, number).id, self.order_line(order, 1).id);
        let peg = self.book.pegs.get(&key);
        peg.map_or(Quantity::ZERO, |peg| peg.quantity).to_string()
    }

    fn finished(&mut self, text: &str, components: &[(&str, &str)]) {
        let made = NewMade::AtFinisher { supplier: by("BEINN"), quoted_days: Some(7) };
        self.made(text, components, made);
    }
}

fn create_order(order: &str, lines: &[NewOrderLine]) -> Command {
    Command::Order(OrderCommand::Create {
        number: number(order),
        supplier: by("CORRIE"),
        lines: lines.to_vec(),
        placed_on: Some(date(2026, 9, 1)),
    })
}

fn record_made(build: &str, line: i32, quantity: Option<&str>, lot: &str) -> Command {
    Command::Make(MakeCommand::RecordMade {
        build: by(build),
        line,
        quantity: quantity.map(qty),
        bin: by("A2"),
        lot: lot.to_owned(),
        occurred_on: None,
    })
}
