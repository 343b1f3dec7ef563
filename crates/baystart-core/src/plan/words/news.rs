//! What moved a date, and what is supposed.

use super::{Words, working_days_text};
use crate::ids::PartId;
use crate::plan::ask::since::{DateMove, Event};
use crate::plan::ask::suppose::Fact;
use crate::plan::ground::Thing;

/// Parts that a change names at most.
const PARTS_NAMED: usize = 3;

impl Words<'_> {
    /// What happened, in a few words.
    #[must_use]
    pub fn event(&self, event: &Event) -> String {
        let moved = |what: String, moved: &DateMove| match moved.before {
            Some(before) => format!("{what}: moved from {before} to {}", moved.now),
            None => format!("{what}: a date was given, {}", moved.now),
        };
        match event {
            Event::Ordered(line) => format!("{} was ordered", self.label(*line)),
            Event::Despatched(line) => format!("{} was despatched", self.label(*line)),
            Event::Promised(line, date) => moved(self.label(*line), date),
            Event::BackFromFinisher(part, date) => {
                moved(format!("{} back from its finisher", self.book.part_number(*part)), date)
            }
            Event::Came { kind, name } => {
                let thing = Thing::Awaited { kind: *kind, name: name.clone() };
                format!("{} came", self.description(&thing))
            }
            Event::Expected { kind, name, date } => {
                let thing = Thing::Awaited { kind: *kind, name: name.clone() };
                moved(self.description(&thing), date)
            }
            Event::StageBegun(stage) => format!("stage {} was begun", self.book.stage_name(*stage)),
            Event::StageDone(stage) => format!("stage {} is done", self.book.stage_name(*stage)),
            Event::Holds(parts) if parts.is_empty() => "what it holds or has on order".to_owned(),
            Event::Holds(parts) => {
                format!("{}: stock that came or went, or a loan", self.some_parts(parts))
            }
            Event::Lines { added, removed } => match (added.is_empty(), removed.is_empty()) {
                (true, true) => "its lines, stages or what it awaits were changed".to_owned(),
                (false, true) => format!("added: {}", self.some_parts(added)),
                (true, false) => format!("taken off: {}", self.some_parts(removed)),
                (false, false) => {
                    let (added, removed) = (self.some_parts(added), self.some_parts(removed));
                    format!("added: {added}; taken off: {removed}")
                }
            },
            Event::Served { state: [was, is], priority, planned_start } => {
                let mut said = Vec::new();
                if was != is {
                    said.push(format!("{}, was {}", is.text(), was.text()));
                }
                let [before, now] = priority;
                if before != now {
                    said.push(format!("priority {now}, was {before}"));
                }
                if planned_start[0] != planned_start[1] {
                    let [before, now] = planned_start.map(|day| match day {
                        Some(day) => format!("booked for {day}"),
                        None => "not booked".to_owned(),
                    });
                    said.push(format!("{now}, was {before}"));
                }
                match said.is_empty() {
                    true => "how it is served".to_owned(),
                    false => said.join("; "),
                }
            }
            Event::Others { bays: [was, is], rules } => {
                let mut said = Vec::new();
                if was != is {
                    let [was, is] = [was, is].map(|bays| match bays {
                        0 => "not recorded".to_owned(),
                        bays => bays.to_string(),
                    });
                    said.push(format!("the shop's bays, {is}, were {was}"));
                }
                if *rules {
                    said.push("the shop's settings".to_owned());
                }
                match said.is_empty() {
                    true => "other builds".to_owned(),
                    false => said.join("; ") + "; other builds",
                }
            }
            Event::Opened => "the build was opened".to_owned(),
            Event::Rest(1) => "one more change".to_owned(),
            Event::Rest(more) => format!("{more} more changes together"),
            Event::TimePassed(days) => match days {
                1 => "a working day passed".to_owned(),
                days => format!("{} passed", working_days_text(*days)),
            },
        }
    }

    /// `HD-1042, WR-4090 and 2 more`.
    fn some_parts(&self, parts: &[PartId]) -> String {
        let named = parts.iter().take(PARTS_NAMED).map(|part| self.book.part_number(*part));
        let named = named.collect::<Vec<_>>().join(", ");
        match parts.len().saturating_sub(PARTS_NAMED) {
            0 => named,
            more => format!("{named} and {more} more"),
        }
    }

    /// `HD-1042 (order P-2007 line 3)`.
    fn label(&self, line: crate::ids::OrderLineId) -> String {
        let Some(row) = self.book.order_lines.get(&line) else { return "?".to_owned() };
        let (part, order) = (self.book.part_number(row.part), self.book.order_number(row.order));
        format!("{part} (order {order} line {})", row.number)
    }

    /// A supposed fact.
    #[must_use]
    pub fn fact(&self, fact: &Fact) -> String {
        match fact {
            Fact::OrderLater { order, line, days } => {
                let way = if *days < 0 { "sooner" } else { "later" };
                let s = if days.abs() == 1 { "" } else { "s" };
                let which = line.map_or(String::new(), |line| format!(" line {line}"));
                let order = self.book.order_number(*order);
                format!("order {order}{which} comes {} day{s} {way}", days.abs())
            }
            Fact::PartHere { part, quantity } => {
                let unit = self.book.parts.get(part).map_or("", |part| part.unit.short_name());
                let amount = match unit {
                    "" => quantity.to_string(),
                    unit => format!("{quantity} {unit}"),
                };
                format!("{amount} more of {} on the shelf today", self.book.part_number(*part))
            }
            Fact::BuildFirst { build } => format!(
                "build {} comes first, with what others could lend it",
                self.book.build_number(*build)
            ),
            Fact::Bays { bays, instead_of } => format!("{bays} bays instead of {instead_of}"),
        }
    }
}
