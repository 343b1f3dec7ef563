//! Applying a change to a book, and taking it back.

use super::model::{
    Account, Awaited, BinBalance, Build, Closure, Line, Movement, Offer, Order, OrderLine, Part,
    Peg, Reservation, Settings, Stage, Stock, StockKey, Supplier, Token,
};
use super::table::{Row, Table};
use super::{Book, Change};
use crate::ids::{
    AwaitedId, BinId, BuildId, LineId, OfferId, OrderId, OrderLineId, PartId, ReservationId,
    StageId, SupplierId, TokenId,
};
use crate::quantity::Quantity;
use imbl::OrdMap;

/// What a change replaced: enough to take it back.
#[derive(Clone, Debug)]
#[allow(missing_docs)]
pub enum Undo {
    Settings(Option<Settings>),
    ClosureAdded(Closure, bool),
    ClosureRemoved(Closure, bool),
    Part(PartId, Option<Part>),
    Supplier(SupplierId, Option<Supplier>),
    Offer(OfferId, Option<Offer>),
    Bin(BinId),
    Stock(StockKey, Option<Stock>),
    Moved(Vec<(StockKey, Option<Stock>)>, Vec<((StockKey, BinId), Option<BinBalance>)>, bool),
    Build(BuildId, Option<Build>),
    Stage(StageId, Option<Stage>),
    Line(LineId, Option<Line>),
    Awaited(AwaitedId, Option<Awaited>),
    Reservation(ReservationId, Option<Reservation>, StockKey, Option<Stock>),
    Order(OrderId, Option<Order>),
    OrderLine(OrderLineId, Option<OrderLine>),
    Peg((LineId, OrderLineId), Option<Peg>),
    Token(TokenId, Option<Token>),
}

fn put_back_row<R: Row>(table: &mut Table<R>, key: R::Key, old: Option<R>) {
    match old {
        Some(old) => table.insert(key, old),
        None => table.remove(&key),
    };
}

fn put_back<K: Ord + Clone, V: Clone>(map: &mut OrdMap<K, V>, key: K, old: Option<V>) {
    match old {
        Some(old) => map.insert(key, old),
        None => map.remove(&key),
    };
}

impl Book {
    /// Applies one change and returns what takes it back.
    pub fn apply(&mut self, change: &Change) -> Undo {
        match change {
            Change::Settings(row) => Undo::Settings(self.settings.replace(row.clone())),
            Change::ClosureAdded(row) => {
                Undo::ClosureAdded(row.clone(), self.closures.insert(row.clone()))
            }
            Change::ClosureRemoved(row) => {
                Undo::ClosureRemoved(row.clone(), self.closures.remove(row))
            }
            Change::Part(row) => Undo::Part(row.id, self.parts.insert(row.id, row.clone())),
            Change::Supplier(row) => {
                Undo::Supplier(row.id, self.suppliers.insert(row.id, row.clone()))
            }
            Change::Offer(row) => Undo::Offer(row.id, self.offers.insert(row.id, row.clone())),
            Change::Bin(row) => {
                self.bins.insert(row.id, row.clone());
                Undo::Bin(row.id)
            }
            Change::Lot { key, expires_on, first_received_on } => {
                let old = self.stock.get(key).cloned();
                let stock = self.stock.entry(key.clone()).or_default();
                stock.expires_on = *expires_on;
                stock.first_received_on = *first_received_on;
                Undo::Stock(key.clone(), old)
            }
            Change::Moved(movement) => self.book(movement),
            Change::Build(row) => Undo::Build(row.id, self.builds.insert(row.id, row.clone())),
            Change::Stage(row) => Undo::Stage(row.id, self.stages.insert(row.id, row.clone())),
            Change::Line(row) => Undo::Line(row.id, self.lines.insert(row.id, row.clone())),
            Change::Awaited(row) => Undo::Awaited(row.id, self.awaited.insert(row.id, row.clone())),
            Change::Reservation(row) => self.set_reservation(row),
            Change::Order(row) => Undo::Order(row.id, self.orders.insert(row.id, row.clone())),
            Change::OrderLine(row) => {
                Undo::OrderLine(row.id, self.order_lines.insert(row.id, row.clone()))
            }
            Change::Peg(row) => {
                let key = (row.line, row.order_line);
                let old = match row.quantity.is_zero() {
                    true => self.pegs.remove(&key),
                    false => self.pegs.insert(key, *row),
                };
                Undo::Peg(key, old)
            }
            Change::Token(row) => Undo::Token(row.id, self.tokens.insert(row.id, row.clone())),
        }
    }

