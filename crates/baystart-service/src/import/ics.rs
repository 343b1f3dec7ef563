//! Closed days from an iCalendar file: events with DATE values (RFC 5545; the
//! end is exclusive, an event without one lasts a day).

use super::{BadRow, Cells, Place};
use icalendar::parser::{read_calendar, unfold};
use jiff::civil::Date;

/// A file's events as rows of closed days, and what is wrong with them.
pub(crate) fn records(file: usize, bytes: &[u8]) -> (Vec<Cells>, Vec<BadRow>) {
    let bad = |line: u64, field: &str, value: &str, reason: &str| BadRow {
        place: Place { file, line },
        field: field.to_owned(),
        value: baystart_proto::convert::scalar::shown(value),
        reason: reason.to_owned(),
    };
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let Ok(text) = std::str::from_utf8(bytes) else {
        return (Vec::new(), vec![bad(1, "", "", "is no UTF-8 text")]);
    };
    // Line ends as the standard has them, whatever the file has.
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let lines = event_lines(&text);
    let crlf = text.replace('\n', "\r\n");
    let unfolded = unfold(&crlf);
    let calendar = match read_calendar(&unfolded) {
        Ok(calendar) => calendar,
        Err(error) => {
            let reason = format!("is no iCalendar file: {error}");
            return (Vec::new(), vec![bad(1, "", "", &cut(&reason))]);
        }
    };
    let mut rows = Vec::new();
    let mut faults = Vec::new();
    let events = calendar.components.iter().filter(|component| component.name == "VEVENT");
    for (event, line) in events.zip(lines.into_iter().chain(std::iter::repeat(0))) {
        let value = |name: &str| event.find_prop(name).map(|prop| prop.val.as_str().to_owned());
        if event.find_prop("RRULE").is_some() {
            let reason = "repeats by a rule: export each closed day as an event of its own";
            faults.push(bad(line, "RRULE", &value("RRULE").unwrap_or_default(), reason));
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
        let mut cells = Cells::new(Place { file, line });
        cells.set("first_day", &first_day.to_string());
        cells.set("last_day", &last_day.to_string());
        cells.set("name", &unescaped(&value("SUMMARY").unwrap_or_default()));
        rows.push(cells);
    }
    if rows.is_empty() && faults.is_empty() {
        faults.push(bad(1, "", "", "the file has no event"));
    }
    (rows, faults)
}

/// The lines on which events begin, from 1.
fn event_lines(text: &str) -> Vec<u64> {
    let mut lines = Vec::new();
    for (line, number) in text.split('\n').zip(1..) {
        if line.trim().eq_ignore_ascii_case("BEGIN:VEVENT") {
            lines.push(number);
        }
    }
    lines
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

/// TEXT with its escapes taken out (RFC 5545, 3.3.11), on one line.
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => match chars.next() {
                Some('n' | 'N') => out.push(' '),
                Some(other) => out.push(other),
                None => {}
            },
            other => out.push(other),
        }
    }
    out
}

fn cut(text: &str) -> String {
    baystart_proto::convert::scalar::shown(text)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn calendar(events: &str) -> String {
        format!(
            "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//test//EN\r\n{}END:VCALENDAR\r\n",
            events.replace('\n', "\r\n")
        )
    }

    fn event(lines: &str) -> String {
        calendar(&format!("BEGIN:VEVENT\nUID:1@test\n{lines}\nEND:VEVENT\n"))
    }

    fn days(text: &str) -> (String, String, String) {
        let (rows, bad) = records(0, text.as_bytes());
        assert_eq!(bad, []);
        let row = &rows[0];
        let get = |column: &str| row.get(column).to_owned();
        (get("first_day"), get("last_day"), get("name"))
    }

    /// RFC 5545 all-day events: read in several code bases' comments (checks.md).
    #[test]
    fn the_end_of_an_all_day_event_is_exclusive() {
        let festival =
            event("SUMMARY:Festival\nDTSTART;VALUE=DATE:20070628\nDTEND;VALUE=DATE:20070709");
        assert_eq!(
            days(&festival),
            ("2007-06-28".to_owned(), "2007-07-08".to_owned(), "Festival".to_owned())
        );
        let single = event("SUMMARY:One day\nDTSTART;VALUE=DATE:20261130");
        assert_eq!(days(&single).1, "2026-11-30");
    }

    #[test]
    fn folded_and_escaped_names_and_other_line_ends() {
        let text = event("SUMMARY:Bank holiday\\, St And\n rew's\nDTSTART;VALUE=DATE:20261130");
        assert_eq!(days(&text).2, "Bank holiday, St Andrew's");
        let text = text.replace("\r\n", "\n");
        assert_eq!(days(&text).2, "Bank holiday, St Andrew's");
    }

    #[test]
    fn what_is_no_closed_day_is_a_bad_row_with_its_line() {
        for (lines, field) in [
            ("DTSTART:20261130T090000Z", "DTSTART"),
            ("DTSTART;VALUE=DATE:20260230", "DTSTART"),
            ("DTSTART;VALUE=DATE:20261130\nDTEND;VALUE=DATE:20261130", "DTEND"),
            ("DTSTART;VALUE=DATE:20261225\nRRULE:FREQ=YEARLY", "RRULE"),
            ("SUMMARY:none", "DTSTART"),
        ] {
            let (rows, bad) = records(3, event(lines).as_bytes());
            assert_eq!((rows.len(), bad.len()), (0, 1), "{lines}");
            assert_eq!((bad[0].field.as_str(), bad[0].place.line), (field, 4), "{lines}");
        }
        for text in ["", "hello", "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", "BEGIN:VEVENT"] {
            let (rows, bad) = records(0, text.as_bytes());
            assert_eq!((rows.len(), bad.len()), (0, 1), "{text}");
        }
    }
}
