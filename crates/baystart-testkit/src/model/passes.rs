//! What the binding rule promises after every command (see [`super`], 3 to 6).

use super::binding::{Bindings, SupplyKey};
use super::rows::BuildRow;
use super::{LineKey, Model, Now};
use baystart_core::book::Book;
use baystart_core::command::{
    BindCommand, BuildCommand, Command, OrderCommand, Rejection, Settlement, StockCommand,
};
use baystart_core::decide::expected_on;
use baystart_core::refs::Ref;
use jiff::ToSpan;
use jiff::civil::{Date, Weekday};
use std::collections::{BTreeMap, BTreeSet};

/// Priority, planned start or required date, opening time, number, line.
type Served = (i32, Date, jiff::Timestamp, String, i32);

/// What a command had to do with binding.
#[derive(Default)]
struct Pass {
    /// Parts that were bound afresh.
    parts: BTreeSet<String>,
    /// Lines that a person named; the pass left them as they were.
    named: BTreeSet<LineKey>,
    /// Builds that the command is about.
    builds: BTreeSet<String>,
    /// The part whose stock may have vanished.
    stock_gone: Option<String>,
    /// The order of which something may have vanished or arrived.
    order: Option<String>,
    cancelled: bool,
}

impl Model {
    pub(super) fn bindings(&mut self, command: &Command, now: &Now<'_>) -> Result<(), String> {
        let before = std::mem::replace(&mut self.bound, Bindings::read(now.book));
        let pass = self.pass(command, &before, now);
        for part in &pass.parts {
            let named = pass.named.iter().filter(|line| self.part_of(line) == Some(part));
            let named: BTreeSet<_> = named.cloned().collect();
            self.left_short.insert(part.clone(), named);
        }
        let parts: Vec<String> = self.parts.keys().cloned().collect();
        for part in &parts {
            if !self.is_kit(part) && !self.is_consumable(part) {
                self.need(part, &before, &pass)?;
            }
        }
        self.nobody_elses(&before, &pass)?;
        if let Command::Bind(command) = command {
            self.by_hand(command, &before, now.book)?;
        }
        self.far_pegs_first(command, &before, now)?;
        for part in &pass.parts {
            self.upgraded(part, now)?;
        }
        Ok(())
    }

    fn number(&self, build: &Ref, book: &Book) -> String {
        book.find_build(build).map_or(String::new(), |row| row.number.normal().to_owned())
    }

    fn part_number(&self, part: &Ref, book: &Book) -> String {
        book.find_part(part).map_or(String::new(), |row| row.number.normal().to_owned())
    }

    fn pass(&self, command: &Command, before: &Bindings, now: &Now<'_>) -> Pass {
        let mut pass = Pass::default();
        match command {
            Command::Stock(command) => self.stock_pass(&mut pass, command, now.book),
            Command::Build(command) => self.build_pass(&mut pass, command, now),
            Command::Bind(command) => self.hand_pass(&mut pass, command, before, now.book),
            Command::Order(command) => self.order_pass(&mut pass, command, now.book),
            _ => {}
        }
        pass
    }

    fn stock_pass(&self, pass: &mut Pass, command: &StockCommand, book: &Book) {
        match command {
            StockCommand::Adjust { at, .. } | StockCommand::Receive { at, .. } => {
                let part = self.part_number(&at.part, book);
                let gone = at.quantity.is_negative();
                pass.stock_gone = gone.then(|| part.clone());
                pass.parts.insert(part);
            }
            StockCommand::Scrap { at, .. }
            | StockCommand::Quarantine { at, .. }
            | StockCommand::ReleaseQuarantine { at, .. }
            | StockCommand::ReturnToSupplier { at, .. } => {
                let part = self.part_number(&at.part, book);
                pass.stock_gone = Some(part.clone());
                pass.parts.insert(part);
            }
            StockCommand::Found { build, line, .. } => {
                let build = self.number(build, book);
                let key = (build.clone(), *line);
                pass.parts.extend(self.part_of(&key).map(str::to_owned));
                pass.builds.insert(build);
            }
            StockCommand::Move { .. } => {}
        }
    }

