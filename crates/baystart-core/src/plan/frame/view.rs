//! A book made ready for planning: calendar and sums, reckoned once.

use crate::book::Book;
use crate::book::model::{Build, BuildState, Line, OrderLine};
use crate::calendar::{Closures, DayAxis, WorkCalendar, next_ordering_day};
use crate::command::{BuildCommand, Command};
use crate::forecast::CommonCause;
use crate::ids::{BuildId, PartId, SupplierId};
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
            closures: HashMap::new(),
        };
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

    /// What makes one supplier's orders late together.
    pub(in crate::plan) fn cause(&self) -> CommonCause {
        self.learned.map_or_else(CommonCause::none, |learned| learned.cause.clone())
    }

    /// Drafts of orders that have a part.
    pub(in crate::plan) fn drafts(&self, part: PartId) -> impl Iterator<Item = &'a OrderLine> {
        let lines = self.book.order_lines_for_part(part);
        lines.filter(|line| line.placed_on.is_none() && line.outstanding().is_positive())
    }

    pub(in crate::plan) fn closures(&self, supplier: SupplierId) -> Closures {
        self.closures.get(&supplier).cloned().unwrap_or_else(Closures::none)
    }

    /// Stock that is here for a line: issued or set aside.
    pub(in crate::plan) fn here(&self, line: &Line) -> Quantity {
        line.issued + self.book.held_for(line.id)
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
    if build.state.is_over() {
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
