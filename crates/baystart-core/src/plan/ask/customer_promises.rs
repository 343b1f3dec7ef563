//! Delivery dates that were given to customers: the chance of keeping each today, what changed it,
//! and how earlier ones were kept.

use crate::book::Book;
use crate::book::model::{Build, BuildState, CustomerPromise};
use crate::ids::BuildId;
use crate::plan::ask::since::{Held, Since, since_with};
use crate::plan::bays::live::{Bays, bays};
use crate::plan::frame::learned::Learned;
use crate::plan::frame::view::{View, as_if_open, live_build};
use crate::plan::reckon::forecast::{Reckoned, UndatedLine};
use crate::refusal::Refusal;
use jiff::civil::Date;
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Lower ends of the bands of stated confidence by which promises are scored.
const BANDS: [f64; 4] = [0.0, 0.5, 0.8, 0.95];

/// A promise to a customer that is still to be kept.
#[derive(Clone, Debug, PartialEq)]
pub struct PromisedBuild {
    /// Which.
    pub build: BuildId,
    /// The promise in force.
    pub promise: CustomerPromise,
    /// How often the date was given, this one included.
    pub times_given: usize,
    /// Chance in [0, 1] of keeping it, as things stand.
    pub chance: f64,
    /// Handover at 80 %.
    pub handover_80: Option<Date>,
    /// Working days from the promised day to the handover at 80 %; negative: room to spare.
    pub days_late_80: Option<i64>,
    /// What has no date at all: chance and handover are those of the rest.
    pub undated: Vec<UndatedLine>,
    /// What happened since it was given.
    pub since: Since,
}

/// How promises were kept that were given at a confidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PromiseScore {
    /// Stated chance from here, in [0, 1].
    pub from: f64,
    /// Up to below here; 1 is in the last band.
    pub below: f64,
    /// Promises that have come due.
    pub given: usize,
    /// Of these kept.
    pub kept: usize,
    /// Mean stated chance.
    pub mean_stated: f64,
}

/// Live builds with a promise, the endangered first, and how past promises were kept.
pub type PromisesWatched = (Vec<PromisedBuild>, Vec<PromiseScore>);

/// The chance in [0, 1] that a build is handed over by the end of `delivery_on`, the bays played forward.
///
/// # Errors
/// The build is not in the book, or delivered or cancelled.
pub fn chance_of_promise(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    as_of: Date,
    delivery_on: Date,
) -> Result<f64, Refusal> {
    let chances = chances_of_promise(book, learned, build, as_of, &[delivery_on])?;
    Ok(chances.first().copied().unwrap_or(0.0))
}

/// [`chance_of_promise`] of each of several days.
///
/// # Errors
/// As there.
pub fn chances_of_promise(
    book: &Book,
    learned: Option<&Learned>,
    build: BuildId,
    as_of: Date,
    days: &[Date],
) -> Result<Vec<f64>, Refusal> {
    let row = live_build(book, build)?;
    let view = View::new(book, learned, as_of);
    let bays = bays(book, learned, as_of, &view)?;
    as_it_binds(&view, row, |view, reckoned| view.chances_of_delivery(row, reckoned, &bays, days))
}

/// Reckons a live build, one that binds nothing as if it did.
pub(in crate::plan) fn as_it_binds<T>(
    view: &View<'_>,
    row: &Build,
    tell: impl FnOnce(&View<'_>, &Reckoned<'_>) -> T,
) -> Result<T, Refusal> {
    match as_if_open(view.book, row, view.as_of)? {
        Some(overlaid) => {
            let view = View::new(&overlaid, view.learned, view.as_of);
            Ok(tell(&view, &view.reckon(row.id)))
        }
        None => Ok(tell(view, &view.reckon(row.id))),
    }
}

