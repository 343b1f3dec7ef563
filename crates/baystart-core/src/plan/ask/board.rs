//! Every live build with its forecast, in the order in which it is served.

use crate::book::Book;
use crate::plan::ask::board_cache::BoardWork;
use crate::plan::frame::learned::Learned;
use crate::plan::reckon::forecast::BuildForecast;
use crate::refusal::Refusal;
use jiff::civil::Date;

/// A build beside its forecast.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardRow {
    /// The forecast.
    pub forecast: BuildForecast,
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
    let work = BoardWork::new(book, learned, as_of)?;
    work.rows(0..work.len())
}
