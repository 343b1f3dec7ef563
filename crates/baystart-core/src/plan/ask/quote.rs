//! Quotes: lines that nobody has saved, with options; the dates of each choice.

use crate::book::Book;
use crate::book::model::{Build, Line};
use crate::calendar::add_days;
use crate::command::{BuildCommand, BuildFields, Command, NewLine, NewStage};
use crate::decide::Subject;
use crate::ids::{BuildId, PartId};
use crate::money::Money;
use crate::number::Number;
use crate::plan::ask::package_cost::cost;
use crate::plan::bays::live::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::overlay::Overlay;
use crate::plan::frame::view::View;
use crate::plan::reckon::assumptions::Assumption;
use crate::plan::reckon::forecast::BuildForecast;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Fault, Faults, FieldPath, Reason, Refusal, Step, nth};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Forecasts of one request at most.
pub const VARIANTS_MAX: usize = 60;
/// Calendar days after the as-of date in which a last day of acceptance is sought.
const ACCEPT_DAYS_MAX: i64 = 366;
/// The priority of what is served after everybody else.
const PRIORITY_LAST: i32 = 9999;

/// One of several things to choose from.
#[derive(Clone, Debug, PartialEq)]
pub struct QuoteChoice {
    /// Its name, unique in its group.
    pub name: String,
    /// What it adds; may be empty.
    pub lines: Vec<NewLine>,
}

/// Choices of which one is taken; the first unless another is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct QuoteGroup {
    /// Its name, unique in the quote.
    pub name: String,
    /// At least one.
    pub choices: Vec<QuoteChoice>,
}

/// What is quoted.
#[derive(Clone, Debug, PartialEq)]
pub struct QuoteAsked {
    /// What the vehicle becomes.
    pub vehicle: String,
    /// In the order of work.
    pub stages: Vec<NewStage>,
    /// What every variant has.
    pub lines: Vec<NewLine>,
    /// Options.
    pub groups: Vec<QuoteGroup>,
    /// Orders go out from the next ordering day after it; None: today.
    pub accepted_on: Option<Date>,
    /// The day by which the customer wants the vehicle, for the last day of acceptance.
    pub wanted_by: Option<Date>,
}

/// A quantity of free stock that a quote counts on.
#[derive(Clone, Debug, PartialEq)]
pub struct FreeStock {
    /// Which part.
    pub part: PartId,
    /// How much, in the part's unit.
    pub quantity: Quantity,
}

/// One way to choose, with its dates.
#[derive(Clone, Debug, PartialEq)]
pub struct QuotedVariant {
    /// The group in which it differs and the choice there, as they were asked; None: the first choice
    /// everywhere.
    pub differs: Option<(usize, usize)>,
    /// Start, delivery, what decides, warnings.
    pub forecast: BuildForecast,
    /// Prices of all its parts, one sum a currency, by code; customers' parts and finishing left out.
    pub parts_cost: Vec<Money>,
    /// Parts that nobody quotes a price for, by number.
    pub unpriced: Vec<PartId>,
    /// Stock that is free today.
    pub free_stock: Vec<FreeStock>,
    /// Parts that the customer brings.
    pub customer_brings: Vec<PartId>,
    /// Last day of acceptance with which delivery by the wanted day holds at 80 %, if what is free
    /// today is still free then. None: none was asked for, or none is left.
    pub accept_by: Option<Date>,
}

/// The dates of every choice at the start of `as_of`: first the variant with the first choice of each
/// group, then each other choice by itself. Nothing is saved; what others hold stays theirs. `go_on` is
/// asked before each variant whether somebody still waits; None: nobody does. `tell` gets each variant
/// with the book in which it is a build, which is gone afterwards.
///
/// # Errors
/// Every field that is wrong: unknown parts and stages, quantities, names given twice, a day of
/// acceptance in the past.
pub fn quote<T>(
    book: &Book,
    learned: Option<&Learned>,
    asked: &QuoteAsked,
    as_of: Date,
    go_on: &dyn Fn() -> bool,
    tell: impl Fn(&Book, QuotedVariant) -> T,
) -> Result<Option<Vec<T>>, Refusal> {
    check(asked, as_of)?;
    let mut ways = vec![None];
    for (g, group) in asked.groups.iter().enumerate() {
        ways.extend((1..group.choices.len()).map(|c| Some((g, c))));
    }
    // What others hold stays theirs: every variant meets the same.
    let bays = bays(book, learned, as_of, &View::new(book, learned, as_of))?;
    let mut variants = Vec::new();
    let mut faults = Faults::new();
    for differs in ways {
        if !go_on() {
            return Ok(None);
        }
        match variant(book, learned, asked, differs, as_of, &bays, go_on) {
            Ok((its, found)) => variants.push(tell(&its, found)),
            Err(refusal) if refusal.faults.is_empty() => return Err(refusal),
            // Most faults are those of the variants before, too.
            Err(refusal) => {
                for fault in refusal.faults {
                    if !faults.list().contains(&fault) {
                        faults.push(fault.field, fault.reason, fault.message);
                    }
                }
            }
        }
    }
    faults.check()?;
    // What was reckoned last may have been cut short.
    Ok(go_on().then_some(variants))
}