    fn build_pass(&self, pass: &mut Pass, command: &BuildCommand, now: &Now<'_>) {
        let (build, all) = match command {
            BuildCommand::Create { .. }
            | BuildCommand::PromiseDelivery { .. }
            | BuildCommand::Substitute { .. }
            | BuildCommand::AddAwaited { .. }
            | BuildCommand::ExpectAwaited { .. }
            | BuildCommand::ReceiveAwaited { .. }
            | BuildCommand::DropAwaited { .. } => return,
            BuildCommand::Open { build, .. }
            | BuildCommand::Update { build, .. }
            | BuildCommand::Resume { build, .. }
            | BuildCommand::Deliver { build, .. }
            | BuildCommand::Cancel { build, .. } => (build, true),
            BuildCommand::AddLines { build, .. }
            | BuildCommand::ChangeLine { build, .. }
            | BuildCommand::Hold { build, .. }
            | BuildCommand::PutInBay { build, .. }
            | BuildCommand::BeginStage { build, .. }
            | BuildCommand::FinishStage { build, .. }
            | BuildCommand::MarkReady { build, .. } => (build, false),
        };
        let number = self.number(build, now.book);
        let row = self.builds.get(&number);
        let lines = row.map_or(&[][..], |row| &row.lines);
        match command {
            _ if all => pass.parts.extend(lines.iter().map(|line| line.part.clone())),
            BuildCommand::ChangeLine { line, .. } => {
                let changed = lines.iter().filter(|row| row.number == *line);
                pass.parts.extend(changed.map(|line| line.part.clone()));
            }
            BuildCommand::AddLines { lines: added, .. } => {
                let added = added.iter().map(|line| self.part_number(&line.part, now.book));
                pass.parts.extend(added);
            }
            _ => {}
        }
        pass.builds.insert(number);
    }

    fn hand_pass(&self, pass: &mut Pass, command: &BindCommand, before: &Bindings, book: &Book) {
        let (build, numbers) = match command {
            BindCommand::Pick { .. } => return,
            BindCommand::Reserve { build, lines }
            | BindCommand::Release { build, lines }
            | BindCommand::Issue { build, lines, .. }
            | BindCommand::Return { build, lines, .. } => {
                (build, lines.iter().map(|line| line.line).collect::<Vec<_>>())
            }
            // The lender takes what is free at once; only the line that was helped stands.
            BindCommand::Lend { build, to_build, to_line, .. } => {
                pass.builds.insert(self.number(build, book));
                (to_build, vec![*to_line])
            }
            BindCommand::Peg { build, line, .. } | BindCommand::Unpeg { build, line, .. } => {
                (build, vec![*line])
            }
        };
        let build = self.number(build, book);
        let keys: BTreeSet<LineKey> =
            numbers.into_iter().map(|number| (build.clone(), number)).collect();
        pass.parts.extend(keys.iter().filter_map(|key| self.part_of(key)).map(str::to_owned));
        match command {
            // Everything that was held for the build, or for a stage of it.
            BindCommand::Issue { lines, .. } if lines.is_empty() => {
                let held = before.0.iter().filter(|((other, number), row)| {
                    let now = self.bound.of(&(build.clone(), *number)).held();
                    *other == build && row.held() > now
                });
                let parts = held.filter_map(|(key, _)| self.part_of(key)).map(str::to_owned);
                pass.parts.extend(parts);
            }
            BindCommand::Issue { .. } | BindCommand::Return { .. } => {}
            _ => pass.named = keys,
        }
        pass.builds.insert(build);
    }

