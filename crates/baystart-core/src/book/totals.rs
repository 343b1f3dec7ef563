//! Sums that follow from the rows.

use super::Book;
use super::model::{
    Awaited, BinBalance, Line, Lot, Making, OrderLine, Peg, Reservation, Stock, StockKey,
};
use super::table::Id as _;
use crate::ids::{BinId, BuildId, LineId, OrderLineId, PartId};
use crate::quantity::Quantity;

impl Book {
    /// Stock set aside for a line.
    #[must_use]
    pub fn held_for(&self, line: LineId) -> Quantity {
        self.reservations_of(line).map(|r| r.held).sum()
    }

    /// A line's reservations, by id.
    pub fn reservations_of(&self, line: LineId) -> impl Iterator<Item = &Reservation> {
        self.reservations.index().of_line.of(line).filter_map(|id| self.reservations.get(&id))
    }

    /// A line's pegs, by order line.
    pub fn pegs_of(&self, line: LineId) -> impl Iterator<Item = &Peg> {
        let low = OrderLineId(uuid::Uuid::nil());
        let high = OrderLineId(uuid::Uuid::max());
        self.pegs.range((line, low)..=(line, high)).map(|(_, peg)| peg)
    }

    /// Pegs on an order line.
    pub fn pegs_on(&self, order_line: OrderLineId) -> impl Iterator<Item = &Peg> {
        let lines = self.pegs.index().of(order_line);
        lines.filter_map(move |line| self.pegs.get(&(line, order_line)))
    }

    /// Quantity pegged for a line.
    #[must_use]
    pub fn pegged_for(&self, line: LineId) -> Quantity {
        self.pegs_of(line).map(|peg| peg.quantity).sum()
    }

    /// Quantity of an order line that is pegged.
    #[must_use]
    pub fn pegged_on(&self, order_line: OrderLineId) -> Quantity {
        self.pegs_on(order_line).map(|peg| peg.quantity).sum()
    }

    /// Quantity of an order line that is on order and not pegged.
    #[must_use]
    pub fn free_on(&self, order_line: &OrderLine) -> Quantity {
        order_line.on_order() - self.pegged_on(order_line.id)
    }

    /// What a line still needs from stock or orders: required less issued.
    #[must_use]
    pub fn open_need(&self, line: &Line) -> Quantity {
        if line.exploded {
            return Quantity::ZERO;
        }
        (line.required - line.issued).or_zero()
    }

    /// RS-3: required less issued, reserved, pegged and still to be made, or nothing.
    #[must_use]
    pub fn short_of(&self, line: &Line) -> Quantity {
        let made = line.making.as_ref().map_or(Quantity::ZERO, Making::open);
        (self.open_need(line) - self.held_for(line.id) - self.pegged_for(line.id) - made).or_zero()
    }

    /// The lines whose parts are used up for a line that is made.
    #[must_use]
    pub fn components_of(&self, made: &Line) -> Vec<&Line> {
        let mut lines = self.lines_of(made.build);
        lines.retain(|line| made.making.is_some() && line.made_for == made.number);
        lines
    }

    /// A build's awaited things by number.
    #[must_use]
    pub fn awaited_of(&self, build: BuildId) -> Vec<&Awaited> {
        let ids = self.awaited.index().of_build.between((build, i32::MIN), (build, i32::MAX));
        ids.filter_map(|id| self.awaited.get(&id)).collect()
    }

    /// Usable quantity of a part over all lots that is not reserved.
    #[must_use]
    pub fn available_of(&self, part: PartId) -> Quantity {
        self.stock_of(part).map(|(_, stock)| stock.available()).sum()
    }

    /// A part's stock, by lot.
    pub fn stock_of(&self, part: PartId) -> impl Iterator<Item = (&StockKey, &Stock)> {
        let first = StockKey { part, lot: Lot::default() };
        self.stock.range(first..).take_while(move |(key, _)| key.part == part)
    }

    /// Where a part's lot lies, by bin.
    pub fn bins_of(&self, key: &StockKey) -> impl Iterator<Item = (BinId, &BinBalance)> {
        let from = (key.clone(), BinId::FIRST)..=(key.clone(), BinId::LAST);
        self.balances.range(from).map(|((_, bin), balance)| (*bin, balance))
    }

    /// Whether a line can hold a build up.
    #[must_use]
    pub fn gates(&self, line: &Line) -> bool {
        let consumable = self.parts.get(&line.part).is_some_and(|part| part.consumable);
        !line.exploded && !consumable && line.required.is_positive()
    }
}
