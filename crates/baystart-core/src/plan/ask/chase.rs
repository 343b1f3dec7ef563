//! Whom to call first: open order lines by what a call is worth today.

use crate::book::Book;
use crate::book::model::{Build, BuildState, Order, OrderLine, OrderLineState};
use crate::calendar::days_between;
use crate::ids::{BuildId, OrderLineId, SupplierId};
use crate::plan::ask::board::BoardRow;
use crate::plan::ask::board_cache::BoardWork;
use crate::plan::ask::customer_promises::as_it_binds;
use crate::plan::ask::weight;
use crate::plan::bays::live::Bays;
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::View;
use crate::plan::ground::graded;
use crate::plan::reckon::forecast::BuildForecast;
use crate::quantity::Quantity;
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Working days after placing from which an order without an answer is asked after.
pub const UNANSWERED_DAYS: i64 = 5;
/// Calendar days after despatch from which goods are asked after.
pub const DESPATCHED_DAYS: i64 = 7;
/// Chance of keeping a promise to a customer below which it is in danger.
pub const ENDANGERED_BELOW: f64 = 0.8;
/// Working days that an order without any date counts as, where a build has no date for it.
const UNDATED_DAYS: f64 = 10.0;
/// Working days gained below which nobody calls for a build's sake.
const GAIN_MIN: f64 = 0.05;
/// By how much a promise in danger counts more.
const ENDANGERED_WEIGHT: f64 = 2.0;

/// A build that hangs on an order line.
#[derive(Clone, Debug, PartialEq)]
pub struct ChasedBuild {
    /// Which.
    pub build: BuildId,
    /// Chance in [0, 1] that the line decides its start.
    pub gating: f64,
    /// Working days by which its start comes earlier if the line came today, in the mean.
    pub days_gained: f64,
    /// The build has no date, because nobody knows when the line comes.
    pub undated: bool,
    /// The delivery date that its customer was given is in danger.
    pub endangered: bool,
}

/// What is wrong with an order line itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// It was promised for this day, which has passed.
    PromisePassed(Date),
    /// It was placed on this day, and nobody answered.
    NoAnswer(Date),
    /// It was despatched on this day, and is not here.
    NotHere(Date),
    /// Nothing was heard of it since this day.
    Silence(Date),
    /// So much of its part lies free in the shop, in the part's unit: no call is needed for that.
    LiesFree(Quantity),
}

/// An order line that is worth a call.
#[derive(Clone, Debug, PartialEq)]
pub struct Chase {
    /// Which.
    pub order_line: OrderLineId,
    /// From whom.
    pub supplier: SupplierId,
    /// The promise in force.
    pub promised_on: Option<Date>,
    /// Last day on which anything was heard of it.
    pub last_contact_on: Option<Date>,
    /// Builds whose start it can decide, the most gained first.
    pub builds: Vec<ChasedBuild>,
    /// See [`chases`].
    pub worth: f64,
    /// What is wrong with it.
    pub troubles: Vec<Trouble>,
}

/// Open order lines by what a call is worth, at the start of `as_of`: the most first.
///
/// worth = sum over builds of w(priority) x P(the line is the last to arrive) x working days gained
/// if it were here today, doubled where a promise to the customer is in danger (its chance
/// below [`ENDANGERED_BELOW`]); w(priority) = 200 / (100 + priority), so that priority 100 counts 1
/// and priority 1 nearly 2. A line that nobody dates, and that leaves a build without a date, counts as
/// certain and [`UNDATED_DAYS`] days. The weights are judgement.
///
/// A build on hold waits for nothing. Lines on which nothing hangs now are listed after them where they are worth asking after all the
/// same: the promise has passed, no answer [`UNANSWERED_DAYS`] working days after placing, despatched
/// [`DESPATCHED_DAYS`] calendar days ago, or no news for longer than the shop's settings allow.
///
/// `go_on` is asked before each build whether somebody still waits; None: nobody does.
///
/// # Errors
/// As [`board`].
pub fn chases(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    go_on: &dyn Fn() -> bool,
) -> Result<Option<Vec<Chase>>, Refusal> {
    let mut hang: BTreeMap<OrderLineId, Vec<(ChasedBuild, f64)>> = BTreeMap::new();
    let work = BoardWork::new(book, learned, as_of)?;
    for at in 0..work.len() {
        if !go_on() {
            return Ok(None);
        }
        let Some(BoardRow { forecast, .. }) = work.rows(at..at + 1)?.pop() else { continue };
        let Some(build) = book.builds.get(&forecast.build) else { continue };
        // Nobody waits for the parts of a build that is on hold.
        if build.state == BuildState::OnHold {
            continue;
        }
        let endangered = endangered(work.view(), work.bays(), build)?;
        let danger = if endangered { ENDANGERED_WEIGHT } else { 1.0 };
        let weight = danger * weight::of_priority(build.priority);
        for line in undated(book, build, &forecast) {
            let chased = ChasedBuild {
                build: build.id,
                gating: 1.0,
                days_gained: 0.0,
                undated: true,
                endangered,
            };
            hang.entry(line).or_default().push((chased, weight * UNDATED_DAYS));
        }
        for source in &forecast.sources {
            let Some(line) = source.waits_for.order_line() else { continue };
            let days_gained = source.days_gained;
            if days_gained < GAIN_MIN {
                continue;
            }
            let worth = weight * source.gating * days_gained;
            let chased = ChasedBuild {
                build: build.id,
                gating: source.gating,
                days_gained,
                undated: false,
                endangered,
            };
            hang.entry(line).or_default().push((chased, worth));
        }
    }
    let mut rows = Vec::new();
    for line in book.order_lines.values() {
        let open = line.on_order().is_positive() && !line.package;
        let Some(order) = book.orders.get(&line.order).filter(|_| open) else { continue };
        let builds = hang.remove(&line.id).unwrap_or_default();
        rows.extend(chase(book, order, line, builds, as_of));
    }
    let called = |row: &Chase| {
        let line = book.order_lines.get(&row.order_line);
        line.map(|line| (book.order_number(line.order), line.number))
    };
    rows.sort_by(|a, b| {
        let late = |row: &Chase| row.promised_on.unwrap_or(Date::MAX);
        graded(b.worth)
            .cmp(&graded(a.worth))
            .then(late(a).cmp(&late(b)))
            .then_with(|| called(a).cmp(&called(b)))
    });
    Ok(Some(rows))
}

