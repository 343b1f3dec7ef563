//! Reserve, release, peg and unpeg, return. What is bound before the command is
//! known from the last look at the book.

use super::answer::{not_here, refused};
use super::rows::LineRow;
use super::{Answer, Bend, Faults, LineKey, Model, Now};
use baystart_core::command::{BindCommand, Command, LineQuantity};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;

impl Model {
    pub(super) fn play_bind(&mut self, command: &BindCommand, now: &Now<'_>) -> Answer {
        let answer = match command {
            BindCommand::Pick { .. } => Err(not_here(&Command::Bind(command.clone()))),
            BindCommand::Reserve { build, lines } => self.reserve(build, lines, now),
            BindCommand::Release { build, lines } => self.release(build, lines, now),
            BindCommand::Peg { build, line, order, order_line, quantity } => {
                self.peg((build, *line), (order, *order_line), *quantity, now)
            }
            BindCommand::Unpeg { build, line, order, order_line } => {
                self.unpeg((build, *line), (order, *order_line), now)
            }
            BindCommand::Lend { build, line, to_build, to_line, quantity, reason, shown } => {
                let ends = ((build, *line), (to_build, *to_line));
                self.lend(ends, *quantity, reason, *shown, now)
            }
            BindCommand::Issue { build, lines, stage, occurred_on } => {
                self.issue(build, lines, stage.as_deref(), *occurred_on, now)
            }
            BindCommand::Return { build, lines, occurred_on } => {
                self.give_back(build, lines, *occurred_on, now)
            }
        };
        answer.err().unwrap_or(Answer::Accepted)
    }

    fn sure_build(&self, build: &Ref, now: &Now<'_>) -> Result<String, Answer> {
        let mut faults = Faults::default();
        let number = self.build_named(&mut faults, build, now);
        faults.check()?;
        Ok(number.unwrap_or_default())
    }

    fn line_of(&self, build: &str, number: i32) -> Option<&LineRow> {
        self.builds.get(build)?.line(number)
    }

