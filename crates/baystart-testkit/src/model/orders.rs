//! Orders from draft to cancellation.

use super::answer::refused;
use super::rows::{OrderLineRow, OrderRow};
use super::{Answer, Faults, Model, Now};
use baystart_core::book::model::BuildState;
use baystart_core::command::{CancelledBy, NewOrderLine, OrderCommand};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use jiff::civil::Date;
use std::collections::BTreeSet;

impl Model {
    pub(super) fn play_order(&mut self, command: &OrderCommand, now: &Now<'_>) -> Answer {
        self.order(command, now).err().unwrap_or(Answer::Accepted)
    }

    fn order(&mut self, command: &OrderCommand, now: &Now<'_>) -> Result<(), Answer> {
        let mut faults = Faults::default();
        match command {
            OrderCommand::Create { number, supplier, lines, placed_on } => {
                faults.some(lines.len());
                self.supplier_named(&mut faults, supplier, now);
                let rows = self.new_order_lines(&mut faults, lines, *placed_on, now);
                faults.when(placed_on.is_some_and(|day| day > now.today), Reason::DateInFuture);
                faults.check()?;
                if self.orders.contains_key(number.normal()) {
                    return Err(refused(Reason::OrderExists));
                }
                self.orders.insert(number.normal().to_owned(), OrderRow { lines: rows });
                Ok(())
            }
            // Not generated: were it, the orders that the model lacks would be found as a difference.
            OrderCommand::DraftSuggested { .. } => Ok(()),
            OrderCommand::Place { order, occurred_on, unneeded_too } => {
                let day = faults.day(now, *occurred_on);
                let row = self.found_order(&mut faults, order, now)?;
                faults.check()?;
                let lines = row.lines.clone();
                if !unneeded_too && lines.iter().any(|line| self.is_unneeded(line, now)) {
                    return Err(refused(Reason::NotNeeded));
                }
                let row = self.found_order(&mut faults, order, now)?;
                let drafts =
                    |line: &&mut OrderLineRow| line.placed_on.is_none() && line.outstanding() > 0;
                let mut met = BTreeSet::new();
                for line in row.lines.iter_mut().filter(drafts) {
                    (line.placed_on, line.contact_on) = (Some(day), Some(day));
                    met.insert(line.part.clone());
                }
                self.met = met;
                match self.met.is_empty() {
                    true => Err(refused(Reason::OrderLineState)),
                    false => Ok(()),
                }
            }
            OrderCommand::Acknowledge { order, supplier_reference, promises, occurred_on } => {
                self.acknowledge(order, supplier_reference, promises, *occurred_on, now)
            }
            OrderCommand::TakeBack { order, lines, reason, occurred_on } => {
                let day = faults.day(now, *occurred_on);
                faults.text(reason, true);
                let row = self.found_order(&mut faults, order, now)?;
                faults.some(lines.len());
                take_back(faults, row, lines, day)
            }
            OrderCommand::Despatch { order, lines, occurred_on } => {
                let day = faults.day(now, *occurred_on);
                let row = self.found_order(&mut faults, order, now)?;
                let fits =
                    |line: &OrderLineRow| line.on_order() > 0 && line.despatched_on.is_none();
                let named = lines_named(&mut faults, row, lines, fits);
                not_before_placing(&mut faults, row, &named, day);
                faults.check()?;
                for line in row.lines.iter_mut().filter(|line| named.contains(&line.number)) {
                    line.despatched_on = Some(day);
                    line.contact_on = line.contact_on.max(Some(day));
                }
                self.met = parts_of(&row.lines, &named);
                Ok(())
            }
            OrderCommand::Contact { order, lines, note, occurred_on } => {
                let day = faults.day(now, *occurred_on);
                faults.text(note, false);
                let row = self.found_order(&mut faults, order, now)?;
                let named = lines_named(&mut faults, row, lines, |line| line.on_order() > 0);
                not_before_placing(&mut faults, row, &named, day);
                faults.check()?;
                for line in row.lines.iter_mut().filter(|line| named.contains(&line.number)) {
                    line.contact_on = line.contact_on.max(Some(day));
                }
                Ok(())
            }
            OrderCommand::Reject { .. } => self.reject(command, now),
            OrderCommand::Receive { order, lines, occurred_on } => {
                self.receive(order, lines, *occurred_on, now)
            }
            OrderCommand::Cancel { order, lines, quantity, by, reason, occurred_on } => {
                let day = faults.day(now, *occurred_on);
                faults.text(reason, true);
                let row = self.found_order(&mut faults, order, now)?;
                let named = cancel(faults, row, lines, (*quantity, *by), day)?;
                self.met = parts_of(&row.lines, &named);
                Ok(())
            }
        }
    }

