//! Closed days from an iCalendar file: events with DATE values (RFC 5545; the
//! end is exclusive, an event without one lasts a day).

mod events;
mod lines;

use super::{BadRow, Cells, FileLine};
use events::events;
use jiff::civil::Date;

/// A file's events as rows of closed days, and what is wrong with them.
pub(crate) fn records(file: usize, bytes: &[u8]) -> (Vec<Cells>, Vec<BadRow>) {
    let bad = |line: u64, field: &str, value: &str, reason: &str| BadRow {
        place: FileLine { file, line },
        field: field.to_owned(),
        value: baystart_proto::convert::scalar::shown(value),
        reason: reason.to_owned(),
    };
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let events = match events(bytes) {
        Ok(events) => events,
        Err(fault) => return (Vec::new(), vec![bad(fault.line, "", "", &fault.reason)]),
    };
    let mut rows = Vec::new();
    let mut faults = Vec::new();
    for event in events {
        let line = event.line;
        let value = |name: &str| event.get(name).map(str::to_owned);
        if let Some(rule) = event.get("RRULE") {
            let reason = "repeats by a rule: export each closed day as an event of its own";
            faults.push(bad(line, "RRULE", rule, reason));
            continue;
        }
        let start = value("DTSTART").unwrap_or_default();
        let end = value("DTEND").or_else(|| value("DUE"));
        let Some(first_day) = day(&start) else {
            let reason = "an event of a whole day is needed: DTSTART;VALUE=DATE:20261224";
            faults.push(bad(line, "DTSTART", &start, reason));
            continue;
        };
        let last_day = match &end {
            None => Some(first_day),
            Some(end) => day(end).and_then(|end| end.yesterday().ok()),
        };
        let Some(last_day) = last_day.filter(|last| *last >= first_day) else {
            let reason = "the end is no whole day after the start";
            faults.push(bad(line, "DTEND", &end.unwrap_or_default(), reason));
            continue;
        };
        let mut cells = Cells::new(FileLine { file, line });
        cells.set("first_day", &first_day.to_string());
        cells.set("last_day", &last_day.to_string());
        // The library has taken the escapes out; a name is one line.
        let name = event.get("SUMMARY").unwrap_or_default();
        cells.set("name", &name.replace(['\r', '\n'], " "));
        rows.push(cells);
    }
    if rows.is_empty() && faults.is_empty() {
        faults.push(bad(1, "", "", "the file has no event"));
    }
    (rows, faults)
}

/// A DATE value: eight digits.
fn day(value: &str) -> Option<Date> {
    if value.len() != 8 || !value.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let (year, rest) = value.split_at_checked(4)?;
    let (month, day) = rest.split_at_checked(2)?;
    Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
}

#[cfg(test)]
mod tests;
