//! Whether a build can start, and why not.

use super::{Words, day};
use crate::ids::BuildId;
use crate::plan::ask::can_start::{Readiness, Why};
use crate::plan::ground::Awaiting;
use crate::text::percent;

/// Chance of a stall from which the sentence says so outright.
const ALMOST_SURE: f64 = 0.95;

impl Words<'_> {
    /// One sentence with the chance and the part.
    #[must_use]
    pub fn verdict(&self, readiness: &Readiness) -> String {
        let text = self.as_if_it_went_on(readiness);
        let text = match readiness.on_hold {
            true => format!("The build is on hold. If it went on today: {}", lower(&text)),
            false => text,
        };
        match self.no_bay(&readiness.in_the_bays) {
            None => text,
            Some(no_bay) => format!("{text} {no_bay}"),
        }
    }

    /// `No bay is free: B-1039 and B-1040 stand in them.`
    fn no_bay(&self, builds: &[BuildId]) -> Option<String> {
        let (last, first) = builds.split_last()?;
        let last = self.book.build_number(*last);
        let first: Vec<_> = first.iter().map(|build| self.book.build_number(*build)).collect();
        Some(match first.is_empty() {
            true => format!("The only bay is not free: {last} stands in it."),
            false => format!("No bay is free: {} and {last} stand in them.", first.join(", ")),
        })
    }

    fn as_if_it_went_on(&self, readiness: &Readiness) -> String {
        let verb = if readiness.begun { "go on" } else { "start" };
        let culprit = |source: &Option<Awaiting>, joined: &[Awaiting]| match source {
            None => String::new(),
            Some(source) => format!(
                ", most likely on {} ({})",
                self.full(&source.thing),
                self.waits_for(&source.waits_for, joined)
            ),
        };
        let stall = percent(readiness.stall);
        match &readiness.why {
            Why::NothingToDo => "No work is left to do.".to_owned(),
            Why::FirstWorkLacks { first, others } => {
                format!("Cannot {verb} today: the first work lacks {}.", self.lacks(first, *others))
            }
            Why::NotAllHere { first, others } => format!(
                "Does not {verb} today: the shop begins with all parts here, and later work lacks \
                 {}; chance of a stall {stall}.",
                self.lacks(first, *others)
            ),
            Why::BookedFor(booked) => format!(
                "Does not {verb} today: the shop begins on the booked day, {}; chance of a stall \
                 today {stall}.",
                day(*booked)
            ),
            Why::Undated { source, joined, stage } => {
                let stage = stage.map_or("", |stage| self.book.stage_name(stage));
                format!(
                    "Can {verb} today, but will stall: nothing dates {} ({}), which stage {stage} \
                     needs.",
                    self.name(&source.thing),
                    self.waits_for(&source.waits_for, joined)
                )
            }
            Why::EverythingHere => format!("Can {verb} today: every part is here."),
            Why::InTime { source, joined } => format!(
                "Can {verb} today: what is missing is likely to come in time; chance of a stall \
                 {stall}{}.",
                culprit(source, joined)
            ),
            Why::Late { source, joined, tolerated } => {
                let how = match readiness.stall > ALMOST_SURE {
                    true => "will almost surely stall",
                    false => "may stall",
                };
                let begins = |most| format!(", and the shop begins at {} at most", percent(most));
                let most = tolerated.map_or(String::new(), begins);
                format!(
                    "Can {verb} today, but {how}: chance {stall}{most}{}.",
                    culprit(source, joined)
                )
            }
        }
    }

    /// `WINCH-9 Winch (order PO-7 line 1) and 2 more parts`.
    fn lacks(&self, first: &Awaiting, others: usize) -> String {
        let more = match others {
            0 => String::new(),
            1 => " and 1 more part".to_owned(),
            n => format!(" and {n} more parts"),
        };
        let what = match first.thing.part() {
            Some(_) => self.full(&first.thing),
            None => self.missing(&first.thing),
        };
        format!("{} ({}){more}", what.trim(), self.waits_for(&first.waits_for, &[]))
    }

    /// What a stage lacks: a part's description, `vehicle, LM-7`.
    #[must_use]
    pub fn missing(&self, thing: &crate::plan::ground::Thing) -> String {
        match thing {
            crate::plan::ground::Thing::Awaited { kind, name } => {
                format!("{}, {name}", kind.text())
            }
            part => self.description(part),
        }
    }
}

/// The sentence with a small letter at its beginning.
fn lower(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_lowercase).collect();
    first + letters.as_str()
}
