//! What a command did, in words: a sentence, and the fields that go with it, read off one value.
//!
//! The book is the one that the command left, or one that has the same parts, bins, builds and orders.

mod builds;
mod caution;
mod lines;
mod orders;
mod shop;
mod stock;

pub use caution::warning;
pub(super) use lines::way;
pub(super) use shop::{span, who};

use super::effect::{BuildEffect, Caution, Effect, EffectKind, LineEffect, OfLine, StockEffect};
use crate::book::Book;
use crate::book::model::{Lot, StockKey};
use crate::ids::{OrderLineId, PartId};
use crate::quantity::Quantity;
use serde::Serialize;

/// An effect as people and programs read it. Fields that do not apply are empty or 0.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[allow(missing_docs)]
pub struct Said<'a> {
    pub kind: EffectKind,
    /// A sentence that a person can read.
    pub text: String,
    pub part: &'a str,
    pub quantity: Option<Quantity>,
    pub build: &'a str,
    pub stage: &'a str,
    pub line: i32,
    pub order: &'a str,
    pub order_line: i32,
    pub bin: &'a str,
    pub lot: &'a str,
}

/// An effect as a sentence and as fields.
#[must_use]
pub fn said<'a>(book: &'a Book, effect: &'a Effect) -> Said<'a> {
    let bare = Said {
        kind: effect.kind(),
        text: sentence(book, effect),
        part: "",
        quantity: None,
        build: "",
        stage: "",
        line: 0,
        order: "",
        order_line: 0,
        bin: "",
        lot: "",
    };
    match effect {
        Effect::Line { of, quantity, what } => of_line(book, bare, of, *quantity, what),
        Effect::Stock { key, bin, quantity, what } => {
            let bare = match what {
                StockEffect::Delivered { on } => on_order_line(book, bare, *on),
                _ => bare,
            };
            Said {
                part: book.part_number(key.part),
                quantity: Some(*quantity),
                bin: book.bin_code(*bin),
                lot: &key.lot.0,
                ..bare
            }
        }
        Effect::Build { build, what } => {
            let stage = match what {
                BuildEffect::StageBegun(stage) | BuildEffect::StageDone(stage) => {
                    book.stage_name(*stage)
                }
                _ => "",
            };
            Said { build: book.build_number(*build), stage, ..bare }
        }
        Effect::Order { order, .. } => Said { order: book.order_number(*order), ..bare },
        Effect::OrderLine { line, .. } => on_order_line(book, bare, *line),
        Effect::Caution(Caution::Handling(part)) => Said { part: book.part_number(*part), ..bare },
        Effect::Shop(_) | Effect::Caution(_) => bare,
    }
}

fn of_line<'a>(
    book: &'a Book,
    bare: Said<'a>,
    of: &OfLine,
    quantity: Quantity,
    what: &'a LineEffect,
) -> Said<'a> {
    let said = Said {
        part: book.part_number(of.part),
        quantity: Some(quantity),
        build: book.build_number(of.build),
        stage: book.stage_name(of.stage),
        line: of.number,
        ..bare
    };
    match what {
        LineEffect::Reserved { lot } | LineEffect::Released { lot, .. } => {
            Said { lot: &lot.0, ..said }
        }
        LineEffect::Left { lot, bin, .. }
        | LineEffect::CameBack { lot, bin }
        | LineEffect::Picked { lot, into: bin, .. } => {
            Said { lot: &lot.0, bin: book.bin_code(*bin), ..said }
        }
        LineEffect::Pegged { to: line } | LineEffect::Unpegged { from: line, .. } => {
            on_order_line(book, said, *line)
        }
        _ => said,
    }
}

fn on_order_line<'a>(book: &'a Book, said: Said<'a>, line: OrderLineId) -> Said<'a> {
    let Some(row) = book.order_lines.get(&line) else { return said };
    Said { order: book.order_number(row.order), order_line: row.number, ..said }
}

/// An effect as a sentence.
#[must_use]
pub fn sentence(book: &Book, effect: &Effect) -> String {
    match effect {
        Effect::Line { of, quantity, what } => lines::sentence(book, of, *quantity, what),
        Effect::Stock { key, bin, quantity, what } => {
            stock::sentence(book, (key, *bin), *quantity, what)
        }
        Effect::Build { build, what } => builds::sentence(book, *build, what),
        Effect::Order { order, what } => orders::sentence(book, *order, what),
        Effect::OrderLine { line, what } => orders::of_line(book, *line, what),
        Effect::Shop(what) => shop::sentence(book, what),
        Effect::Caution(caution) => caution::sentence(book, caution),
    }
}

/// `4 m` or `2`: a quantity of a part with its unit; pieces have none.
pub(super) fn amount(book: &Book, part: PartId, quantity: Quantity) -> String {
    match book.parts.get(&part).map_or("", |part| part.unit.short_name()) {
        "pcs" => quantity.to_string(),
        unit => format!("{quantity} {unit}"),
    }
}

/// `2 of HD-1042`.
pub(super) fn amount_of(book: &Book, part: PartId, quantity: Quantity) -> String {
    format!("{} of {}", amount(book, part, quantity), book.part_number(part))
}

/// `2 of HD-1042`, or `2 m of CB-35 (lot L7)`.
pub(super) fn amount_of_stock(book: &Book, key: &StockKey, quantity: Quantity) -> String {
    amount_of_lot(book, key.part, &key.lot, quantity)
}

fn amount_of_lot(book: &Book, part: PartId, lot: &Lot, quantity: Quantity) -> String {
    let amount = amount_of(book, part, quantity);
    match lot.0.as_str() {
        "" => amount,
        lot => format!("{amount} (lot {lot})"),
    }
}

/// `order P-2007 line 3`.
fn named(book: &Book, line: OrderLineId) -> String {
    book.order_lines.get(&line).map_or(String::new(), |row| {
        format!("order {} line {}", book.order_number(row.order), row.number)
    })
}

/// `1 line`, `3 lines`: a count with its noun.
fn counted(count: usize, noun: &str) -> String {
    match count {
        1 => format!("1 {noun}"),
        count => format!("{count} {noun}s"),
    }
}
