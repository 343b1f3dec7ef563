//! Orders, line by line, from draft to despatch and cancellation.

mod cancel;
mod create;
mod named;
mod news;
mod package;
mod place;
mod receipts;
mod reject;
mod suggested;
mod taken_back;

pub(super) use create::blank;
pub(super) use package::{line_of, pieces};
pub(super) use place::peg_for;

use super::Subject;
use super::effect::{Effect, OrderEffect, OrderLineEffect};
use super::work::Work;
use crate::book::Change;
use crate::book::model::Order;
use crate::command::OrderCommand;
use crate::ids::{OrderId, OrderLineId};
use crate::refusal::Refusal;
use cancel::{Cancelling, cancel};
use reject::Rejecting;

pub(super) fn run(work: &mut Work<'_, '_>, command: &OrderCommand) -> Result<Subject, Refusal> {
    match command {
        OrderCommand::Create { number, supplier, lines, placed_on } => {
            create::create(work, number, supplier, lines, *placed_on)
        }
        OrderCommand::DraftSuggested { supplier } => {
            suggested::draft_suggested(work, supplier.as_ref())
        }
        OrderCommand::Place { order, occurred_on, unneeded_too } => {
            place::place_drafts(work, order, *occurred_on, *unneeded_too)
        }
        OrderCommand::Acknowledge { order, supplier_reference, promises, occurred_on } => {
            news::acknowledge(work, order, supplier_reference, promises, *occurred_on)
        }
        OrderCommand::Despatch { order, lines, occurred_on } => {
            news::despatch(work, order, lines, *occurred_on)
        }
        OrderCommand::Contact { order, lines, note, occurred_on } => {
            news::contact(work, order, lines, note, *occurred_on)
        }
        OrderCommand::TakeBack { order, lines, reason, occurred_on } => {
            taken_back::take_back(work, order, lines, reason, *occurred_on)
        }
        OrderCommand::Receive { order, lines, occurred_on } => {
            receipts::receive(work, order, lines, *occurred_on)
        }
        OrderCommand::Cancel { order, lines, quantity, by, reason, occurred_on } => {
            let how = Cancelling { quantity: *quantity, by: *by, reason };
            cancel(work, order, lines, &how, *occurred_on)
        }
        OrderCommand::Reject { order, line, quantity, how, settlement, reason, occurred_on } => {
            let what = Rejecting { quantity: *quantity, how, settlement: *settlement, reason };
            reject::reject(work, order, *line, &what, *occurred_on)
        }
    }
}

fn on_order(work: &mut Work<'_, '_>, order: OrderId, what: OrderEffect) {
    work.effect(Effect::Order { order, what });
}

fn on_line(work: &mut Work<'_, '_>, line: OrderLineId, what: OrderLineEffect) {
    work.effect(Effect::OrderLine { line, what });
}

/// Counts a change of the order.
fn touch(work: &mut Work<'_, '_>, order: OrderId) {
    let Some(row) = work.book.orders.get(&order).cloned() else { return };
    work.change(Change::Order(Order { version: row.version + 1, ..row }));
}