fn check(asked: &QuoteAsked, as_of: Date) -> Result<(), Refusal> {
    let mut faults = Faults::new();
    let mut variants = 1;
    for (g, group) in asked.groups.iter().enumerate() {
        variants += group.choices.len().saturating_sub(1);
        if group.choices.is_empty() {
            let message = format!("group \"{}\" has nothing to choose from", group.name);
            faults.push(nth("groups", g).then("choices"), Reason::FieldMissing, message);
        }
        let twice = |other: &QuoteGroup| other.name.to_lowercase() == group.name.to_lowercase();
        if asked.groups.iter().take(g).any(twice) {
            let message = format!("\"{}\" is named twice", group.name);
            faults.push(nth("groups", g).then("name"), Reason::DuplicateLine, message);
        }
        for (c, choice) in group.choices.iter().enumerate() {
            let twice =
                |other: &QuoteChoice| other.name.to_lowercase() == choice.name.to_lowercase();
            if group.choices.iter().take(c).any(twice) {
                let message = format!("\"{}\" is named twice", choice.name);
                faults.push(
                    nth(nth("groups", g).then("choices"), c).then("name"),
                    Reason::DuplicateLine,
                    message,
                );
            }
        }
    }
    if variants > VARIANTS_MAX {
        let message = format!("{variants} forecasts; at most {VARIANTS_MAX} are made at once");
        faults.push("groups", Reason::ValueInvalid, message);
    }
    for (field, day) in [("accepted_on", asked.accepted_on), ("wanted_by", asked.wanted_by)] {
        if let Some(day) = day.filter(|day| *day < as_of) {
            let message = format!("{day} is before {as_of}");
            faults.push(field, Reason::DateInvalid, message);
        }
    }
    faults.check()
}

/// The lines of a variant, with the field that each was given in.
fn lines_of(asked: &QuoteAsked, differs: Option<(usize, usize)>) -> Vec<(NewLine, FieldPath)> {
    let base = asked.lines.iter().enumerate();
    let mut lines: Vec<_> = base.map(|(i, line)| (line.clone(), nth("lines", i))).collect();
    for (g, group) in asked.groups.iter().enumerate() {
        let c = differs.filter(|(its, _)| *its == g).map_or(0, |(_, choice)| choice);
        let Some(choice) = group.choices.get(c) else { continue };
        for (i, line) in choice.lines.iter().enumerate() {
            let choice = nth(nth("groups", g).then("choices"), c);
            lines.push((line.clone(), nth(choice.then("lines"), i)));
        }
    }
    lines
}

fn variant(
    book: &Book,
    learned: Option<&Learned>,
    asked: &QuoteAsked,
    differs: Option<(usize, usize)>,
    as_of: Date,
    bays: &Bays,
    go_on: &dyn Fn() -> bool,
) -> Result<(Book, QuotedVariant), Refusal> {
    let lines = lines_of(asked, differs);
    let mut overlaid = Overlay::of(book, as_of);
    let id = opened(&mut overlaid, asked, &lines)?;
    let overlaid = overlaid.book;
    let Some(row) = overlaid.builds.get(&id).cloned() else {
        return Err(Refusal::new(Reason::BuildUnknown, "the quote was not made"));
    };
    let mut view = View::new(&overlaid, learned, as_of);
    view.wait_for_acceptance(asked.accepted_on.unwrap_or(as_of));
    let as_booked = view.as_booked(&row, bays);
    let mut forecast = view.forecast(&as_booked, None, bays);
    // It is no booking yet.
    (forecast.planned_start, forecast.stall_at_planned_start) = (None, None);
    forecast.delivery.at_planned_start = None;
    forecast.delivery.planned_from = as_booked.planned_start;
    let accept_by =
        asked.wanted_by.and_then(|wanted| accept_by(&mut view, &row, bays, wanted, go_on));
    let (parts_cost, unpriced) = cost(&overlaid, &lines)?;
    let brought: Vec<&Line> =
        overlaid.lines_of(id).into_iter().filter(|line| line.customer_supplied).collect();
    let customer_brings: Vec<PartId> = brought.iter().map(|line| line.part).collect();
    let is_brought = |number| brought.iter().any(|line| Some(line.number) == number);
    forecast.undated.retain(|undated| !is_brought(undated.line));
    if !brought.is_empty() {
        forecast.assumptions.push(Assumption::CustomerBrings(customer_brings.clone()));
    }
    let free_stock = free_stock(&overlaid, id);
    let variant = QuotedVariant {
        differs,
        forecast,
        parts_cost,
        unpriced,
        free_stock,
        customer_brings,
        accept_by,
    };
    Ok((overlaid, variant))
}

