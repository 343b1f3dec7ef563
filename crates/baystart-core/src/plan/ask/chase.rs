//! Whom to call first: open order lines by what a call is worth today.

use crate::book::Book;
use crate::book::model::{Build, Order, OrderLine, OrderLineState};
use crate::calendar::days_between;
use crate::plan::ask::board::board;
use crate::plan::ask::promises::as_it_binds;
use crate::plan::ask::weight;
use crate::plan::bays::holdings::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::View;
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
/// By how much a promise in danger counts more.
const ENDANGERED_WEIGHT: f64 = 2.0;

/// A build that hangs on an order line.
#[derive(Clone, Debug, PartialEq)]
pub struct ChasedBuild {
    /// Build number.
    pub build: String,
    /// Chance in [0, 1] that the line decides its start.
    pub gating: f64,
    /// Working days by which its start at 80 % comes earlier if the line came today.
    pub days_gained: usize,
    /// The build has no date, because nobody knows when the line comes.
    pub undated: bool,
    /// The delivery date that its customer was given is in danger.
    pub endangered: bool,
}

/// An order line that is worth a call.
#[derive(Clone, Debug, PartialEq)]
pub struct Chase {
    /// Order number.
    pub order: String,
    /// Line of the order.
    pub order_line: i32,
    /// Supplier code.
    pub supplier: String,
    /// As the supplier answered; may be empty.
    pub supplier_reference: String,
    /// Part number.
    pub part: String,
    /// Its description.
    pub description: String,
    /// Still on order.
    pub quantity: Quantity,
    /// The promise in force.
    pub promised_on: Option<Date>,
    /// Last day on which anything was heard of it.
    pub last_contact_on: Option<Date>,
    /// Builds whose start it can decide, the most gained first.
    pub builds: Vec<ChasedBuild>,
    /// See [`chases`].
    pub worth: f64,
    /// Why, for whoever calls: one sentence.
    pub reason: String,
}

/// Open order lines by what a call is worth, at the start of `as_of`: the most first.
///
/// worth = sum over builds of w(priority) x P(the line is the last to arrive) x working days gained
/// at 80 % if it were here today, doubled where a promise to the customer is in danger (its chance
/// below [`ENDANGERED_BELOW`]); w(priority) = 200 / (100 + priority), so that priority 100 counts 1
/// and priority 1 nearly 2. A line that nobody dates, and that leaves a build without a date, counts as
/// certain and [`UNDATED_DAYS`] days. The weights are judgement.
///
/// Lines on which nothing hangs now are listed after them where they are worth asking after all the
/// same: the promise has passed, no answer [`UNANSWERED_DAYS`] working days after placing, despatched
/// [`DESPATCHED_DAYS`] calendar days ago, or no news for longer than the shop's settings allow.
///
/// # Errors
/// As [`board`].
pub fn chases(book: &Book, learned: Option<&Learned>, as_of: Date) -> Result<Vec<Chase>, Refusal> {
    let mut hang: BTreeMap<(String, i32), Vec<(ChasedBuild, f64)>> = BTreeMap::new();
    let view = View::new(book, learned, as_of);
    let bays = bays(book, learned, as_of, &view)?;
    let numbered: BTreeMap<&str, &Build> =
        book.builds.values().map(|build| (build.number.written(), build)).collect();
    for row in board(book, learned, as_of)? {
        let forecast = row.forecast;
        let Some(build) = numbered.get(forecast.build.as_str()).copied() else { continue };
        let endangered = endangered(&view, &bays, build)?;
        let danger = if endangered { ENDANGERED_WEIGHT } else { 1.0 };
        let weight = danger * weight::of_priority(build.priority);
        for key in undated(book, build, &forecast) {
            let chased = ChasedBuild {
                build: forecast.build.clone(),
                gating: 1.0,
                days_gained: 0,
                undated: true,
                endangered,
            };
            hang.entry(key).or_default().push((chased, weight * UNDATED_DAYS));
        }
        for source in forecast.sources.iter().filter(|source| !source.order.is_empty()) {
            let days_gained = source.days_gained.unwrap_or(0);
            let gained = u32::try_from(days_gained).map_or(0.0, f64::from);
            let worth = weight * source.gating * gained;
            let chased = ChasedBuild {
                build: forecast.build.clone(),
                gating: source.gating,
                days_gained,
                undated: false,
                endangered,
            };
            let key = (source.order.clone(), source.order_line);
            hang.entry(key).or_default().push((chased, worth));
        }
    }
    let mut rows = Vec::new();
    for line in book.order_lines.values() {
        let open = line.on_order().is_positive() && !line.package;
        let Some(order) = book.orders.get(&line.order).filter(|_| open) else { continue };
        let key = (order.number.written().to_owned(), line.number);
        let builds = hang.remove(&key).unwrap_or_default();
        rows.extend(chase(book, order, line, builds, as_of));
    }
    rows.sort_by(|a, b| {
        let late = |row: &Chase| row.promised_on.unwrap_or(Date::MAX);
        b.worth
            .total_cmp(&a.worth)
            .then(late(a).cmp(&late(b)))
            .then_with(|| (&a.order, a.order_line).cmp(&(&b.order, b.order_line)))
    });
    Ok(rows)
}

