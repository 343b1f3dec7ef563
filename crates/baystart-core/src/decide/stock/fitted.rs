//! Parts that were found, and goods without an order.

use crate::book::Change;
use crate::book::model::{Account, MovementKind, StockKey};
use crate::command::BinQuantity;
use crate::decide::Subject;
use crate::decide::binding_rule::bind_part;
use crate::decide::check;
use crate::decide::displace::trim;
use crate::decide::effect::{LineEffect, StockEffect};
use crate::decide::ledger::{Booking, Spot, lot_facts, post, say_handling, spot};
use crate::decide::work::Work;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

pub(super) struct Finding<'a> {
    pub(super) quantity: Quantity,
    pub(super) lot: &'a str,
    pub(super) reason: &'a str,
}

pub(super) fn found(
    work: &mut Work<'_, '_>,
    build: &Ref,
    number: i32,
    finding: &Finding<'_>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", finding.quantity);
    check::text(&mut faults, "reason", finding.reason, false);
    let day = check::occurred(work, &mut faults, occurred_on);
    let (build, line) = check::build_line(work.book, &mut faults, (build, number));
    let part = line.as_ref().and_then(|line| work.book.parts.get(&line.part).cloned());
    let mut key = None;
    if let Some(part) = &part {
        check::stocked(&mut faults, "line.line_number", part);
        if line.as_ref().is_some_and(|line| line.exploded) && !part.is_kit() {
            let message = format!("line {number} is a kit: name its components' lines");
            faults.push("line.line_number", Reason::KitNotStocked, message);
        }
        if line.as_ref().is_some_and(|line| line.made_for != 0) {
            let message = format!("line {number} is used up in making another line");
            faults.push("line.line_number", Reason::MadeLine, message);
        }
        let lot = check::lot(&mut faults, "lot", part, finding.lot);
        key = Some(StockKey { part: part.id, lot });
    }
    let (build, line, key) = faults.whole((build, line, key))?;
    if !build.state.keeps_bindings() {
        let message = format!("build {} is {}: nothing is fitted to it", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message));
    }
    let kind = MovementKind::Found;
    let reason = finding.reason;
    let booking = Booking { kind, day, reason, line: Some(line.id), order_line: None };
    post(work, &key, Account::Variance, Account::Build(build.id), finding.quantity, &booking);
    let issued = line.issued + finding.quantity;
    work.change(Change::Line(crate::book::model::Line { issued, ..line.clone() }));
    work.on_line(&line, finding.quantity, LineEffect::Found { lot: key.lot });
    crate::decide::issue::say_over_issue(work, line.id);
    trim(work, line.id);
    bind_part(work, line.part);
    Ok(Subject::None)
}

pub(super) fn receive(
    work: &mut Work<'_, '_>,
    at: &BinQuantity,
    supplier: Option<&Ref>,
    reason: &str,
    expires_on: Option<Date>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    check::positive(&mut faults, "quantity", at.quantity);
    check::text(&mut faults, "reason", reason, false);
    let from = match supplier {
        None => Some(Account::UnknownSupplier),
        Some(wanted) => {
            let found = work.book.find_supplier(wanted).map(|s| Account::Supplier(s.id));
            faults.take("supplier", found)
        }
    };
    let spot = spot(work, &mut faults, at, "bin", occurred_on);
    let (Spot { part, bin, key, day }, from) = faults.whole((spot, from))?;
    lot_facts(work, &key, expires_on, day);
    let kind = MovementKind::Receipt;
    let booking = Booking { kind, day, reason, line: None, order_line: None };
    post(work, &key, from, Account::Bin(bin), at.quantity, &booking);
    work.on_stock(&key, bin, at.quantity, StockEffect::Received);
    say_handling(work, &part);
    bind_part(work, key.part);
    Ok(Subject::None)
}
