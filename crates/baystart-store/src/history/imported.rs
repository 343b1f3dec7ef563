//! Imported lines as past lines.

use crate::convert::{corrupt, days, own_day, own_day_option};
use crate::entity::past_line_now;
use crate::error::StoreError;
use baystart_core::leadtime::history::{CancelledBy, Fact, PastLine, PastPromise};
use jiff::civil::Date;

/// An imported row as evidence, without keys.
///
/// `recorded`: what the file says to have been entered later counts as known
/// from then on only; else every fact counts as entered on its own day.
pub fn past_line(row: &past_line_now::Model, recorded: bool) -> Result<PastLine, StoreError> {
    let entered = own_day_option(row.recorded_on)?.filter(|_| recorded);
    let recorded_on = |on: Date| entered.map_or(on, |day| day.max(on));
    let fact = |on: Date| Fact { on, recorded_on: recorded_on(on) };
    let by = match row.cancelled_by_supplier {
        true => CancelledBy::Supplier,
        false => CancelledBy::Us,
    };
    let mut promises = Vec::new();
    for word in row.promises.split_whitespace() {
        let (date, known_on) = promise(word).ok_or_else(|| corrupt("the promise", word))?;
        promises.push(PastPromise { date, known_on, recorded_on: recorded_on(known_on) });
    }
    Ok(PastLine {
        supplier: 0,
        offer: 0,
        order: None,
        quoted_days: days("the quoted lead time", row.quoted_days)?,
        placed: fact(own_day(row.placed_on)?),
        taken_over_on: None,
        rejected: row.rejected > 0,
        promises,
        despatched: own_day_option(row.despatched_on)?.map(fact),
        completed: own_day_option(row.received_on)?.map(fact),
        cancelled: own_day_option(row.cancelled_on)?.map(|on| (by, fact(on))),
        contacts: own_day_option(row.last_known_open_on)?.map(fact).into_iter().collect(),
    })
}

/// `2026-03-02@2026-02-10`: a date and the day on which it became known.
fn promise(word: &str) -> Option<(Date, Date)> {
    let (date, known_on) = word.split_once('@')?;
    Some((date.parse().ok()?, known_on.parse().ok()?))
}