    fn order_pass(&self, pass: &mut Pass, command: &OrderCommand, book: &Book) {
        let order = match command {
            OrderCommand::Create { number, placed_on, .. } => {
                placed_on.map(|_| number.normal().to_owned())
            }
            OrderCommand::Contact { .. } | OrderCommand::DraftSuggested { .. } => None,
            OrderCommand::Place { order, .. }
            | OrderCommand::Acknowledge { order, .. }
            | OrderCommand::TakeBack { order, .. }
            | OrderCommand::Despatch { order, .. }
            | OrderCommand::Receive { order, .. }
            | OrderCommand::Cancel { order, .. }
            | OrderCommand::Reject { order, .. } => {
                book.find_order(order).ok().map(|row| row.number.normal().to_owned())
            }
        };
        let Some(order) = order else { return };
        let rows = self.orders.get(&order).map_or(&[][..], |row| &row.lines);
        let named: Vec<i32> = match command {
            OrderCommand::Acknowledge { promises, .. } => {
                promises.iter().map(|(line, _)| *line).collect()
            }
            OrderCommand::TakeBack { lines, .. } => lines.clone(),
            OrderCommand::Receive { lines, .. } => lines.iter().map(|line| line.line).collect(),
            OrderCommand::Create { .. } => rows.iter().map(|row| row.number).collect(),
            _ => Vec::new(),
        };
        pass.parts.extend(self.met.iter().cloned());
        if let OrderCommand::Reject { line, how, settlement, .. } = command {
            let row = rows.iter().find(|row| row.number == *line);
            if !matches!(how, Rejection::Refused) {
                pass.stock_gone = row.map(|row| row.part.clone());
            }
            pass.cancelled = *settlement == Settlement::Credit;
            if *settlement == Settlement::Redelivery {
                let for_line = row.and_then(|row| row.for_line.as_ref());
                pass.builds.extend(for_line.map(|(build, _)| build.clone()));
            }
        }
        for row in rows {
            if named.contains(&row.number) {
                pass.parts.insert(row.part.clone());
            }
            if matches!(command, OrderCommand::Create { .. } | OrderCommand::Place { .. }) {
                pass.builds.extend(row.for_line.iter().map(|(build, _)| build.clone()));
            }
        }
        pass.cancelled |= matches!(command, OrderCommand::Cancel { .. });
        pass.order = Some(order);
    }

    fn served(&self, (build, line): &LineKey) -> Option<Served> {
        let row = self.builds.get(build)?;
        let start = row.planned_start.or(row.required_by).unwrap_or(Date::MAX);
        let opened = row.opened_at.unwrap_or(jiff::Timestamp::MAX);
        Some((row.priority, start, opened, build.clone(), *line))
    }

    /// Lines of a part that take what comes free, in the order of service.
    fn takers(&self, part: &str) -> Vec<(Served, LineKey)> {
        let mut takers = Vec::new();
        for (number, build) in self.builds.iter().filter(|(_, build)| build.takes()) {
            for line in build.lines.iter().filter(|line| line.part == part && !line.exploded) {
                let key = (number.clone(), line.number);
                takers.extend(self.served(&key).map(|served| (served, key)));
            }
        }
        takers.sort();
        takers
    }

    fn is_left_short(&self, part: &str, line: &LineKey) -> bool {
        self.left_short.get(part).is_some_and(|lines| lines.contains(line))
    }

    /// Statements 3 and 4.
    fn need(&self, part: &str, before: &Bindings, pass: &Pass) -> Result<(), String> {
        let takers = self.takers(part);
        let short = takers
            .iter()
            .find(|(_, line)| !self.is_left_short(part, line) && self.short(line, &self.bound) > 0);
        let Some((served, line)) = short else { return Ok(()) };
        let lots = self.available(part, &self.bound);
        if let Some((lot, milli)) = lots.iter().find(|(_, milli)| **milli > 0) {
            return Err(format!(
                "need: {line:?} is short of {part}, {milli} of lot {lot:?} are free"
            ));
        }
        let free = self.free(part, &self.bound);
        if let Some((supply, milli)) = free.iter().find(|(_, milli)| **milli > 0) {
            return Err(format!(
                "need: {line:?} is short of {part}, {milli} of {supply:?} are free"
            ));
        }
        for (later, other) in takers.iter().filter(|(later, _)| later > served) {
            let (had, has) = (before.of(other).total(), self.bound.of(other).total());
            if has > had && !pass.builds.contains(&other.0) {
                return Err(format!(
                    "priority: {line:?} is short, {other:?} ({later:?}) got {part}"
                ));
            }
        }
        Ok(())
    }

