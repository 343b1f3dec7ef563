//! Orders with lines, promises and pegs.

use super::{date, decimal, etag, money};
use crate::v1;
use baystart_core::book::Book;
use baystart_core::book::model::{Order, OrderLine, OrderLineState, Peg, Promise, TakenBack};

/// An order with its lines; the book holds the builds that they are pegged to.
#[must_use]
pub fn order(book: &Book, order: &Order) -> v1::Order {
    let supplier = book.suppliers.get(&order.supplier).map_or("?", |s| s.code.written());
    v1::Order {
        uid: order.id.to_string(),
        number: order.number.written().to_owned(),
        supplier_code: supplier.to_owned(),
        supplier_reference: order.supplier_reference.clone(),
        lines: book.lines_of_order(order.id).into_iter().map(|l| line(book, l)).collect(),
        etag: etag(order.version),
    }
}

const fn state(state: OrderLineState) -> v1::OrderLineState {
    match state {
        OrderLineState::Draft => v1::OrderLineState::Draft,
        OrderLineState::Placed => v1::OrderLineState::Placed,
        OrderLineState::Acknowledged => v1::OrderLineState::Acknowledged,
        OrderLineState::Despatched => v1::OrderLineState::Despatched,
        OrderLineState::Received => v1::OrderLineState::Received,
        OrderLineState::Cancelled => v1::OrderLineState::Cancelled,
    }
}

fn line(book: &Book, line: &OrderLine) -> v1::OrderLine {
    let part = book.parts.get(&line.part);
    let promise = |promise: &Promise| v1::Promise {
        promised_on: Some(date(promise.promised_on)),
        known_on: Some(date(promise.known_on)),
    };
    v1::OrderLine {
        line_number: line.number,
        part_number: book.part_number(line.part).to_owned(),
        part_description: part.map(|part| part.description.clone()).unwrap_or_default(),
        unit_code: part.map(|part| part.unit.code().to_owned()).unwrap_or_default(),
        state: state(line.state()).into(),
        ordered: Some(decimal(line.ordered)),
        received: Some(decimal(line.received)),
        cancelled_by_us: Some(decimal(line.cancelled_by_us)),
        cancelled_by_supplier: Some(decimal(line.cancelled_by_supplier)),
        on_order: Some(decimal(line.on_order())),
        pegged: Some(decimal(book.pegged_on(line.id))),
        price: line.price.map(money),
        placed_on: line.placed_on.map(date),
        acknowledged_on: line.acknowledged_on.map(date),
        despatched_on: line.despatched_on.map(date),
        promises: line.promises.iter().map(promise).collect(),
        quoted_lead_time_days: line.quoted_days.map(|days| i32::try_from(days).unwrap_or(i32::MAX)),
        pegs: pegs(book, line),
        last_contact_on: line.last_contact_on.map(date),
        package: line.package,
        package_line_number: line.package_line,
        rejected: Some(decimal(line.rejected)),
        taken_back: line.taken_back.iter().map(taken_back).collect(),
    }
}

fn taken_back(row: &TakenBack) -> v1::TakenBackPromise {
    v1::TakenBackPromise {
        promised_on: Some(date(row.promise.promised_on)),
        known_on: Some(date(row.promise.known_on)),
        taken_back_on: Some(date(row.on)),
        reason: row.reason.clone(),
    }
}

fn pegs(book: &Book, line: &OrderLine) -> Vec<v1::OrderLinePeg> {
    let mut pegs: Vec<&Peg> = book.pegs_on(line.id).collect();
    pegs.sort_by_key(|peg| {
        let build = book.lines.get(&peg.line).and_then(|l| book.builds.get(&l.build));
        let number = book.lines.get(&peg.line).map(|l| l.number);
        (build.map(|build| book.service_key(build)), number)
    });
    let wire = |peg: &Peg| {
        let line = book.lines.get(&peg.line);
        let build = line.and_then(|line| book.builds.get(&line.build));
        let stage = line.and_then(|line| book.stages.get(&line.stage));
        v1::OrderLinePeg {
            build_number: build.map_or("?", |build| build.number.written()).to_owned(),
            stage_name: stage.map_or("?", |stage| stage.name.written()).to_owned(),
            line_number: line.map_or(0, |line| line.number),
            quantity: Some(decimal(peg.quantity)),
            kept: peg.kept,
        }
    };
    pegs.into_iter().map(wire).collect()
}
