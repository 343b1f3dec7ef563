//! The shop's own order lines as past lines.

use super::recorded::Recorded;
use crate::convert::{days, own_day, own_day_option, own_instant};
use crate::entity::{order_line, promise};
use crate::error::StoreError;
use baystart_core::leadtime::history::{CancelledBy, Fact, PastLine, PastPromise};
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// An order line as evidence, without keys; None for a draft.
///
/// `recorded` says on which day of the shop each fact was entered; without it
/// every fact counts as entered on its own day. [`take_over`] follows where the
/// line came from a sheet of open orders.
pub fn past_line(
    row: &order_line::Model,
    promises: &[promise::Model],
    recorded: Option<(&Recorded, &TimeZone)>,
) -> Result<Option<PastLine>, StoreError> {
    let Some(placed_on) = own_day_option(row.placed_on)? else { return Ok(None) };
    let entered = recorded.map(|(recorded, _)| recorded);
    let placed =
        Fact { on: placed_on, recorded_on: entered.map_or(placed_on, |r| r.placed(placed_on)) };
    let despatched = own_day_option(row.despatched_on)?;
    let closed = own_day_option(row.closed_on)?
        .filter(|_| is_over(row))
        .map(|on| Fact { on, recorded_on: entered.map_or(on, |r| r.closed(on)) });
    let mut contacts = Vec::new();
    match entered {
        Some(recorded) => contacts = recorded.contacts(),
        None => {
            let known =
                [own_day_option(row.acknowledged_on)?, own_day_option(row.last_contact_on)?];
            for on in known.into_iter().flatten().filter(|on| *on > placed_on) {
                contacts.push(Fact { on, recorded_on: on });
            }
        }
    }
    Ok(Some(PastLine {
        supplier: 0,
        offer: 0,
        order: None,
        quoted_days: days("the quoted lead time", row.quoted_days)?,
        placed,
        taken_over_on: None,
        rejected: row.rejected > 0,
        promises: past_promises(promises, recorded.map(|(_, zone)| zone))?,
        despatched: despatched
            .map(|on| Fact { on, recorded_on: entered.map_or(on, |r| r.despatched(on)) }),
        completed: closed.filter(|_| row.cancelled_by_us + row.cancelled_by_supplier == 0),
        cancelled: closed.and_then(|fact| cancelled_by(row).map(|by| (by, fact))),
        contacts,
    }))
}

/// The line came from a sheet of open orders on that day; `recorded`: nobody knew
/// anything of it before.
pub fn take_over(line: &mut PastLine, day: Option<Date>, recorded: bool) {
    line.taken_over_on = day;
    let Some(day) = day.filter(|_| recorded) else { return };
    let facts = [&mut line.placed].into_iter().chain(line.despatched.as_mut());
    let facts = facts.chain(line.completed.as_mut()).chain(&mut line.contacts);
    for fact in facts.chain(line.cancelled.as_mut().map(|(_, fact)| fact)) {
        fact.recorded_on = fact.recorded_on.max(day);
    }
    for promise in &mut line.promises {
        promise.recorded_on = promise.recorded_on.max(day);
    }
}

/// Nothing more is on order.
const fn is_over(row: &order_line::Model) -> bool {
    row.received + row.cancelled_by_us + row.cancelled_by_supplier >= row.ordered
}

/// A line that was not delivered in full: by whose will. A supplier that failed
/// on a part of it failed.
const fn cancelled_by(row: &order_line::Model) -> Option<CancelledBy> {
    if row.cancelled_by_supplier > 0 {
        return Some(CancelledBy::Supplier);
    }
    if row.cancelled_by_us > 0 { Some(CancelledBy::Us) } else { None }
}

fn past_promises(
    rows: &[promise::Model],
    zone: Option<&TimeZone>,
) -> Result<Vec<PastPromise>, StoreError> {
    let mut promises = Vec::with_capacity(rows.len());
    // What was taken back teaches nothing.
    for row in rows.iter().filter(|row| row.taken_back_on.is_none()) {
        let known_on = own_day(row.known_on)?;
        let entered: Option<Date> = match zone {
            Some(zone) => Some(zone.to_datetime(own_instant(row.recorded_at)?).date()),
            None => None,
        };
        promises.push(PastPromise {
            date: own_day(row.promised_on)?,
            known_on,
            recorded_on: entered.map_or(known_on, |day| day.max(known_on)),
        });
    }
    Ok(promises)
}
