//! What a row of past order lines says, and whether its facts fit together.

use crate::import::columns::Column;
use crate::import::rows::{Cursor, promises};
use crate::import::{BadRow, Cells};
use baystart_core::ids::SupplierId;
use baystart_core::leadtime::QUOTE_DAYS_MAX;
use baystart_core::leadtime::history::CancelledBy;
use baystart_core::quantity::Quantity;
use baystart_core::refusal::Reason;
use baystart_proto::convert::{Reader, scalar};
use baystart_store::{Entered, PastRow};
use jiff::civil::Date;
use std::collections::HashMap;

/// The columns, in the documented order.
pub(crate) const COLUMNS: &[Column] = &[
    ("supplier", true),
    ("part", true),
    ("order", true),
    ("line", false),
    ("quantity", true),
    ("quoted_lead_time_days", false),
    ("placed_on", true),
    ("promises", false),
    ("despatched_on", false),
    ("received_on", false),
    ("cancelled_on", false),
    ("cancelled_by", false),
    ("last_known_open_on", false),
    ("recorded_on", false),
    ("placed_recorded_on", false),
    ("despatched_recorded_on", false),
    ("received_recorded_on", false),
    ("cancelled_recorded_on", false),
    ("rejected", false),
];

/// What rows are checked against.
#[derive(Clone, Debug)]
pub(crate) struct Known {
    /// The shop's suppliers, by the normal form of their codes.
    pub(crate) suppliers: HashMap<String, SupplierId>,
    /// In the shop's time zone.
    pub(crate) today: Date,
}

/// The row, or everything that is wrong with it.
pub(super) fn read(cells: &Cells, known: &Known) -> Result<PastRow, Vec<BadRow>> {
    let mut cursor = Cursor { cells, read: Reader::new() };
    let row = past_row(&mut cursor, known);
    cursor
        .read
        .finish(row)
        .map_err(|unread| unread.faults.list().iter().map(|fault| cells.bad_at(fault)).collect())
}

fn past_row(row: &mut Cursor<'_>, known: &Known) -> Option<PastRow> {
    let supplier = supplier(row, known);
    let part = row.number("part");
    let order = row.number("order");
    let line = line(row);
    let quantity = row.quantity("quantity");
    let quoted_days = quoted_days(row);
    let placed_on = row.need_date("placed_on");
    let promises = promises(row, "promises");
    let [despatched_on, received_on, cancelled_on, last_known_open_on, recorded_on] =
        ["despatched_on", "received_on", "cancelled_on", "last_known_open_on", "recorded_on"]
            .map(|column| row.date(column));
    let [placed, despatched, received, cancelled] = [
        "placed_recorded_on",
        "despatched_recorded_on",
        "received_recorded_on",
        "cancelled_recorded_on",
    ]
    .map(|column| row.date(column));
    let cancelled_by = cancelled_by(row, cancelled_on);
    let rejected = row.maybe_quantity("rejected");
    let mut promises = promises?;
    // Of two that became known on one day the later in the cell is in force.
    promises.sort_by_key(|(_, known_on)| *known_on);
    let out = PastRow {
        file_line: row.cells.place.line,
        supplier: supplier?,
        order: order?,
        line: line?,
        part: part?,
        quantity: quantity?,
        quoted_days: quoted_days?,
        placed_on: placed_on?,
        promises,
        despatched_on: despatched_on?,
        received_on: received_on?,
        cancelled: cancelled_by?.zip(cancelled_on?),
        last_known_open_on: last_known_open_on?,
        recorded_on: recorded_on?,
        entered: Entered {
            placed: placed?,
            despatched: despatched?,
            received: received?,
            cancelled: cancelled?,
        },
        rejected: rejected?.unwrap_or(Quantity::ZERO),
    };
    facts(row, &out, known.today);
    Some(out)
}

fn supplier(row: &mut Cursor<'_>, known: &Known) -> Option<SupplierId> {
    let code = row.number("supplier")?;
    let found = known.suppliers.get(code.normal()).copied();
    if found.is_none() {
        let message = format!("no supplier \"{code}\" in this shop");
        row.read.fault("supplier", Reason::SupplierUnknown, message);
    }
    found
}

/// 0 where the file names none.
fn line(row: &mut Cursor<'_>) -> Option<u32> {
    match row.whole("line")? {
        Some(0) => {
            row.read.fault("line", Reason::ValueInvalid, "0: lines are numbered from 1");
            None
        }
        line => Some(line.unwrap_or(0)),
    }
}

