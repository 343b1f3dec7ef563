//! A plan as sentences, in the trade's words: the last step, at the edge.

mod assumptions;
mod chases;
mod evidence;
mod news;
mod ready;

use super::ground::{Awaiting, Thing, WaitsFor};
use crate::book::Book;
use crate::book::model::{AwaitedKind, Made, OrderLine};
use crate::ids::{OfferId, OrderLineId};
use crate::ordering::StockBasis;
use crate::plan::ask::suggest::StandsOnUse;
use crate::quantity::Quantity;
use jiff::civil::Date;

/// Says plans of a book to people.
///
/// The book is the one that the plan was made of, or one that has the same parts, orders and suppliers.
#[derive(Clone, Copy, Debug)]
pub struct Words<'b> {
    book: &'b Book,
    as_of: Date,
}

impl<'b> Words<'b> {
    /// Words about plans that speak at the start of `as_of`.
    #[must_use]
    pub const fn new(book: &'b Book, as_of: Date) -> Self {
        Self { book, as_of }
    }

    /// The book that is spoken of.
    #[must_use]
    pub const fn book(&self) -> &'b Book {
        self.book
    }

    /// `HD-1042`, or what an awaited thing is called.
    #[must_use]
    pub fn name(&self, thing: &Thing) -> String {
        match thing {
            Thing::Part(part) => self.book.part_number(*part).to_owned(),
            Thing::Awaited { .. } => self.description(thing),
        }
    }

    /// `HD-1042 Fuse box`, or what an awaited thing is called.
    fn full(&self, thing: &Thing) -> String {
        match thing.part().and_then(|part| self.book.parts.get(&part)) {
            Some(part) => format!("{} {}", part.number, part.description),
            None => self.description(thing),
        }
    }

    /// A part's number; empty for what is no part.
    #[must_use]
    pub fn part_number(&self, thing: &Thing) -> String {
        thing.part().map_or(String::new(), |part| self.book.part_number(part).to_owned())
    }

    /// A part's description, or what an awaited thing is called.
    #[must_use]
    pub fn description(&self, thing: &Thing) -> String {
        match thing {
            Thing::Part(part) => {
                let part = self.book.parts.get(part);
                part.map_or(String::new(), |part| part.description.clone())
            }
            Thing::Awaited { kind: AwaitedKind::Vehicle, name } => format!("the vehicle, {name}"),
            Thing::Awaited { name, .. } => name.clone(),
        }
    }

    /// `order P-2007 line 3, CORRIE, promised Fri 2026-10-02`; what passes through one finisher with
    /// others: `...; and HD-7: ...`.
    #[must_use]
    pub fn waits_for(&self, waits_for: &WaitsFor, joined: &[Awaiting]) -> String {
        let mut text = self.wait(waits_for);
        for other in joined {
            let (thing, wait) = (self.name(&other.thing), self.wait(&other.waits_for));
            text = format!("{text}; and {thing}: {wait}");
        }
        text
    }

    fn wait(&self, waits_for: &WaitsFor) -> String {
        match waits_for {
            WaitsFor::OrderLine { line, supposed_days } => {
                let mut text = self.comes_with(*line, *supposed_days);
                // Its order was placed for the line, so it is not given what becomes free: people decide.
                let part = self.book.order_lines.get(line).map(|line| line.part);
                let free = part.map_or(Quantity::ZERO, |part| self.book.available_of(part));
                if free.is_positive() {
                    text = format!("{text}; {free} of it lie free here");
                }
                text
            }
            WaitsFor::NotOrdered { offer, draft } => self.not_ordered(*offer, *draft),
            WaitsFor::ToMake(how) => self.making(*how),
            WaitsFor::AtFinisher { supplier, sent_on, promised_on } => {
                let code = self.book.supplier_code(*supplier);
                let since = sent_on.map_or(String::new(), |date| format!(" since {}", day(date)));
                let back = promised_on.map_or(String::new(), |promised| {
                    format!(", promised back {}{}", day(promised), self.overdue(promised))
                });
                format!("with {code}{since}{back}")
            }
            WaitsFor::Awaited { kind, source, asked_on, quoted_days, expected_on } => {
                let what = match kind {
                    AwaitedKind::Vehicle => "the customer brings the vehicle".to_owned(),
                    AwaitedKind::CustomerPart => "the customer brings it".to_owned(),
                    AwaitedKind::Paper if source.is_empty() => "paper".to_owned(),
                    AwaitedKind::Paper => format!("paper from {source}"),
                };
                match (expected_on, quoted_days) {
                    (Some(promised), _) => {
                        format!("{what}, expected {}{}", day(*promised), self.overdue(*promised))
                    }
                    (None, Some(days)) => {
                        format!("{what}, asked for {}, {days} days usual", day(*asked_on))
                    }
                    (None, None) => format!("{what}; no date yet"),
                }
            }
            WaitsFor::Customer => "the customer brings it; no date yet".to_owned(),
        }
    }

    fn comes_with(&self, line: OrderLineId, supposed_days: Option<i64>) -> String {
        let known = self.book.order_lines.get(&line).map(|line| self.order_line(line));
        let known = known.unwrap_or_default();
        match supposed_days {
            Some(days) if days < 0 => format!("{known}; supposed {} days sooner", -days),
            Some(days) => format!("{known}; supposed {days} days later"),
            None => known,
        }
    }

    fn overdue(&self, promised: Date) -> &'static str {
        if promised < self.as_of { ", overdue" } else { "" }
    }

    fn named(&self, line: &OrderLine) -> String {
        let order = self.book.orders.get(&line.order);
        let code = order.map_or("?", |order| self.book.supplier_code(order.supplier));
        format!("order {} line {}, {code}", self.book.order_number(line.order), line.number)
    }

    fn order_line(&self, line: &OrderLine) -> String {
        let name = self.named(line);
        let promise = line.promises.last().map(|promise| promise.promised_on);
        if let Some(left) = line.despatched_on {
            return match promise {
                Some(date) => format!("{name}, despatched {}, promised {}", day(left), day(date)),
                None => format!("{name}, despatched {}", day(left)),
            };
        }
        if let Some(date) = promise {
            return format!("{name}, promised {}{}", day(date), self.overdue(date));
        }
        let placed = line.placed_on.map_or(String::new(), |date| format!(", placed {}", day(date)));
        let quoted = line.quoted_days.map_or(String::new(), |days| format!(", {days} days quoted"));
        let answer = if line.acknowledged_on.is_some() { ", no date given" } else { ", no answer" };
        format!("{name}{placed}{quoted}{answer}")
    }

    /// `not ordered; CORRIE quotes 14 days`.
    fn not_ordered(&self, offer: Option<OfferId>, draft: Option<OrderLineId>) -> String {
        let draft = draft.and_then(|id| self.book.order_lines.get(&id));
        let what = match draft {
            Some(line) => format!("not placed: draft {}", self.named(line)),
            None => "not ordered".to_owned(),
        };
        let Some(offer) = offer.and_then(|id| self.book.offers.get(&id)) else {
            return format!("{what}; no supplier offers it");
        };
        let code = self.book.supplier_code(offer.supplier);
        match offer.quoted_days {
            Some(days) => format!("{what}; {code} quotes {days} days"),
            None => format!("{what}; {code} quotes no lead time"),
        }
    }

    fn making(&self, how: Made) -> String {
        match how {
            Made::InShop { working_days } => {
                format!("to be made in the shop, {}", working_days_text(working_days.into()))
            }
            Made::AtFinisher { supplier, quoted_days } => {
                let code = self.book.supplier_code(supplier);
                let quoted =
                    quoted_days.map_or(String::new(), |days| format!(", {days} days quoted"));
                format!("to be sent to {code}{quoted}")
            }
            Made::Listed => String::new(),
        }
    }

    /// Where a free quantity of a part lies: on the shelf, or on an order.
    #[must_use]
    pub fn free_on(&self, order_line: Option<OrderLineId>) -> String {
        match order_line {
            None => "on the shelf".to_owned(),
            Some(line) => {
                let supposed_days = self.book.supposed_days.get(&line).copied();
                self.comes_with(line, supposed_days)
            }
        }
    }

    /// What a reorder point stands on: `2.5 a day: 31 uses in 240 working days`.
    #[must_use]
    pub fn reorder_basis(&self, basis: &StandsOnUse) -> String {
        let (mean, uses, days) = match basis {
            StandsOnUse::OpenBuilds { needed } => return format!("open builds need {needed}"),
            StandsOnUse::Past { mean, uses, days, .. } => (mean, uses, days),
        };
        let seen = format!("{uses} uses in {days} working days");
        match basis {
            StandsOnUse::Past { basis: StockBasis::Normal, .. } => {
                format!("{mean:.1} a day, a short history: {seen}")
            }
            StandsOnUse::Past { basis: StockBasis::Least, .. } => {
                format!("the least stock that was set: {seen}")
            }
            _ => format!("{mean:.1} a day: {seen}"),
        }
    }
}

/// `Tue 2026-10-06`.
fn day(date: Date) -> String {
    date.strftime("%a %Y-%m-%d").to_string()
}

/// `1 working day`, `3 working days`.
fn working_days_text(days: i64) -> String {
    match days {
        1 => "1 working day".to_owned(),
        days => format!("{days} working days"),
    }
}
