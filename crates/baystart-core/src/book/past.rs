//! A book as it was known before.

use super::model::{Awaited, Build, Line, Order, OrderLine, Peg, Reservation, Settings, Stage};
use super::{Book, Row, Table};
use crate::ids::{AwaitedId, BuildId, LineId, OrderId, OrderLineId, ReservationId, StageId};

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

impl Book {
    /// The book with these rows as they were. Stock, parts, suppliers, offers and closed days stay as they are.
    #[must_use]
    pub fn as_known(&self, rows: Vec<PastRow>) -> Self {
        let mut book = self.clone();
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
}

fn put<R: Row>(table: &mut Table<R>, key: R::Key, row: Option<R>) {
    match row {
        Some(row) => table.insert(key, row),
        None => table.remove(&key),
    };
}
