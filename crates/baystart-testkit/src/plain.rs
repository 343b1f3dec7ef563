//! A plain count of a shop whose lines are everything that a line can be, from the command and the
//! book before it, beside the rules that hold after it.
//!
//! 1. *Count.* By part, on hand (in bins, usable or not) and with finishers change by exactly what
//!    the command says, and by nothing where it says nothing.
//! 2. *Accounts.* Over the whole ledger, what went into vehicles, into making and to finishers is
//!    what the lines say, and all accounts of a part sum to zero.
//! 3. *Nobody else's.* Nothing that is bound to the line of a build that the command does not name
//!    shrinks, unless stock or an order line itself vanished.
//! 4. *Need.* While a line of an open build or one in the bay is short, nothing of its part is free,
//!    in stock or on order; excepted are the customer's own lines and those that a person left so.
//! 5. *Priority.* While a line stays short, no line that is served after it got more, unless the
//!    command names its build.
//! 6. *Kinds.* No kit is on hand, no line that the customer brings is pegged, no component of
//!    something made is in the vehicle by itself.

mod accounts;
mod count;

use baystart_core::book::Book;
use baystart_core::book::model::Line;
use baystart_core::command::{BindCommand, BuildCommand, Command, OrderCommand, StockCommand};
use baystart_core::ids::{BuildId, LineId};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use std::collections::BTreeSet;

pub use accounts::accounts;

/// What is remembered from command to command.
#[derive(Clone, Debug, Default)]
pub struct Plain {
    left_short: BTreeSet<LineId>,
}

impl Plain {
    /// Looks at an accepted command, with the whole book before and after it.
    ///
    /// # Errors
    /// What does not agree, as a sentence.
    pub fn after(&mut self, command: &Command, before: &Book, after: &Book) -> Result<(), String> {
        count::check(command, before, after)?;
        let named = named(command, after);
        nobody_elses(command, &named, before, after)?;
        self.remember(command, after);
        self.need(&named, before, after)?;
        kinds(after)
    }

    fn remember(&mut self, command: &Command, book: &Book) {
        let (build, lines): (&Ref, Vec<i32>) = match command {
            Command::Bind(
                BindCommand::Reserve { build, lines } | BindCommand::Release { build, lines },
            ) => (build, lines.iter().map(|line| line.line).collect()),
            Command::Bind(
                BindCommand::Peg { build, line, .. } | BindCommand::Unpeg { build, line, .. },
            ) => (build, vec![*line]),
            Command::Bind(BindCommand::Lend { to_build, to_line, .. }) => {
                (to_build, vec![*to_line])
            }
            _ => return self.forget(book),
        };
        if let Ok(build) = book.find_build(build) {
            let lines = lines.into_iter().filter_map(|line| book.find_line(build, line).ok());
            self.left_short.extend(lines.map(|line| line.id));
        }
        self.forget(book);
    }

    fn forget(&mut self, book: &Book) {
        let short =
            |id: &LineId| book.lines.get(id).is_some_and(|line| book.short_of(line).is_positive());
        self.left_short.retain(short);
    }

    /// Statements 4 and 5.
    fn need(&self, named: &BTreeSet<BuildId>, before: &Book, after: &Book) -> Result<(), String> {
        for line in after.lines.values() {
            let takes = after.builds.get(&line.build).filter(|build| build.state.binds());
            let (Some(build), Some(part)) = (takes, after.parts.get(&line.part)) else { continue };
            let binds = !part.consumable && !part.is_kit() && !line.customer_supplied;
            if !binds || after.short_of(line).is_zero() || self.left_short.contains(&line.id) {
                continue;
            }
            let label =
                format!("{} line {} is short of {}", build.number, line.number, part.number);
            if after.available_of(part.id).is_positive() {
                return Err(format!("need: {label}, {} are free", after.available_of(part.id)));
            }
            let ordered = after.order_lines.values().filter(|row| row.part == part.id);
            if let Some(row) = ordered.into_iter().find(|row| after.free_on(row).is_positive()) {
                return Err(format!("need: {label}, {:?} is free", row.id));
            }
            let served = |line: &Line| {
                let build = after.builds.get(&line.build)?;
                Some((after.service_key(build), line.number))
            };
            let same = after.lines.values().filter(|other| other.part == part.id);
            for other in same.filter(|other| served(other) > served(line)) {
                let got = bound(after, other.id) > bound(before, other.id);
                if got && !named.contains(&other.build) {
                    return Err(format!("priority: {label}, but {:?} got some", other.id));
                }
            }
        }
        Ok(())
    }
}