    /// Whether a line is a draft for a build line, and no build that is not over lacks its part, which is not
    /// kept in stock either.
    fn is_unneeded(&self, draft: &OrderLineRow, now: &Now<'_>) -> bool {
        let mut parts = now.book.parts.values();
        let stocked =
            parts.any(|part| part.number.normal() == draft.part && part.stocked.is_some());
        let over = [BuildState::Delivered, BuildState::Cancelled];
        let is_draft = draft.placed_on.is_none() && draft.outstanding() > 0;
        let lacked = self.builds.iter().filter(|(_, build)| !over.contains(&build.state)).any(
            |(number, build)| {
                build
                    .lines
                    .iter()
                    .filter(|line| line.part == draft.part)
                    .any(|line| self.short(&(number.clone(), line.number), &self.bound) > 0)
            },
        );
        is_draft && draft.for_line.is_some() && !stocked && !lacked
    }

    /// The order, or at once the faults so far.
    fn found_order(
        &mut self,
        faults: &mut Faults,
        order: &Ref,
        now: &Now<'_>,
    ) -> Result<&mut OrderRow, Answer> {
        let number = self.order_named(faults, order, now);
        let row = number.and_then(|number| self.orders.get_mut(&number));
        match row {
            Some(row) => Ok(row),
            None => Err(faults.check().err().unwrap_or(refused(Reason::OrderUnknown))),
        }
    }

    fn new_order_lines(
        &self,
        faults: &mut Faults,
        lines: &[NewOrderLine],
        placed_on: Option<Date>,
        now: &Now<'_>,
    ) -> Vec<OrderLineRow> {
        let mut rows = Vec::new();
        for (line, number) in lines.iter().zip(1..) {
            faults.positive(line.quantity);
            let negative = line.price.is_some_and(|price| price.ten_thousandths < 0);
            faults.when(negative, Reason::MoneyInvalid);
            let part = self.part_named(faults, &line.part, now);
            if let Some(part) = &part {
                self.unit(faults, part, line.unit);
                faults.when(self.is_kit(part), Reason::KitNotStocked);
            }
            let mut for_line = None;
            if let Some((build, wanted)) = &line.for_line {
                let build = self.build_named(faults, build, now);
                let row = build.as_ref().and_then(|build| self.builds.get(build));
                let found = row.and_then(|row| row.line(*wanted));
                faults.when(row.is_some() && found.is_none(), Reason::LineUnknown);
                if let (Some(found), Some(part)) = (found, &part) {
                    faults.when(found.part != *part, Reason::ValueInvalid);
                }
                for_line = build.map(|build| (build, *wanted));
            }
            rows.push(OrderLineRow {
                number,
                part: part.unwrap_or_default(),
                ordered: line.quantity.milli(),
                received: 0,
                over: 0,
                cancelled_by_us: 0,
                cancelled_by_supplier: 0,
                rejected: 0,
                placed_on,
                acknowledged_on: None,
                despatched_on: None,
                contact_on: placed_on,
                closed_on: None,
                promises: Vec::new(),
                for_line,
            });
        }
        rows
    }

    fn acknowledge(
        &mut self,
        order: &Ref,
        reference: &str,
        promises: &[(i32, Option<Date>)],
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let day = faults.day(now, occurred_on);
        let row = self.found_order(&mut faults, order, now)?;
        faults.text(reference, false);
        faults.some(promises.len());
        let mut named = Vec::new();
        for (number, date) in promises {
            let Some(line) = row.line(*number) else {
                faults.push(Reason::LineUnknown);
                continue;
            };
            if named.contains(number) {
                faults.push(Reason::DuplicateLine);
            } else if line.on_order() == 0 {
                faults.push(Reason::OrderLineState);
            } else if line.promises.last().is_some_and(|(_, known_on)| *known_on > day) {
                faults.push(Reason::DateInvalid);
            } else {
                faults.when(date.is_some_and(|date| date < day), Reason::DateInvalid);
                named.push(*number);
            }
        }
        not_before_placing(&mut faults, row, &named, day);
        faults.check()?;
        for (number, date) in promises {
            let Some(line) = row.line_mut(*number) else { continue };
            line.acknowledged_on = Some(line.acknowledged_on.map_or(day, |first| first.min(day)));
            line.contact_on = line.contact_on.max(Some(day));
            if let Some(date) = date {
                line.promises.push((*date, day));
            }
        }
        Ok(())
    }
}