/// The open order lines for want of whose date a build has none.
fn undated(book: &Book, build: &Build, forecast: &BuildForecast) -> Vec<OrderLineId> {
    let mut lines = Vec::new();
    for number in forecast.undated.iter().filter_map(|undated| undated.line) {
        let Ok(line) = book.find_line(build, number) else { continue };
        for peg in book.pegs_of(line.id) {
            let Some(supply) = book.order_lines.get(&peg.order_line) else { continue };
            let dated = supply.quoted_days.is_some() || supply.despatched_on.is_some();
            if !dated && supply.promises.is_empty() && !lines.contains(&supply.id) {
                lines.push(supply.id);
            }
        }
    }
    lines
}

fn endangered(view: &View<'_>, bays: &Bays, build: &Build) -> Result<bool, Refusal> {
    let Some(promise) = build.customer_promises.last() else { return Ok(false) };
    let chance = as_it_binds(view, build, |view, reckoned| {
        view.chance_of_delivery(build, reckoned, bays, promise.delivery_on)
    })?;
    Ok(chance < ENDANGERED_BELOW)
}

/// None: nothing hangs on it, and it goes its way.
fn chase(
    book: &Book,
    order: &Order,
    line: &OrderLine,
    mut builds: Vec<(ChasedBuild, f64)>,
    as_of: Date,
) -> Option<Chase> {
    let number = |row: &(ChasedBuild, f64)| book.build_number(row.0.build);
    builds.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| number(a).cmp(number(b))));
    let worth: f64 = builds.iter().map(|(_, worth)| worth).sum();
    let builds: Vec<ChasedBuild> = builds.into_iter().map(|(build, _)| build).collect();
    let promised_on = line.promises.last().map(|promise| promise.promised_on);
    let known = line.promises.last().map(|promise| promise.known_on);
    let facts = [line.placed_on, line.acknowledged_on, line.despatched_on, line.last_contact_on];
    let last_contact_on = facts.into_iter().flatten().chain(known).max();
    let troubles = troubles(book, line, promised_on, last_contact_on, as_of);
    (worth > 0.0 || !troubles.is_empty()).then_some(Chase {
        order_line: line.id,
        supplier: order.supplier,
        promised_on,
        last_contact_on,
        builds,
        worth,
        troubles,
    })
}

/// What is wrong with the line itself.
fn troubles(
    book: &Book,
    line: &OrderLine,
    promised_on: Option<Date>,
    last_contact_on: Option<Date>,
    as_of: Date,
) -> Vec<Trouble> {
    let mut all = Vec::new();
    let lies_free = book.available_of(line.part).min(book.pegged_on(line.id));
    all.extend(lies_free.is_positive().then_some(Trouble::LiesFree(lies_free)));
    all.extend(promised_on.filter(|day| *day < as_of).map(Trouble::PromisePassed));
    let unanswered = line.state() == OrderLineState::Placed && line.promises.is_empty();
    if let Some(placed) = line.placed_on.filter(|_| unanswered) {
        // Whoever was asked has some days to answer.
        let heard = last_contact_on.unwrap_or(placed);
        let days = book.calendar().working_days_between(heard, as_of);
        all.extend((days >= UNANSWERED_DAYS).then_some(Trouble::NoAnswer(placed)));
    }
    let left = line.despatched_on.filter(|day| days_between(*day, as_of) >= DESPATCHED_DAYS);
    all.extend(left.map(Trouble::NotHere));
    let learning = book.settings.as_ref().map(|settings| settings.learning).unwrap_or_default();
    let silent = |day: &Date| days_between(*day, as_of) > i64::from(learning.stale_after_days);
    all.extend(last_contact_on.filter(silent).map(Trouble::Silence));
    all
}
