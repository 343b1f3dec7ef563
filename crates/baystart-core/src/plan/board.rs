//! Every live build with its forecast, in the order in which it is served.

use super::build::BuildForecast;
use super::holdings::bays;
use super::learned::Learned;
use super::view::{View, as_if_open};
use crate::book::Book;
use crate::book::model::BuildState;
use crate::refusal::Refusal;
use jiff::civil::Date;

/// A build beside its forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardRow {
    /// The forecast.
    pub forecast: BuildForecast,
    /// For people.
    pub customer: String,
    /// Where it stands.
    pub state: BuildState,
    /// Lines that gate and have all their parts.
    pub lines_here: u32,
    /// Lines that gate.
    pub lines_total: u32,
    /// Lines that gate and are bound to less than they need.
    pub lines_short: u32,
}

/// The forecast of every build that is open, in the bay or on hold, by priority,
/// planned start and opening time.
///
/// # Errors
/// None for a book that keeps the rules; a refusal of the overlay of a build on
/// hold is passed on.
pub fn board(
    book: &Book,
    learned: Option<&Learned>,
    as_of: Date,
) -> Result<Vec<BoardRow>, Refusal> {
    let live = [BuildState::Open, BuildState::InBay, BuildState::OnHold];
    let mut builds: Vec<_> =
        book.builds.values().filter(|build| live.contains(&build.state)).collect();
    builds.sort_by_cached_key(|build| book.service_key(build));
    let view = View::new(book, learned, as_of);
    let bays = bays(book, learned, as_of, &view)?;
    let mut rows = Vec::new();
    for build in builds {
        let (mut lines_here, mut lines_total, mut lines_short) = (0, 0, 0);
        for line in view.lines(build.id).iter().filter(|line| book.gates(line)) {
            lines_total += 1;
            lines_here += u32::from(view.here(line) >= line.required);
            lines_short += u32::from(view.short(line).is_positive());
        }
        let forecast = match as_if_open(book, build, as_of)? {
            Some(overlaid) => View::new(&overlaid, learned, as_of).forecast(build, None, &bays),
            None => view.forecast(build, None, &bays),
        };
        rows.push(BoardRow {
            forecast,
            customer: build.customer.clone(),
            state: build.state,
            lines_here,
            lines_total,
            lines_short,
        });
    }
    Ok(rows)
}