    fn named_lines<'a>(
        &self,
        faults: &mut Faults,
        build: &str,
        lines: &'a [LineQuantity],
    ) -> Vec<(&'a LineQuantity, LineRow)> {
        let mut rows: Vec<(&LineQuantity, LineRow)> = Vec::new();
        for wanted in lines {
            let Some(line) = self.line_of(build, wanted.line) else {
                faults.push(Reason::LineUnknown);
                continue;
            };
            if let Some(quantity) = wanted.quantity {
                faults.positive(quantity);
            }
            faults.when(line.exploded, Reason::KitNotStocked);
            let twice =
                rows.iter().any(|(other, _)| other.line == wanted.line && other.lot == wanted.lot);
            faults.when(twice, Reason::DuplicateLine);
            rows.push((wanted, line.clone()));
        }
        rows
    }

    pub(super) fn keeps(&self, build: &str) -> Result<(), Answer> {
        let bent = self.bend == Some(Bend::AnyBuildBinds);
        match bent || self.builds.get(build).is_some_and(|row| row.keeps()) {
            true => Ok(()),
            false => Err(refused(Reason::BuildState)),
        }
    }

    fn reserve(&self, build: &Ref, lines: &[LineQuantity], now: &Now<'_>) -> Result<(), Answer> {
        let build = self.sure_build(build, now)?;
        if lines.is_empty() {
            self.keeps(&build)?;
            let rows = self.builds.get(&build).map_or(&[][..], |row| &row.lines);
            let any = rows.iter().any(|line| {
                let key = (build.clone(), line.number);
                let lots = self.available(&line.part, &self.bound);
                let gates = !self.is_consumable(&line.part) && line.required > 0;
                gates && self.short(&key, &self.bound) > 0 && lots.values().any(|milli| *milli > 0)
            });
            return if any { Ok(()) } else { Err(refused(Reason::NothingToDo)) };
        }
        let mut faults = Faults::default();
        let rows = self.named_lines(&mut faults, &build, lines);
        faults.check()?;
        self.keeps(&build)?;
        one_line_a_part(&rows)?;
        let mut short = Faults::default();
        for (wanted, line) in rows {
            let held = self.bound.of(&(build.clone(), line.number)).held();
            let need = (line.need() - held).max(0);
            let asked = wanted.quantity.map_or(need, Quantity::milli);
            let lots = self.available(&line.part, &self.bound);
            let fits = lots.iter().filter(|(lot, milli)| **milli > 0 && fits(wanted, lot));
            let available: i64 = fits.map(|(_, milli)| *milli).sum();
            if need == 0 {
                short.push(Reason::NothingToDo);
            } else if asked > need {
                short.push(Reason::OverReserve);
            } else if asked > available && self.bend != Some(Bend::ReserveBeyondStock) {
                short.push(Reason::StockShort);
            }
        }
        short.check()
    }

    fn release(&self, build: &Ref, lines: &[LineQuantity], now: &Now<'_>) -> Result<(), Answer> {
        let build = self.sure_build(build, now)?;
        let mut faults = Faults::default();
        faults.some(lines.len());
        let rows = self.named_lines(&mut faults, &build, lines);
        faults.check()?;
        let mut bound = self.bound.clone();
        let mut short = Faults::default();
        for (wanted, line) in rows {
            let row = bound.0.entry((build.clone(), line.number)).or_default();
            let lots: Vec<_> =
                row.held.iter_mut().filter(|(lot, _)| fits(wanted, lot)).map(|(_, m)| m).collect();
            let held: i64 = lots.iter().map(|milli| **milli).sum();
            let asked = wanted.quantity.map_or(held, Quantity::milli);
            if held < asked || held == 0 {
                short.push(Reason::StockShort);
                continue;
            }
            // Twice the same line, once by its lot: which lot the other takes
            // is the core's choice.
            if lots.len() > 1 && lines.iter().filter(|other| other.line == line.number).count() > 1
            {
                return Err(Answer::Unsure);
            }
            let mut left = asked;
            for milli in lots {
                let taken = left.min(*milli);
                *milli -= taken;
                left -= taken;
            }
        }
        short.check()
    }

    fn lend(
        &self,
        (from, to): ((&Ref, i32), (&Ref, i32)),
        quantity: Option<Quantity>,
        reason: &str,
        shown: Option<i64>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let mut ends = Vec::new();
        for (build, number) in [from, to] {
            let Some(build) = self.build_named(&mut faults, build, now) else { continue };
            match self.line_of(&build, number) {
                Some(line) => ends.push(((build, number), line.part.clone())),
                None => faults.push(Reason::LineUnknown),
            }
        }
        if let Some(quantity) = quantity {
            faults.positive(quantity);
        }
        faults.text(reason, shown.is_some());
        if let [(from, part), (to, other)] = ends.as_slice() {
            faults.when(from.0 == to.0, Reason::ValueInvalid);
            faults.when(part != other, Reason::ValueInvalid);
        }
        faults.check()?;
        let [(from, _), (to, _)] = ends.as_slice() else { return Ok(()) };
        self.keeps(&from.0)?;
        self.keeps(&to.0)?;
        if shown.is_some() {
            return Err(refused(Reason::ShownChanged));
        }
        // What fills a want is sure to go; which supplies are swapped hangs on their dates.
        let (has, lacks) = (self.bound.of(from), self.short(to, &self.bound));
        let wants = lacks + self.bound.of(to).pegged();
        let stock = has.held().min(wants);
        let sure = stock + has.pegged().min((lacks - stock).max(0));
        let most = has.total().min(wants);
        let asked = quantity.map_or(i64::from(sure > 0), Quantity::milli);
        match asked {
            _ if most == 0 || asked > most => Err(refused(Reason::OverLend)),
            asked if asked > 0 && asked <= sure => Ok(()),
            _ => Err(Answer::Unsure),
        }
    }

    fn peg_ends(
        &self,
        faults: &mut Faults,
        (build, line): (&Ref, i32),
        (order, order_line): (&Ref, i32),
        now: &Now<'_>,
    ) -> Option<(LineKey, (String, i32))> {
        let build = self.build_named(faults, build, now);
        let has_line = build.as_ref().map(|build| self.line_of(build, line).is_some());
        faults.when(has_line == Some(false), Reason::LineUnknown);
        let order = self.order_named(faults, order, now);
        let row = order.as_ref().and_then(|order| self.orders.get(order));
        let has_row = row.map(|row| row.line(order_line).is_some());
        faults.when(has_row == Some(false), Reason::LineUnknown);
        match (has_line, has_row) {
            (Some(true), Some(true)) => Some(((build?, line), (order?, order_line))),
            _ => None,
        }
    }

    fn peg(
        &self,
        line: (&Ref, i32),
        order_line: (&Ref, i32),
        quantity: Option<Quantity>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let ends = self.peg_ends(&mut faults, line, order_line, now);
        if let Some(quantity) = quantity {
            faults.positive(quantity);
        }
        let part = ends.as_ref().and_then(|(line, _)| self.part_of(line)).unwrap_or("").to_owned();
        if let Some((_, (order, number))) = &ends {
            let row = self.orders.get(order).and_then(|row| row.line(*number));
            faults.when(row.is_some_and(|row| row.part != part), Reason::ValueInvalid);
        }
        faults.check()?;
        let Some((line, supply)) = ends else { return Ok(()) };
        self.keeps(&line.0)?;
        let free = self.free(&part, &self.bound).get(&supply).copied().unwrap_or(0);
        let pegs = self.bound.of(&line).pegs;
        let loose = pegs.iter().filter(|(other, (_, kept))| !kept && **other != supply);
        let lacks = self.short(&line, &self.bound) + loose.map(|(_, (m, _))| *m).sum::<i64>();
        let asked = quantity.map_or(free.min(lacks), Quantity::milli);
        match asked == 0 || asked > free || asked > lacks {
            true => Err(refused(Reason::OverPeg)),
            false => Ok(()),
        }
    }

    fn unpeg(
        &self,
        line: (&Ref, i32),
        order_line: (&Ref, i32),
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let ends = self.peg_ends(&mut faults, line, order_line, now);
        faults.check()?;
        let Some((line, supply)) = ends else { return Ok(()) };
        match self.bound.of(&line).pegs.contains_key(&supply) {
            true => Ok(()),
            false => Err(refused(Reason::PegUnknown)),
        }
    }
}

/// Whether the lot is the one that is wanted.
fn fits(wanted: &LineQuantity, lot: &str) -> bool {
    wanted.lot.as_ref().is_none_or(|wanted| wanted.trim().to_uppercase() == lot)
}

fn one_line_a_part(rows: &[(&LineQuantity, LineRow)]) -> Result<(), Answer> {
    for (i, (_, line)) in rows.iter().enumerate() {
        if rows.iter().take(i).any(|(_, other)| other.part == line.part) {
            return Err(Answer::Unsure);
        }
    }
    Ok(())
}