/// Makes the quote a build of the overlay, and opens it: free stock and free supply are bound to it
/// after everybody else's.
fn opened(
    overlaid: &mut Overlay,
    asked: &QuoteAsked,
    lines: &[(NewLine, FieldPath)],
) -> Result<BuildId, Refusal> {
    let number = free_number(&overlaid.book)?;
    let fields = BuildFields {
        vehicle: asked.vehicle.clone(),
        customer: String::new(),
        priority: PRIORITY_LAST,
        planned_start: None,
        required_by: None,
        staging_bin: None,
    };
    let create = Command::Build(BuildCommand::Create {
        number,
        fields,
        stages: asked.stages.clone(),
        lines: lines.iter().map(|(line, _)| line.clone()).collect(),
        for_stock: false,
    });
    let made = overlaid.decide(&create).map_err(|refusal| renamed(refusal, lines))?;
    let Subject::Build(id) = made.subject else {
        return Err(Refusal::new(Reason::BuildUnknown, "the quote was not made"));
    };
    let build = crate::refs::Ref::Uid(id.0);
    let open = Command::Build(BuildCommand::Open { build, occurred_on: None });
    overlaid.decide(&open)?;
    Ok(id)
}

/// A number that no build of the slice has.
fn free_number(book: &Book) -> Result<Number, Refusal> {
    for n in 0.. {
        let text = format!("QUOTE {n}");
        let number = Number::parse(&text)
            .map_err(|error| Refusal::new(Reason::ValueInvalid, error.to_string()))?;
        if book.find_build(&Ref::Number(number.clone())).is_err() {
            return Ok(number);
        }
    }
    Err(Refusal::new(Reason::BuildExists, "every number is taken"))
}

/// Faults under the fields in which the lines were given.
fn renamed(refusal: Refusal, lines: &[(NewLine, FieldPath)]) -> Refusal {
    let given = |fault: Fault| match fault.field.steps() {
        [Step::Name("lines"), Step::Row(at), below @ ..] => match lines.get(*at) {
            Some((_, field)) => Fault { field: field.then(below), ..fault },
            None => fault,
        },
        _ => fault,
    };
    let faults: Faults = refusal.faults.iter().cloned().map(given).collect();
    // Without a fault the refusal is of the whole quote.
    faults.check().err().unwrap_or(refusal)
}

/// A day of acceptance with which delivery at 80 % is by `wanted`, and not with the day after it: the
/// latest one where a later acceptance never makes a delivery earlier, as of parts. None also where
/// `go_on` says no.
fn accept_by(
    view: &mut View<'_>,
    row: &Build,
    bays: &Bays,
    wanted: Date,
    go_on: &dyn Fn() -> bool,
) -> Option<Date> {
    let as_of = view.as_of;
    let last = crate::calendar::days_between(as_of, wanted).clamp(0, ACCEPT_DAYS_MAX);
    let mut in_time = |days: i64| {
        let Some(day) = add_days(as_of, days).filter(|_| go_on()) else { return false };
        view.wait_for_acceptance(day);
        let reckoned = view.reckon(row.id);
        let row = view.as_booked(row, bays);
        let delivery = view.delivery(&row, &reckoned, bays).at_80();
        delivery.is_some_and(|delivery| delivery <= wanted)
    };
    if !in_time(0) {
        return None;
    }
    let (mut good, mut bad) = (0, last + 1);
    while bad - good > 1 {
        let middle = i64::midpoint(good, bad);
        if in_time(middle) { good = middle } else { bad = middle }
    }
    add_days(as_of, good)
}

/// What the overlay's build took from the shelf.
fn free_stock(book: &Book, build: BuildId) -> Vec<FreeStock> {
    let mut taken: BTreeMap<&str, FreeStock> = BTreeMap::new();
    let lines: Vec<&Line> = book.lines_of(build);
    for line in lines {
        let held = book.held_for(line.id);
        let Some(part) = book.parts.get(&line.part).filter(|_| held.is_positive()) else {
            continue;
        };
        let row = taken
            .entry(part.number.normal())
            .or_insert_with(|| FreeStock { part: part.id, quantity: Quantity::ZERO });
        row.quantity += held;
    }
    taken.into_values().collect()
}
