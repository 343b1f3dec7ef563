//! A book as it was known at the end of a day, and what of a build is another since.

use crate::book::Book;
use crate::book::model::{
    Awaited, Build, Line, Order, OrderLine, Peg, Reservation, Settings, Stage,
};
use crate::book::{Row, Table};
use crate::ids::{
    AwaitedId, BuildId, LineId, OrderId, OrderLineId, PartId, ReservationId, StageId,
};
use std::collections::BTreeSet;

/// A row as it was known; None: there was none yet.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs)]
pub enum PastRow {
    Settings(Box<Settings>),
    Build(BuildId, Option<Box<Build>>),
    Stage(StageId, Option<Box<Stage>>),
    Line(LineId, Option<Box<Line>>),
    Awaited(AwaitedId, Option<Box<Awaited>>),
    Reservation(ReservationId, Option<Reservation>),
    Order(OrderId, Option<Box<Order>>),
    OrderLine(OrderLineId, Option<Box<OrderLine>>),
    Peg((LineId, OrderLineId), Option<Peg>),
}

/// The book with these rows as they were. Stock, parts, suppliers, offers and closed days stay as they are.
#[must_use]
pub fn past(book: &Book, rows: Vec<PastRow>) -> Book {
    let mut book = book.clone();
    for row in rows {
        match row {
            PastRow::Settings(settings) => book.settings = Some(*settings),
            PastRow::Build(id, row) => put(&mut book.builds, id, row.map(|row| *row)),
            PastRow::Stage(id, row) => put(&mut book.stages, id, row.map(|row| *row)),
            PastRow::Line(id, row) => put(&mut book.lines, id, row.map(|row| *row)),
            PastRow::Awaited(id, row) => put(&mut book.awaited, id, row.map(|row| *row)),
            PastRow::Reservation(id, row) => {
                put(&mut book.reservations, id, row.filter(|row| !row.held.is_zero()));
            }
            PastRow::Order(id, row) => put(&mut book.orders, id, row.map(|row| *row)),
            PastRow::OrderLine(id, row) => put(&mut book.order_lines, id, row.map(|row| *row)),
            PastRow::Peg(key, row) => {
                put(&mut book.pegs, key, row.filter(|row| !row.quantity.is_zero()));
            }
        }
    }
    book
}

fn put<R: Row>(table: &mut Table<R>, key: R::Key, row: Option<R>) {
    match row {
        Some(row) => table.insert(key, row),
        None => table.remove(&key),
    };
}

/// What of a build is another than it was.
pub(super) struct Changes {
    /// Parts of which it holds another quantity, or that it has on other orders.
    pub(super) held: Vec<PartId>,
    /// Parts of lines that it did not have, or of which it needs more.
    pub(super) added: Vec<PartId>,
    /// Parts of lines that it has no more, or of which it needs less.
    pub(super) removed: Vec<PartId>,
}

impl Changes {
    pub(super) fn of(now: &Book, then: &Book, build: BuildId) -> Self {
        let (mut held, mut added) = (BTreeSet::new(), BTreeSet::new());
        let mut removed = BTreeSet::new();
        for line in now.lines_of(build) {
            let Some(was) = then.lines.get(&line.id) else {
                added.insert(line.part);
                continue;
            };
            let here = |book: &Book, line: &Line| line.issued + book.held_for(line.id);
            let pegged = |book: &Book| book.pegs_of(line.id).copied().collect::<Vec<Peg>>();
            if here(now, line) != here(then, was) || pegged(now) != pegged(then) {
                held.insert(line.part);
            }
            if line.required > was.required || line.part != was.part {
                added.insert(line.part);
            }
            if line.required < was.required || line.part != was.part {
                removed.insert(was.part);
            }
        }
        let gone = then.lines_of(build).into_iter().filter(|was| now.lines.get(&was.id).is_none());
        removed.extend(gone.map(|was| was.part));
        let listed = |parts: BTreeSet<PartId>| parts.into_iter().collect();
        Self { held: listed(held), added: listed(added), removed: listed(removed) }
    }
}

/// Gives the build's lines what they held then, and the orders on which they waited as they stood.
pub(super) fn held_as(book: &mut Book, then: &Book, build: BuildId) {
    let lines: BTreeSet<LineId> = book.lines_of(build).into_iter().map(|line| line.id).collect();
    book.reservations.retain(|_, row| !lines.contains(&row.line));
    book.pegs.retain(|(line, _), _| !lines.contains(line));
    for id in &lines {
        let Some(was) = then.lines.get(id) else { continue };
        for row in then.reservations_of(*id) {
            book.reservations.insert(row.id, row.clone());
        }
        for peg in then.pegs_of(*id) {
            book.pegs.insert((peg.line, peg.order_line), *peg);
            let Some(supply) = then.order_lines.get(&peg.order_line) else { continue };
            book.order_lines.insert(supply.id, supply.clone());
            if let Some(order) = then.orders.get(&supply.order) {
                book.orders.insert(order.id, order.clone());
            }
        }
        if let Some(mut line) = book.lines.get_mut(id) {
            line.issued = was.issued;
            line.making.clone_from(&was.making);
        }
    }
}