fn bound(book: &Book, line: LineId) -> Quantity {
    book.held_for(line) + book.pegged_for(line)
}

/// The builds that the command names, itself or by the orders that it names.
fn named(command: &Command, book: &Book) -> BTreeSet<BuildId> {
    let scope = command.scope();
    let builds = scope.builds.iter().filter_map(|build| book.find_build(build).ok());
    let mut named: BTreeSet<BuildId> = builds.map(|build| build.id).collect();
    for order in scope.orders.iter().filter_map(|order| book.find_order(order).ok()) {
        let rows = book.lines_of_order(order.id).into_iter();
        let lines = rows.filter_map(|row| book.lines.get(&row.for_line?));
        named.extend(lines.map(|line| line.build));
    }
    named
}

/// Whether stock or an order line may vanish under what is bound to it.
fn takes_away(command: &Command) -> bool {
    match command {
        Command::Stock(StockCommand::Adjust { at, .. }) => at.quantity.is_negative(),
        Command::Stock(
            StockCommand::Scrap { .. }
            | StockCommand::Quarantine { .. }
            | StockCommand::ReturnToSupplier { .. },
        )
        | Command::Order(OrderCommand::Cancel { .. } | OrderCommand::Reject { .. }) => true,
        Command::Bind(BindCommand::Pick { lines, .. }) => {
            lines.iter().any(|line| line.missing.is_positive())
        }
        _ => false,
    }
}

/// Statement 3.
fn nobody_elses(
    command: &Command,
    named: &BTreeSet<BuildId>,
    before: &Book,
    after: &Book,
) -> Result<(), String> {
    let ends = matches!(
        command,
        Command::Build(BuildCommand::Deliver { .. } | BuildCommand::Cancel { .. })
    );
    for line in before.lines.values() {
        if takes_away(command) || (named.contains(&line.build) && !orders_only(command)) {
            continue;
        }
        let (had, has) = (bound(before, line.id), bound(after, line.id));
        let (held, holds) = (before.held_for(line.id), after.held_for(line.id));
        if has < had || holds < held {
            return Err(format!(
                "others: line {} of {:?} had {had}, held {held}; has {has}, holds {holds}, ends {ends}",
                line.number, line.build
            ));
        }
    }
    Ok(())
}

/// An order's lines may be for a build, but only its own reject and cancel take from it.
const fn orders_only(command: &Command) -> bool {
    matches!(command, Command::Order(_))
}

/// Statement 6.
fn kinds(book: &Book) -> Result<(), String> {
    for (key, stock) in &book.stock {
        let kit = book.parts.get(&key.part).is_some_and(|part| part.is_kit());
        if kit && (stock.usable.is_positive() || stock.quarantined.is_positive()) {
            return Err(format!("kinds: kit {} is on hand", book.part_number(key.part)));
        }
    }
    for line in book.lines.values() {
        if line.customer_supplied && book.pegged_for(line.id).is_positive() {
            return Err(format!("kinds: the customer's {:?} is pegged", line.id));
        }
        let built = line.exploded || line.making.is_some();
        if line.customer_supplied && built {
            return Err(format!("kinds: the customer's {:?} is made or a kit", line.id));
        }
    }
    Ok(())
}