    /// Statement 5.
    fn nobody_elses(&self, before: &Bindings, pass: &Pass) -> Result<(), String> {
        for (line, had) in &before.0 {
            if pass.builds.contains(&line.0) && !pass.cancelled {
                continue;
            }
            let has = self.bound.of(line);
            let gone = pass.stock_gone.as_deref().is_some_and(|p| self.part_of(line) == Some(p));
            let ordered = |supply: &SupplyKey| pass.order.as_ref() == Some(&supply.0);
            let loses_order = pass.cancelled && had.pegs.keys().any(ordered);
            if has.held() < had.held() && !gone {
                return Err(format!("others: {line:?} held {had:?}, now {has:?}"));
            }
            if has.total() < had.total() && !gone && !loses_order {
                return Err(format!("others: {line:?} had {had:?}, now {has:?}"));
            }
            for supply in had.pegs.keys().filter(|supply| !ordered(supply)) {
                if has.kept(supply) < had.kept(supply) {
                    return Err(format!("kept: {line:?} had {had:?}, now {has:?}"));
                }
            }
        }
        let Some(part) = pass.stock_gone.as_deref() else { return Ok(()) };
        self.last_served_lose_first(part, before)
    }

    fn last_served_lose_first(&self, part: &str, before: &Bindings) -> Result<(), String> {
        let mut lots: BTreeMap<&str, Vec<(Served, i64, i64)>> = BTreeMap::new();
        for (line, had) in before.0.iter().filter(|(line, _)| self.part_of(line) == Some(part)) {
            for (lot, milli) in &had.held {
                let has = self.bound.of(line).held.get(lot).copied().unwrap_or(0);
                let Some(served) = self.served(line) else { continue };
                lots.entry(lot).or_default().push((served, *milli, has));
            }
        }
        for (lot, mut rows) in lots {
            rows.sort();
            let loser = rows.iter().position(|(_, had, has)| has < had);
            let Some(loser) = loser else { continue };
            if let Some((line, _, has)) = rows.iter().skip(loser + 1).find(|(_, _, has)| *has > 0) {
                let first = rows.get(loser).map(|row| &row.0);
                return Err(format!(
                    "last first: {first:?} lost {part} {lot}; {line:?} holds {has}"
                ));
            }
        }
        Ok(())
    }

    /// Statement 6.
    fn upgraded(&self, part: &str, now: &Now<'_>) -> Result<(), String> {
        if self.is_kit(part) || self.is_consumable(part) {
            return Ok(());
        }
        let free = self.free(part, &self.bound);
        let available = self.available(part, &self.bound).values().any(|milli| *milli > 0);
        let mut medians: BTreeMap<SupplyKey, Date> = BTreeMap::new();
        for line in now.book.order_lines.values().filter(|line| line.on_order().is_positive()) {
            let key = super::binding::supply_key(now.book, line);
            if free.contains_key(&key) {
                let median = expected_on(now.book, line, now.today).unwrap_or(Date::MAX);
                medians.insert(key, median);
            }
        }
        for (_, line) in self.takers(part) {
            if self.is_left_short(part, &line) {
                continue;
            }
            let far = self.builds.get(&line.0).is_some_and(|build| self.is_far(build, now.today));
            for (supply, (_, kept)) in &self.bound.of(&line).pegs {
                if *kept {
                    continue;
                }
                if available && !far {
                    return Err(format!("upgrade: {line:?} is pegged while {part} is available"));
                }
                let own = medians.get(supply).copied().unwrap_or(Date::MAX);
                let earlier = free.iter().find(|(other, milli)| {
                    **milli > 0 && medians.get(*other).is_some_and(|median| *median < own)
                });
                if let Some((other, _)) = earlier {
                    return Err(format!("upgrade: {line:?} has {supply:?}, {other:?} is sooner"));
                }
            }
        }
        Ok(())
    }

    /// Counts working days one by one up to the planned start.
    pub(super) fn is_far(&self, build: &BuildRow, today: Date) -> bool {
        let Some(start) = build.planned_start else { return false };
        let (mut day, mut left) = (today, i64::from(self.window_days));
        while day < start {
            let closed = |(supplier, first, last): &(Option<String>, Date, Date)| {
                supplier.is_none() && *first <= day && day <= *last
            };
            let weekend = matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday);
            if !weekend && !self.closures.iter().any(closed) {
                left -= 1;
            }
            if left < 0 {
                return true;
            }
            let Ok(next) = day.checked_add(1.day()) else { return true };
            day = next;
        }
        false
    }
}
