//! Closed days from iCalendar files, and files that are made to hurt.

#![allow(clippy::unwrap_used)]
use super::*;
use crate::import::limits::{ICS_NAME_CHARS_MAX, LINE_BYTES_MAX};

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

/// Tells the process that a test starts, of itself, to read the file.
const CHILD: &str = "BAYSTART_TEST_CHILD";

/// 95 kB of components in components: the parser called itself once a level, and the process ended
/// (stack overflow, SIGABRT). In a process of its own, for no test survives that.
#[test]
fn components_in_components_do_not_end_the_process() {
    if std::env::var_os(CHILD).is_some() {
        for (name, levels) in [("VCALENDAR", 4_000), ("VEVENT", 4_600), ("X", 40_000)] {
            let text = format!("BEGIN:{name}\r\n").repeat(levels);
            let (rows, bad) = records(0, text.as_bytes());
            assert_eq!((rows.len(), bad.len()), (0, 1));
        }
        return;
    }
    let name = "import::ics::tests::components_in_components_do_not_end_the_process";
    let child = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", name, "--nocapture", "--test-threads=1"])
        .env(CHILD, "1")
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&child.stderr);
    assert!(child.status.success(), "{}: {said}", child.status);
    assert!(String::from_utf8_lossy(&child.stdout).contains("1 passed"), "the child ran no test");
}

fn fault(bytes: &[u8]) -> (u64, String) {
    let (rows, bad) = records(0, bytes);
    assert_eq!((rows.len(), bad.len()), (0, 1));
    (bad[0].place.line, bad[0].reason.clone())
}

#[test]
fn every_limit_names_its_line() {
    let day = "BEGIN:VEVENT\nDTSTART;VALUE=DATE:20261130\n";
    let long = "x".repeat(LINE_BYTES_MAX + 1);
    let folded = "x\n ".repeat(LINE_BYTES_MAX + 1);
    let name = "N".repeat(ICS_NAME_CHARS_MAX + 1);
    let cases = [
        ("BEGIN:VCALENDAR\n".repeat(17), 17, "within more than 16 components"),
        ("BEGIN:A\nEND:A\n".repeat(1_000_001), 2_000_001, "more than 1000000 components"),
        (format!("BEGIN:A\n{}", "X:1\n".repeat(10_001)), 10_002, "A of line 1 has more than 10000"),
        (format!("{day}X:{long}"), 3, "more than 1048576 bytes"),
        (format!("{day}X:{folded}"), 3, "more than 1048576 bytes"),
        (format!("{day}SUMMARY:{}", "x".repeat(8192)), 3, "SUMMARY has more than 8192 bytes"),
        (format!("BEGIN:VCALENDAR\nBEGIN:{name}"), 2, "a name of 1 to 64 characters"),
        // Found by the fuzzer: the name went raw into the next fault.
        ("BEGIN:V\u{1d}LARM\nEND:X".to_owned(), 1, "a control character in its name"),
        ("BEGIN:VCALENDAR\nBEGIN:".to_owned(), 2, "a name of 1 to 64 characters"),
        (format!("{day}END:VCALENDAR\n"), 3, "END:VCALENDAR, but VEVENT of line 1 is open"),
        (format!("BEGIN:VCALENDAR\n{day}"), 2, "VEVENT has no END"),
        (format!("{day}END:VEVENT\nEND:VEVENT"), 4, "an END without its BEGIN"),
        ("hello".to_owned(), 1, "BEGIN:VCALENDAR must come first"),
    ];
    for (text, line, reason) in cases {
        let (at, said) = fault(text.as_bytes());
        assert_eq!(at, line, "{said}");
        assert!(said.contains(reason), "{said}");
    }
    let (line, said) = fault(b"BEGIN:VCALENDAR\r\nX:\xff\r\n");
    assert_eq!((line, said.as_str()), (2, "is no UTF-8 text"));
}

#[test]
fn alarms_and_what_else_stands_within_is_passed_over() {
    let alarm = "BEGIN:VALARM\nSUMMARY:alarm\nDTSTART;VALUE=DATE:20000101\nEND:VALARM";
    let text = event(&format!("{alarm}\ndtstart;value=date:20261130\nSummary:St Andrew's"));
    assert_eq!(days(&text), ("2026-11-30".into(), "2026-11-30".into(), "St Andrew's".into()));
    let inner = "BEGIN:X-LIST\nBEGIN:VEVENT\nDTSTART;VALUE=DATE:20000101\nEND:VEVENT\nEND:X-LIST\n";
    let text = calendar(&format!(
        "{inner}BEGIN:VEVENT\nDTSTART;VALUE=DATE:20261130\nRRULE:FREQ=YEARLY\nEND:VEVENT\n"
    ));
    let (_, bad) = records(0, text.as_bytes());
    assert_eq!((bad.len(), bad[0].place.line), (1, 9), "the event's own line");
}

/// A file of several calendars: the events of all but the first were left out and nobody was told.
#[test]
fn the_events_of_every_calendar_of_the_file_count() {
    let text = event("DTSTART;VALUE=DATE:20261130") + &event("DTSTART;VALUE=DATE:20261225");
    let (rows, bad) = records(0, text.as_bytes());
    assert_eq!((rows.len(), bad), (2, vec![]));
}

/// The library takes the escapes out; they were taken out twice.
#[test]
fn escapes_are_taken_out_once() {
    let text = event("SUMMARY:C:\\\\new\\, old\\nDTSTART\nDTSTART;VALUE=DATE:20261130");
    assert_eq!(days(&text).2, "C:\\new, old DTSTART");
}

#[test]
fn a_character_may_be_folded_in_its_middle() {
    let text = event("SUMMARY:Fête\nDTSTART;VALUE=DATE:20261130");
    let place = text.find('ê').unwrap() + 1;
    let (before, after) = text.as_bytes().split_at(place);
    let bytes = [before, b"\r\n ", after].concat();
    let (rows, bad) = records(0, &bytes);
    assert_eq!((rows[0].get("name"), bad), ("Fête", vec![]));
}