    /// Takes a change back; the last one applied first.
    pub fn take_back(&mut self, undo: Undo) {
        match undo {
            Undo::Settings(old) => self.settings = old,
            Undo::ClosureAdded(row, was_new) => {
                if was_new {
                    self.closures.remove(&row);
                }
            }
            Undo::ClosureRemoved(row, was_there) => {
                if was_there {
                    self.closures.insert(row);
                }
            }
            Undo::Part(id, old) => put_back_row(&mut self.parts, id, old),
            Undo::Supplier(id, old) => put_back_row(&mut self.suppliers, id, old),
            Undo::Offer(id, old) => put_back_row(&mut self.offers, id, old),
            Undo::Bin(id) => {
                self.bins.remove(&id);
            }
            Undo::Stock(key, old) => put_back(&mut self.stock, key, old),
            Undo::Moved(stock, balances, kept) => {
                for (key, old) in stock.into_iter().rev() {
                    put_back(&mut self.stock, key, old);
                }
                for (key, old) in balances.into_iter().rev() {
                    put_back(&mut self.balances, key, old);
                }
                if kept {
                    self.ledger.pop();
                }
            }
            Undo::Build(id, old) => put_back_row(&mut self.builds, id, old),
            Undo::Stage(id, old) => put_back_row(&mut self.stages, id, old),
            Undo::Line(id, old) => put_back_row(&mut self.lines, id, old),
            Undo::Awaited(id, old) => put_back_row(&mut self.awaited, id, old),
            Undo::Reservation(id, old, key, stock) => {
                put_back_row(&mut self.reservations, id, old);
                put_back(&mut self.stock, key, stock);
            }
            Undo::Order(id, old) => put_back_row(&mut self.orders, id, old),
            Undo::OrderLine(id, old) => put_back_row(&mut self.order_lines, id, old),
            Undo::Peg(key, old) => put_back_row(&mut self.pegs, key, old),
            Undo::Token(id, old) => put_back(&mut self.tokens, id, old),
        }
    }

    fn book(&mut self, movement: &Movement) -> Undo {
        let mut stock = Vec::new();
        let mut balances = Vec::new();
        for entry in &movement.entries {
            let (bin, usable, quarantined) = match entry.account {
                Account::Bin(bin) => (bin, entry.quantity, Quantity::ZERO),
                Account::Quarantine(bin) => (bin, Quantity::ZERO, entry.quantity),
                _ => continue,
            };
            stock.push((entry.key.clone(), self.stock.get(&entry.key).cloned()));
            let total = self.stock.entry(entry.key.clone()).or_default();
            total.usable += usable;
            total.quarantined += quarantined;
            let key = (entry.key.clone(), bin);
            balances.push((key.clone(), self.balances.get(&key).copied()));
            let balance = self.balances.entry(key).or_default();
            balance.usable += usable;
            balance.quarantined += quarantined;
        }
        if self.keep_ledger {
            self.ledger.push(movement.clone());
        }
        Undo::Moved(stock, balances, self.keep_ledger)
    }

    fn set_reservation(&mut self, row: &Reservation) -> Undo {
        let old = self.reservations.insert(row.id, row.clone());
        let before = old.as_ref().map_or(Quantity::ZERO, |old| old.held);
        let stock = self.stock.get(&row.key).cloned();
        self.stock.entry(row.key.clone()).or_default().reserved += row.held - before;
        Undo::Reservation(row.id, old, row.key.clone(), stock)
    }
}