/// Every live build with a promise, the endangered first, at the start of `as_of`; and how the
/// promises were kept that came due before. `go_on` is asked before each build; None: it said no.
///
/// # Errors
/// None for a book that keeps the rules; a refusal of the overlay of a quoted build or one on hold
/// is passed on.
pub fn customer_promises(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
    go_on: &dyn Fn() -> bool,
) -> Result<Option<PromisesWatched>, Refusal> {
    let mut rows = Vec::new();
    let view = View::new(book, learned, as_of);
    let held = bays(book, learned, as_of, &view)?;
    // Many promises were given on one day.
    let mut since: BTreeMap<Date, Held<'_>> = BTreeMap::new();
    for build in book.builds.values() {
        if !build.state.is_over()
            && let Some(promise) = build.customer_promises.last()
        {
            if !go_on() {
                return Ok(None);
            }
            let then = match since.remove(&promise.made_on) {
                Some(then) => then,
                None => Held::new(book, None, learned, (promise.made_on, as_of), &held)?,
            };
            rows.push(watched(&view, &held, &then, build, promise)?);
            since.insert(promise.made_on, then);
        }
    }
    rows.sort_by(|a, b| {
        let by_chance = a.chance.partial_cmp(&b.chance).unwrap_or(Ordering::Equal);
        by_chance
            .then(a.promise.delivery_on.cmp(&b.promise.delivery_on))
            .then_with(|| book.build_number(a.build).cmp(book.build_number(b.build)))
    });
    Ok(Some((rows, scores(book, as_of))))
}

fn watched(
    view: &View<'_>,
    bays: &Bays,
    then: &Held<'_>,
    build: &Build,
    promise: &CustomerPromise,
) -> Result<PromisedBuild, Refusal> {
    let (chance, handover_80, undated) = as_it_binds(view, build, |view, reckoned| {
        let chance = view.chance_of_delivery(build, reckoned, bays, promise.delivery_on);
        let handover = view.delivery(build, reckoned, bays).at_80();
        (chance, handover, view.undated(reckoned))
    })?;
    let between = |day| view.calendar.working_days_between(promise.delivery_on, day);
    Ok(PromisedBuild {
        build: build.id,
        promise: promise.clone(),
        times_given: build.customer_promises.len(),
        chance,
        handover_80,
        days_late_80: handover_80.map(between),
        undated,
        since: since_with(view.book, view.learned, build.id, then)?,
    })
}

/// Promises of delivered builds, and those whose day has passed; what has no stated chance is in no
/// band. Bands without a promise are left out.
fn scores(book: &Book, as_of: Date) -> Vec<PromiseScore> {
    let mut rows: Vec<PromiseScore> = Vec::new();
    for (at, from) in BANDS.into_iter().enumerate() {
        let below = BANDS.get(at + 1).copied().unwrap_or(1.0);
        let last = at + 1 == BANDS.len();
        let (mut given, mut kept, mut stated) = (0, 0, 0.0);
        for build in book.builds.values().filter(|b| b.state != BuildState::Cancelled) {
            for promise in &build.customer_promises {
                let Some(chance) = promise.stated_chance else { continue };
                if chance < from || (chance >= below && !last) {
                    continue;
                }
                let Some(in_time) = kept_in_time(build, promise, as_of) else { continue };
                given += 1;
                kept += usize::from(in_time);
                stated += chance;
            }
        }
        if given > 0 {
            let mean_stated = stated / f64::from(u32::try_from(given).unwrap_or(u32::MAX));
            rows.push(PromiseScore { from, below, given, kept, mean_stated });
        }
    }
    rows
}

/// None: it is not due yet, or nobody knows when the vehicle was handed over.
fn kept_in_time(build: &Build, promise: &CustomerPromise, as_of: Date) -> Option<bool> {
    match (build.state, build.delivered_on) {
        (BuildState::Delivered, delivered) => Some(delivered? <= promise.delivery_on),
        _ if promise.delivery_on < as_of => Some(false),
        _ => None,
    }
}
