//! Bookings that concern no order and no build, and found parts.

mod adjust;
mod fitted;
mod shift;

use crate::book::model::MovementKind;
use crate::command::StockCommand;
use crate::decide::Subject;
use crate::decide::work::Work;
use crate::refusal::Refusal;
use adjust::Adjusting;
use fitted::Finding;
use shift::{Place, Shift};

pub(super) fn run(work: &mut Work<'_, '_>, command: &StockCommand) -> Result<Subject, Refusal> {
    match command {
        StockCommand::Adjust { at, reason, expires_on, opening, quarantined, occurred_on } => {
            let how = Adjusting { reason, expires_on: *expires_on, opening: *opening };
            adjust::adjust(work, at, &how, *quarantined, *occurred_on)
        }
        StockCommand::Move { at, to, occurred_on } => shift::transfer(work, at, to, *occurred_on),
        StockCommand::Scrap { at, reason, from_quarantine, occurred_on } => {
            let from = if *from_quarantine { Place::Quarantine } else { Place::Usable };
            let kind = MovementKind::Scrap;
            shift::shift(work, at, &Shift { kind, from, to: Place::Scrap, reason }, *occurred_on)
        }
        StockCommand::Quarantine { at, reason, occurred_on } => {
            let (kind, from, to) = (MovementKind::Quarantine, Place::Usable, Place::Quarantine);
            shift::shift(work, at, &Shift { kind, from, to, reason }, *occurred_on)
        }
        StockCommand::ReleaseQuarantine { at, reason, occurred_on } => {
            let (kind, from, to) =
                (MovementKind::QuarantineRelease, Place::Quarantine, Place::Usable);
            shift::shift(work, at, &Shift { kind, from, to, reason }, *occurred_on)
        }
        StockCommand::ReturnToSupplier { at, supplier, reason, from_quarantine, occurred_on } => {
            let mut faults = crate::refusal::Faults::new();
            let found = work.book.find_supplier(supplier).map(|supplier| supplier.id);
            let to = faults.take("supplier", found).map(Place::Supplier);
            let from = if *from_quarantine { Place::Quarantine } else { Place::Usable };
            let kind = MovementKind::ReturnToSupplier;
            shift::shift_after(work, faults, at, (kind, from, to, reason), *occurred_on)
        }
        StockCommand::Found { build, line, quantity, lot, reason, occurred_on } => fitted::found(
            work,
            build,
            *line,
            &Finding { quantity: *quantity, lot, reason },
            *occurred_on,
        ),
        StockCommand::Receive { at, supplier, reason, expires_on, occurred_on } => {
            fitted::receive(work, at, supplier.as_ref(), reason, *expires_on, *occurred_on)
        }
    }
}
