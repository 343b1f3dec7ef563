//! Imported lines as past lines.

use crate::convert::{corrupt, days, own_day, own_day_option};
use crate::entity::past_line_now;
use crate::error::StoreError;
use crate::past::Entered;
use baystart_core::leadtime::history::{CancelledBy, Fact, PastLine, PastPromise};
use jiff::civil::Date;

/// An imported row as evidence, without keys.
///
/// `recorded`: what the file says to have been entered later counts as known
/// from then on only; else every fact counts as entered on its own day.
pub fn past_line(row: &past_line_now::Model, recorded: bool) -> Result<PastLine, StoreError> {
    let entered = own_day_option(row.recorded_on)?.filter(|_| recorded);
    let single = Entered::read(&row.entered).map_err(|word| corrupt("the day of entry", word))?;
    let recorded_on = |on: Date| entered.map_or(on, |day| day.max(on));
    let fact = |on: Date, single: Option<Date>| {
        let own = single.filter(|_| recorded).map(|day| day.max(on));
        Fact { on, recorded_on: own.unwrap_or_else(|| recorded_on(on)) }
    };
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
        placed: fact(own_day(row.placed_on)?, single.placed),
        taken_over_on: None,
        rejected: row.rejected > 0,
        promises,
        despatched: own_day_option(row.despatched_on)?.map(|on| fact(on, single.despatched)),
        completed: own_day_option(row.received_on)?.map(|on| fact(on, single.received)),
        cancelled: own_day_option(row.cancelled_on)?.map(|on| (by, fact(on, single.cancelled))),
        contacts: own_day_option(row.last_known_open_on)?
            .map(|on| fact(on, None))
            .into_iter()
            .collect(),
    })
}

/// `2026-03-02@2026-02-10`: a date and the day on which it became known.
fn promise(word: &str) -> Option<(Date, Date)> {
    let (date, known_on) = word.split_once('@')?;
    Some((date.parse().ok()?, known_on.parse().ok()?))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;
    use uuid::Uuid;

    /// Placed on 2 February, entered on the 5th; received on 2 March, booked on the 9th.
    #[test]
    fn each_fact_counts_from_the_day_on_which_it_was_entered() {
        let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
        let mut row = past_line_now::Model {
            shop: Uuid::nil(),
            supplier: Uuid::nil(),
            order_number: "P-1".to_owned(),
            line: 1,
            part: "FW-1".to_owned(),
            quantity: 1000,
            quoted_days: Some(20),
            placed_on: day("2026-02-02"),
            promises: String::new(),
            despatched_on: Some(day("2026-02-27")),
            received_on: Some(day("2026-03-02")),
            cancelled_on: None,
            cancelled_by_supplier: false,
            last_known_open_on: None,
            recorded_on: Some(day("2026-03-20")),
            rejected: 0,
            entered: "placed@2026-02-05 received@2026-03-09".to_owned(),
        };
        let line = past_line(&row, true).unwrap();
        assert_eq!(line.placed.recorded_on.to_string(), "2026-02-05");
        assert_eq!(line.completed.unwrap().recorded_on.to_string(), "2026-03-09");
        assert_eq!(line.despatched.unwrap().recorded_on.to_string(), "2026-03-20", "as the row");
        let known = past_line(&row, false).unwrap();
        assert_eq!(known.completed.unwrap().recorded_on.to_string(), "2026-03-02");
        row.entered = "sent@2026-02-05".to_owned();
        assert!(past_line(&row, true).unwrap_err().to_string().contains("sent@2026-02-05"));
    }
}