/// The last promise of each line goes; the day of the answer goes with it where nothing else says so.
fn take_back(
    mut faults: Faults,
    order: &mut OrderRow,
    lines: &[i32],
    day: Date,
) -> Result<(), Answer> {
    for (at, number) in lines.iter().enumerate() {
        let last = order.line(*number).map(|row| row.promises.last().copied());
        let Some(last) = last else {
            faults.push(Reason::LineUnknown);
            continue;
        };
        let Some((_, known_on)) = last else {
            faults.push(Reason::PromiseUnknown);
            continue;
        };
        // A line that is refused does not count as named.
        let twice = lines[..at].contains(number) && day >= known_on;
        faults.when(twice, Reason::DuplicateLine);
        faults.when(day < known_on, Reason::DateInvalid);
    }
    faults.check()?;
    for number in lines {
        let Some(row) = order.line_mut(*number) else { continue };
        let Some((_, known_on)) = row.promises.pop() else { continue };
        if row.promises.is_empty() && row.acknowledged_on == Some(known_on) {
            row.acknowledged_on = None;
        }
    }
    Ok(())
}

/// Parts of the named lines.
fn parts_of(lines: &[OrderLineRow], named: &[i32]) -> BTreeSet<String> {
    let named = lines.iter().filter(|line| named.contains(&line.number));
    named.map(|line| line.part.clone()).collect()
}

/// The lines that are named, or all that fit, with every fault.
fn lines_named(
    faults: &mut Faults,
    row: &OrderRow,
    lines: &[i32],
    fits: impl Fn(&OrderLineRow) -> bool,
) -> Vec<i32> {
    if lines.is_empty() {
        let all: Vec<_> = row.lines.iter().filter(|l| fits(l)).map(|l| l.number).collect();
        faults.when(all.is_empty(), Reason::OrderLineState);
        return all;
    }
    let mut named = Vec::new();
    for number in lines {
        match row.line(*number) {
            None => faults.push(Reason::LineUnknown),
            Some(_) if named.contains(number) => faults.push(Reason::DuplicateLine),
            Some(line) if !fits(line) => faults.push(Reason::OrderLineState),
            Some(_) => named.push(*number),
        }
    }
    named
}

fn not_before_placing(faults: &mut Faults, row: &OrderRow, named: &[i32], day: Date) {
    let early = |line: &&OrderLineRow| {
        named.contains(&line.number) && line.placed_on.is_some_and(|placed| day < placed)
    };
    faults.when(row.lines.iter().any(|line| early(&line)), Reason::DateInvalid);
}

fn cancel(
    mut faults: Faults,
    row: &mut OrderRow,
    lines: &[i32],
    (quantity, by): (Option<Quantity>, CancelledBy),
    day: Date,
) -> Result<Vec<i32>, Answer> {
    let named = lines_named(&mut faults, row, lines, |line| line.outstanding() > 0);
    not_before_placing(&mut faults, row, &named, day);
    if let Some(quantity) = quantity {
        faults.positive(quantity);
        let first = named.first().and_then(|number| row.line(*number));
        if lines.len() != 1 {
            faults.push(Reason::ValueInvalid);
        } else if first.is_some_and(|line| quantity.milli() > line.outstanding()) {
            faults.push(Reason::OverCancel);
        }
    }
    faults.check()?;
    for line in row.lines.iter_mut().filter(|line| named.contains(&line.number)) {
        let gone = quantity.map_or(line.outstanding(), Quantity::milli);
        match by {
            CancelledBy::Us => line.cancelled_by_us += gone,
            CancelledBy::Supplier => line.cancelled_by_supplier += gone,
        }
        if line.outstanding() == 0 {
            line.closed_on = Some(day);
        }
    }
    Ok(named)
}
