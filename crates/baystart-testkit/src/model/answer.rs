//! What the model foresees.

use super::{Model, Now};
use baystart_core::command::Command;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_core::units::Unit;
use jiff::civil::Date;

/// The answer to a command.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Answer {
    Accepted,
    Refused(Reason),
    /// Either is right.
    Unsure,
    /// What was done cannot be.
    Impossible(String),
}

/// Reasons of faulty fields: all at once, as callers get them.
#[derive(Debug, Default)]
pub(crate) struct Faults(Vec<Reason>);

impl Faults {
    pub(crate) fn push(&mut self, reason: Reason) {
        self.0.push(reason);
    }

    pub(crate) fn when(&mut self, wrong: bool, reason: Reason) {
        if wrong {
            self.push(reason);
        }
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The one reason where all agree, else that several fields are wrong.
    pub(crate) fn check(&self) -> Result<(), Answer> {
        let Some(first) = self.0.first() else { return Ok(()) };
        let agreed = self.0.iter().all(|reason| reason == first);
        Err(Answer::Refused(if agreed { *first } else { Reason::FieldsInvalid }))
    }

    pub(crate) fn positive(&mut self, quantity: Quantity) {
        self.when(!quantity.is_positive(), Reason::QuantityInvalid);
    }

    pub(crate) fn text(&mut self, text: &str, needed: bool) {
        self.when(needed && text.trim().is_empty(), Reason::FieldMissing);
        let odd = text.contains(['\u{200b}', '\u{202e}']);
        self.when(odd || text.chars().count() > 500, Reason::ValueInvalid);
    }

    pub(crate) fn some(&mut self, count: usize) {
        self.when(count == 0, Reason::FieldMissing);
    }

    pub(crate) fn day(&mut self, now: &Now<'_>, given: Option<Date>) -> Date {
        let day = given.unwrap_or(now.today);
        self.when(day > now.today, Reason::DateInFuture);
        day
    }
}

pub(crate) fn refused(reason: Reason) -> Answer {
    Answer::Refused(reason)
}

/// A command of the world in which lines are more than bought parts: this model knows nothing of it.
pub(crate) fn not_here(command: &Command) -> Answer {
    Answer::Impossible(format!("{command:?} does not belong to a shop of bought parts"))
}

macro_rules! named {
    ($name:ident, $rows:ident, $field:ident, $id:ident, $has:ident, $reason:ident) => {
        pub(crate) fn $name(
            &self,
            faults: &mut Faults,
            wanted: &Ref,
            now: &Now<'_>,
        ) -> Option<String> {
            let number = match wanted {
                Ref::Number(number) => Some(number.normal().to_owned()),
                Ref::Uid(uid) => {
                    let row = now.book.$rows.get(&baystart_core::ids::$id(*uid));
                    row.map(|row| row.$field.normal().to_owned())
                }
            };
            let number = number.filter(|number| self.$has(number));
            faults.when(number.is_none(), Reason::$reason);
            number
        }
    };
}

impl Model {
    named!(part_named, parts, number, PartId, has_part, PartUnknown);
    named!(supplier_named, suppliers, code, SupplierId, has_supplier, SupplierUnknown);
    named!(bin_named, bins, code, BinId, has_bin, BinUnknown);
    named!(build_named, builds, number, BuildId, has_build, BuildUnknown);
    named!(order_named, orders, number, OrderId, has_order, OrderUnknown);

    fn has_part(&self, number: &str) -> bool {
        self.parts.contains_key(number)
    }

    fn has_supplier(&self, code: &str) -> bool {
        self.suppliers.contains_key(code)
    }

    fn has_bin(&self, code: &str) -> bool {
        self.bins.contains(code)
    }

    fn has_build(&self, number: &str) -> bool {
        self.builds.contains_key(number)
    }

    fn has_order(&self, number: &str) -> bool {
        self.orders.contains_key(number)
    }

    pub(crate) fn is_kit(&self, part: &str) -> bool {
        self.parts.get(part).is_some_and(|row| !row.components.is_empty())
    }

    pub(crate) fn is_consumable(&self, part: &str) -> bool {
        self.parts.get(part).is_some_and(|row| row.consumable)
    }

    pub(crate) fn is_lot_tracked(&self, part: &str) -> bool {
        self.parts.get(part).is_some_and(|row| row.lot_tracked)
    }

    /// The lot in normal form, with its fault.
    pub(crate) fn lot(&self, faults: &mut Faults, part: &str, given: &str) -> String {
        let tracked = self.is_lot_tracked(part);
        if given.trim().is_empty() {
            faults.when(tracked, Reason::LotNeeded);
            return String::new();
        }
        if !tracked {
            faults.push(Reason::LotNotTracked);
            return String::new();
        }
        given.trim().to_uppercase()
    }

    pub(crate) fn unit(&self, faults: &mut Faults, part: &str, given: Option<Unit>) {
        let Some(given) = given else { return };
        let own = self.parts.get(part).map(|row| row.unit);
        faults.when(own != Some(given), Reason::UnitMismatch);
    }
}