/// The open order lines for want of whose date a build has none.
fn undated(book: &Book, build: &Build, forecast: &BuildForecast) -> Vec<(String, i32)> {
    let mut keys = Vec::new();
    for undated in &forecast.undated {
        let Ok(line) = book.find_line(build, undated.line) else { continue };
        for peg in book.pegs_of(line.id) {
            let Some(supply) = book.order_lines.get(&peg.order_line) else { continue };
            let dated = supply.quoted_days.is_some() || supply.despatched_on.is_some();
            let Some(order) = book.orders.get(&supply.order).filter(|_| !dated) else { continue };
            let key = (order.number.written().to_owned(), supply.number);
            if supply.promises.is_empty() && !keys.contains(&key) {
                keys.push(key);
            }
        }
    }
    keys
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
    builds.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.build.cmp(&b.0.build)));
    let worth: f64 = builds.iter().map(|(_, worth)| worth).sum();
    let builds: Vec<ChasedBuild> = builds.into_iter().map(|(build, _)| build).collect();
    let promised_on = line.promises.last().map(|promise| promise.promised_on);
    let known = line.promises.last().map(|promise| promise.known_on);
    let facts = [line.placed_on, line.acknowledged_on, line.despatched_on, line.last_contact_on];
    let last_contact_on = facts.into_iter().flatten().chain(known).max();
    let why = troubles(book, line, promised_on, last_contact_on, as_of);
    let decides = builds.first().filter(|_| worth > 0.0).map(decides);
    if decides.is_none() && why.is_empty() {
        return None;
    }
    let mut reason: Vec<String> = decides.into_iter().chain(why).collect();
    if let Some(first) = reason.first_mut() {
        let mut letters = first.chars();
        let head: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
        *first = format!("{head}{}", letters.as_str());
    }
    let part = book.parts.get(&line.part);
    let supplier = book.suppliers.get(&order.supplier);
    Some(Chase {
        order: order.number.written().to_owned(),
        order_line: line.number,
        supplier: supplier.map_or(String::new(), |s| s.code.written().to_owned()),
        supplier_reference: order.supplier_reference.clone(),
        part: part.map_or(String::new(), |part| part.number.written().to_owned()),
        description: part.map_or(String::new(), |part| part.description.clone()),
        quantity: line.on_order(),
        promised_on,
        last_contact_on,
        builds,
        worth,
        reason: format!("{}.", reason.join("; ")),
    })
}

/// `it decides B-1042 with 41 %: 9 working days gained if it came today`.
fn decides(build: &ChasedBuild) -> String {
    if build.undated {
        return format!("{} has no date without it", build.build);
    }
    let days = match build.days_gained {
        1 => "1 working day".to_owned(),
        days => format!("{days} working days"),
    };
    let danger = match build.endangered {
        true => ", whose promised delivery is in danger",
        false => "",
    };
    let percent = (build.gating * 100.0).round().clamp(1.0, 99.0);
    format!(
        "it decides {} with {percent:.0} %{danger}: {days} gained if it came today",
        build.build
    )
}

/// What is wrong with the line itself.
fn troubles(
    book: &Book,
    line: &OrderLine,
    promised_on: Option<Date>,
    last_contact_on: Option<Date>,
    as_of: Date,
) -> Vec<String> {
    let mut why = Vec::new();
    let ago = |day: Date| match days_between(day, as_of) {
        1 => "yesterday".to_owned(),
        days => format!("{days} days ago"),
    };
    if let Some(promised) = promised_on.filter(|day| *day < as_of) {
        why.push(format!("it was promised for {promised}, {}", ago(promised)));
    }
    let unanswered = line.state() == OrderLineState::Placed && line.promises.is_empty();
    if let Some(placed) = line.placed_on.filter(|_| unanswered) {
        // Whoever was asked has some days to answer.
        let heard = last_contact_on.unwrap_or(placed);
        let days = book.calendar().working_days_between(heard, as_of);
        if days >= UNANSWERED_DAYS {
            why.push(format!("no answer since it was ordered, {}", ago(placed)));
        }
    }
    if let Some(left) =
        line.despatched_on.filter(|day| days_between(*day, as_of) >= DESPATCHED_DAYS)
    {
        why.push(format!("it was despatched {} and is not here", ago(left)));
    }
    let learning = book.settings.as_ref().map(|settings| settings.learning).unwrap_or_default();
    let silent = |day: &Date| days_between(*day, as_of) > i64::from(learning.stale_after_days);
    if let Some(heard) = last_contact_on.filter(silent) {
        why.push(format!("nothing was heard of it since {heard}"));
    }
    why
}
