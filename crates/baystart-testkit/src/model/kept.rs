//! What a person did by hand stands, and what a far build takes (see [`super`],
//! 8 and 9).

use super::binding::{Bindings, supply_key};
use super::{LineKey, Model, Now};
use baystart_core::book::Book;
use baystart_core::command::{BindCommand, Command, LineQuantity};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;

impl Model {
    pub(super) fn by_hand(
        &self,
        command: &BindCommand,
        before: &Bindings,
        book: &Book,
    ) -> Result<(), String> {
        match command {
            BindCommand::Reserve { build, lines } => self.changed(build, lines, 1, before, book),
            BindCommand::Release { build, lines } => self.changed(build, lines, -1, before, book),
            BindCommand::Peg { build, line, order, order_line, quantity } => {
                self.pegged((build, *line), (order, *order_line), *quantity, before, book)
            }
            BindCommand::Unpeg { build, line, order, order_line } => {
                self.unpegged((build, *line), (order, *order_line), before, book)
            }
            BindCommand::Lend { build, line, to_build, to_line, quantity, .. } => {
                let from = key_of(build, *line, book);
                let to = key_of(to_build, *to_line, book);
                self.lent(&from, &to, *quantity, before)
            }
            BindCommand::Issue { .. } | BindCommand::Return { .. } | BindCommand::Pick { .. } => {
                Ok(())
            }
        }
    }

    /// A line that is named once with a quantity holds so much more or less.
    fn changed(
        &self,
        build: &Ref,
        lines: &[LineQuantity],
        sign: i64,
        before: &Bindings,
        book: &Book,
    ) -> Result<(), String> {
        for wish in lines {
            let once = lines.iter().filter(|other| other.line == wish.line).count() == 1;
            let Some(quantity) = wish.quantity.filter(|_| once) else { continue };
            let key = key_of(build, wish.line, book);
            let (had, has) = (before.of(&key), self.bound.of(&key));
            if has.held() - had.held() != sign * quantity.milli() {
                return Err(format!("by hand: {key:?} had {had:?}, now {has:?}"));
            }
            if sign < 0 && has.pegged() > had.pegged() {
                return Err(format!("by hand: {key:?} was bound again: {has:?}"));
            }
        }
        Ok(())
    }

    fn pegged(
        &self,
        (build, line): (&Ref, i32),
        supply: (&Ref, i32),
        quantity: Option<Quantity>,
        before: &Bindings,
        book: &Book,
    ) -> Result<(), String> {
        let key = key_of(build, line, book);
        let Some(supply) = supply_of(supply, book) else { return Ok(()) };
        let (had, has) = (before.of(&key), self.bound.of(&key));
        let earlier = had.pegs.get(&supply).map_or(0, |(milli, _)| *milli);
        let grown = has.kept(&supply) - earlier;
        let asked = quantity.map_or(grown, Quantity::milli);
        match grown == asked && grown > 0 && has.held() == had.held() {
            true => Ok(()),
            false => Err(format!("by hand: {key:?} had {had:?}, now {has:?}")),
        }
    }

    /// What the one line got is what the other one gave, by lot and by supply, and as much as was
    /// asked; nothing that waits got later, so that the line that was helped lost no stock.
    fn lent(
        &self,
        from: &LineKey,
        to: &LineKey,
        quantity: Option<Quantity>,
        before: &Bindings,
    ) -> Result<(), String> {
        let (gave, had) = (before.of(from), before.of(to));
        let (left, has) = (self.bound.of(from), self.bound.of(to));
        let wrong = |what: &str| {
            Err(format!(
                "lent: {what}: {from:?} {gave:?}, now {left:?}; {to:?} {had:?}, now {has:?}"
            ))
        };
        let mut lent = 0;
        for (lot, now) in &has.held {
            let got = now - had.held.get(lot).copied().unwrap_or(0);
            let given = gave.held.get(lot).copied().unwrap_or(0);
            if got < 0 || got > given {
                return wrong("stock");
            }
            lent += got;
        }
        for (supply, (now, kept)) in &has.pegs {
            let got = now - had.pegs.get(supply).map_or(0, |(milli, _)| *milli);
            let given = gave.pegs.get(supply).map_or(0, |(milli, _)| *milli);
            if got > given || (got > 0 && !kept) {
                return wrong("supply");
            }
            lent += got.max(0);
        }
        if lent <= 0 || quantity.is_some_and(|quantity| quantity.milli() != lent) {
            return wrong("quantity");
        }
        if has.held() < had.held() || has.total() < had.total() {
            return wrong("helped");
        }
        match self.line_is_over(to, &has) {
            true => wrong("more than it needs"),
            false => Ok(()),
        }
    }

    fn line_is_over(&self, key: &LineKey, has: &super::binding::Bound) -> bool {
        let line = self.builds.get(&key.0).and_then(|build| build.line(key.1));
        line.is_some_and(|line| has.total() > line.need())
    }

    fn unpegged(
        &self,
        (build, line): (&Ref, i32),
        supply: (&Ref, i32),
        before: &Bindings,
        book: &Book,
    ) -> Result<(), String> {
        let key = key_of(build, line, book);
        let Some(supply) = supply_of(supply, book) else { return Ok(()) };
        let (mut had, has) = (before.of(&key), self.bound.of(&key));
        had.pegs.remove(&supply);
        match had == has {
            true => Ok(()),
            false => Err(format!("by hand: {key:?} should have {had:?}, has {has:?}")),
        }
    }

    pub(super) fn far_pegs_first(
        &self,
        command: &Command,
        before: &Bindings,
        now: &Now<'_>,
    ) -> Result<(), String> {
        let Command::Build(_) = command else { return Ok(()) };
        for (key, has) in &self.bound.0 {
            let Some(part) = self.part_of(key) else { continue };
            let far = self.builds.get(&key.0).is_some_and(|build| self.is_far(build, now.today));
            if !far || has.held() <= before.of(key).held() {
                continue;
            }
            // A peg that another line gave up came free after the stock was taken.
            let gave_up = before.0.iter().any(|(other, had)| {
                self.part_of(other) == Some(part) && self.bound.of(other).pegged() < had.pegged()
            });
            let free = self.free(part, &self.bound);
            if let Some((supply, milli)) = free.iter().find(|(_, milli)| **milli > 0)
                && !gave_up
            {
                return Err(format!("far: {key:?} took stock, {milli} of {supply:?} are free"));
            }
        }
        Ok(())
    }
}

fn key_of(build: &Ref, line: i32, book: &Book) -> LineKey {
    let number = book.find_build(build).map_or("", |row| row.number.normal());
    (number.to_owned(), line)
}

fn supply_of((order, line): (&Ref, i32), book: &Book) -> Option<(String, i32)> {
    let order = book.find_order(order).ok()?;
    book.find_order_line(order, line).ok().map(|row| supply_key(book, row))
}
