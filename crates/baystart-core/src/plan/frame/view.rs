//! A book made ready for planning: calendar and sums, reckoned once.

use crate::book::Book;
use crate::book::model::{Awaited, Build, BuildState, Line, Making, Peg, Stage};
use crate::calendar::{Closures, DayAxis, WorkCalendar, next_ordering_day};
use crate::command::{BuildCommand, Command};
use crate::ids::{BuildId, LineId, OrderLineId, PartId, SupplierId};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::overlay::Overlay;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Reason, Refusal};
use jiff::civil::Date;
use std::collections::HashMap;

/// A book at an as-of date, with the sums that every build's plan needs.
pub struct View<'a> {
    pub(in crate::plan) book: &'a Book,
    pub(in crate::plan) learned: Option<&'a Learned>,
    pub(in crate::plan) as_of: Date,
    pub(in crate::plan) calendar: WorkCalendar,
    pub(in crate::plan) axis: DayAxis,
    pub(in crate::plan) horizon_days: u32,
    /// Nothing is ordered before this day.
    order_from: Date,
    /// No work begins before this axis index.
    pub(in crate::plan) starts_from: usize,
    held: HashMap<LineId, Quantity>,
    pegs: HashMap<LineId, Vec<Peg>>,
    lines: HashMap<BuildId, Vec<&'a Line>>,
    stages: HashMap<BuildId, Vec<&'a Stage>>,
    drafts: HashMap<PartId, Vec<OrderLineId>>,
    awaited: HashMap<BuildId, Vec<&'a Awaited>>,
    closures: HashMap<SupplierId, Closures>,
}

impl<'a> View<'a> {
    /// Reckons the sums. `as_of` is the day at whose start the plan speaks;
    /// without `learned`, arrivals follow the default laws.
    #[must_use]
    pub fn new(book: &'a Book, learned: Option<&'a Learned>, as_of: Date) -> Self {
        let calendar = book.calendar();
        let learning = book.settings.as_ref().map(|settings| settings.learning);
        let horizon_days = learning.unwrap_or_default().horizon_days;
        let axis = DayAxis::with_horizon(&calendar, as_of, horizon_days);
        let mut view = Self {
            book,
            learned,
            as_of,
            calendar,
            axis,
            horizon_days,
            order_from: as_of,
            starts_from: 0,
            held: HashMap::new(),
            pegs: HashMap::new(),
            lines: HashMap::new(),
            stages: HashMap::new(),
            drafts: HashMap::new(),
            awaited: HashMap::new(),
            closures: HashMap::new(),
        };
        for row in book.reservations.values() {
            *view.held.entry(row.line).or_default() += row.held;
        }
        for peg in book.pegs.values() {
            view.pegs.entry(peg.line).or_default().push(*peg);
        }
        for line in book.lines.values() {
            view.lines.entry(line.build).or_default().push(line);
        }
        for lines in view.lines.values_mut() {
            lines.sort_by_key(|line| line.number);
        }
        for stage in book.stages.values() {
            view.stages.entry(stage.build).or_default().push(stage);
        }
        for stages in view.stages.values_mut() {
            stages.sort_by_key(|stage| stage.ordinal);
        }
        for line in book.order_lines.values() {
            if line.placed_on.is_none() && line.outstanding().is_positive() {
                view.drafts.entry(line.part).or_default().push(line.id);
            }
        }
        for row in book.awaited.values() {
            view.awaited.entry(row.build).or_default().push(row);
        }
        for rows in view.awaited.values_mut() {
            rows.sort_by_key(|row| row.number);
        }
        for supplier in book.suppliers.keys() {
            view.closures.insert(*supplier, book.closures_of(*supplier));
        }
        view
    }

    /// Orders and work wait for the day on which a quote is accepted; past the horizon, nothing has a
    /// date.
    pub(in crate::plan) fn wait_for_acceptance(&mut self, day: Date) {
        self.order_from = day.max(self.as_of);
        self.starts_from = self.axis.index_of(self.order_from).unwrap_or(self.axis.len());
    }

    pub(in crate::plan) fn lines(&self, build: BuildId) -> &[&'a Line] {
        self.lines.get(&build).map_or(&[], Vec::as_slice)
    }

    pub(in crate::plan) fn stages(&self, build: BuildId) -> &[&'a Stage] {
        self.stages.get(&build).map_or(&[], Vec::as_slice)
    }

    pub(in crate::plan) fn awaited(&self, build: BuildId) -> &[&'a Awaited] {
        self.awaited.get(&build).map_or(&[], Vec::as_slice)
    }

    pub(in crate::plan) fn pegs(&self, line: LineId) -> &[Peg] {
        self.pegs.get(&line).map_or(&[], Vec::as_slice)
    }

    pub(in crate::plan) fn drafts(&self, part: PartId) -> &[OrderLineId] {
        self.drafts.get(&part).map_or(&[], Vec::as_slice)
    }

    pub(in crate::plan) fn closures(&self, supplier: SupplierId) -> Closures {
        self.closures.get(&supplier).cloned().unwrap_or_else(Closures::none)
    }

    /// Stock that is here for a line: issued or set aside.
    pub(in crate::plan) fn here(&self, line: &Line) -> Quantity {
        line.issued + self.held.get(&line.id).copied().unwrap_or_default()
    }

    /// RS-3, from the sums.
    pub(in crate::plan) fn short(&self, line: &Line) -> Quantity {
        let pegged: Quantity = self.pegs(line.id).iter().map(|peg| peg.quantity).sum();
        let made = line.making.as_ref().map_or(Quantity::ZERO, Making::open);
        (line.required - self.here(line) - pegged - made).or_zero()
    }

    /// The day on which a shortage would be ordered.
    pub(in crate::plan) fn ordering_day(&self) -> Option<Date> {
        let weekdays = self.book.settings.as_ref().map_or([true; 7], |s| s.ordering_days);
        next_ordering_day(self.order_from, weekdays, &self.calendar)
    }
}

/// The build, or the refusal when there is nothing to plan.
pub(in crate::plan) fn live_build(book: &Book, id: BuildId) -> Result<&Build, Refusal> {
    let Some(build) = book.builds.get(&id) else {
        return Err(Refusal::new(Reason::BuildUnknown, format!("no build {id} in this shop")));
    };
    if matches!(build.state, BuildState::Delivered | BuildState::Cancelled) {
        let message = format!("build {} is {}: nothing is left to plan", build.number, build.state);
        return Err(Refusal::new(Reason::BuildState, message).with("state", build.state));
    }
    Ok(build)
}

/// The book in which a quoted build is open, or one on hold is off hold, so
/// that its lines are bound to what others leave; None where it binds already.
///
/// # Errors
/// A kit of a quoted build cannot be exploded.
pub(in crate::plan) fn as_if_open(
    book: &Book,
    build: &Build,
    as_of: Date,
) -> Result<Option<Book>, Refusal> {
    let reference = Ref::Uid(build.id.0);
    let command = match build.state {
        BuildState::Quoted => BuildCommand::Open { build: reference, occurred_on: None },
        BuildState::OnHold => BuildCommand::Resume { build: reference, occurred_on: None },
        _ => return Ok(None),
    };
    let mut overlaid = Overlay::of(book, as_of);
    overlaid.decide(&Command::Build(command))?;
    Ok(Some(overlaid.book))
}