#[allow(clippy::option_option)]
fn quoted_days(row: &mut Cursor<'_>) -> Option<Option<u32>> {
    let column = "quoted_lead_time_days";
    let days = row.whole(column)?;
    if let Some(days) = days.filter(|days| *days > QUOTE_DAYS_MAX) {
        let message = format!("{days} days; at most {QUOTE_DAYS_MAX} are taken");
        row.read.fault(column, Reason::ValueInvalid, message);
    }
    Some(days)
}

#[allow(clippy::option_option)]
fn cancelled_by(
    row: &mut Cursor<'_>,
    cancelled_on: Option<Option<Date>>,
) -> Option<Option<CancelledBy>> {
    let text = row.cells.get("cancelled_by");
    let by = match text.to_lowercase().as_str() {
        "" => None,
        "us" => Some(CancelledBy::Us),
        "supplier" => Some(CancelledBy::Supplier),
        _ => {
            let message = format!("\"{}\" is neither us nor supplier", scalar::shown(text));
            row.read.fault("cancelled_by", Reason::ValueInvalid, message);
            return None;
        }
    };
    match (by, cancelled_on) {
        (None, Some(Some(_))) => {
            let message = "is needed with cancelled_on: us or supplier";
            row.read.fault("cancelled_by", Reason::FieldMissing, message);
        }
        (Some(_), Some(None)) => {
            let message = "is needed with cancelled_by";
            row.read.fault("cancelled_on", Reason::FieldMissing, message);
        }
        _ => {}
    }
    Some(by)
}

/// Notes facts that cannot be, or not together.
fn facts(row: &mut Cursor<'_>, line: &PastRow, today: Date) {
    let cancelled_on = line.cancelled.map(|(_, on)| on);
    let dated = [
        ("placed_on", Some(line.placed_on)),
        ("despatched_on", line.despatched_on),
        ("received_on", line.received_on),
        ("cancelled_on", cancelled_on),
        ("last_known_open_on", line.last_known_open_on),
        ("recorded_on", line.recorded_on),
    ];
    for (column, on) in dated {
        let Some(on) = on else { continue };
        if on > today {
            let message = format!("{on} is after today, {today}");
            row.read.fault(column, Reason::DateInFuture, message);
        }
        // What is entered on a day may have been typed in before it was placed.
        if on < line.placed_on && column != "recorded_on" {
            let message = format!("{on} is before the day of placing, {}", line.placed_on);
            row.read.fault(column, Reason::DateInvalid, message);
        }
    }
    for (column, what, on, recorded_on) in [
        ("placed_recorded_on", "placed_on", Some(line.placed_on), line.entered.placed),
        ("despatched_recorded_on", "despatched_on", line.despatched_on, line.entered.despatched),
        ("received_recorded_on", "received_on", line.received_on, line.entered.received),
        ("cancelled_recorded_on", "cancelled_on", cancelled_on, line.entered.cancelled),
    ] {
        let Some(recorded_on) = recorded_on else { continue };
        if recorded_on > today {
            let message = format!("{recorded_on} is after today, {today}");
            row.read.fault(column, Reason::DateInFuture, message);
        }
        if on.is_none() {
            let message = format!("{recorded_on}: but {what} is empty");
            row.read.fault(column, Reason::FieldMissing, message);
        }
    }
    // A promise may be older than the order.
    if let Some((_, known_on)) = line.promises.iter().find(|(_, known_on)| *known_on > today) {
        let message = format!("{known_on} is after today, {today}: it is not known yet");
        row.read.fault("promises", Reason::DateInFuture, message);
    }
    if let (Some(received_on), Some(_)) = (line.received_on, cancelled_on) {
        let message = format!("was received on {received_on}: a line is received or cancelled");
        row.read.fault("cancelled_on", Reason::ValueInvalid, message);
    }
    let ends = [("received", line.received_on), ("cancelled", cancelled_on)];
    let before =
        [("despatched_on", line.despatched_on), ("last_known_open_on", line.last_known_open_on)];
    for (what, end) in ends {
        for (column, on) in before {
            if let (Some(on), Some(end)) = (on, end)
                && on > end
            {
                let message = format!("{on} is after the day it was {what}, {end}");
                row.read.fault(column, Reason::DateInvalid, message);
            }
        }
    }
}

#[cfg(test)]
#[path = "row_tests.rs"]
mod tests;
