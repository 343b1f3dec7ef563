//! Files in chunks, whole and broken.
#![allow(clippy::unwrap_used)]

use super::*;
use baystart_core::ids::SupplierId;
use jiff::civil::date;
use uuid::Uuid;

const LIMITS: RowLimits = RowLimits { rows_max: 5_000, line_bytes_max: 200 };

struct Seen {
    rows: Vec<PastRow>,
    steps: usize,
    /// Steps that are taken.
    steps_max: usize,
    bad: Vec<String>,
}

impl Sink for Seen {
    fn rows(&mut self, rows: Vec<PastRow>) -> bool {
        assert!(!rows.is_empty() && rows.len() <= HISTORY_STEP_ROWS_MAX);
        self.steps += 1;
        self.rows.extend(rows);
        self.steps <= self.steps_max
    }

    fn bad(&mut self, row: BadRow) {
        self.bad.push(format!("{} {} {}", row.place.line, row.field, row.reason));
    }
}

fn read(text: &[u8], chunk_bytes: usize, steps_max: usize) -> (Seen, bool) {
    let suppliers = [("CORRIE".to_owned(), SupplierId(Uuid::nil()))].into_iter().collect();
    let known = Known { suppliers, today: date(2026, 9, 14) };
    let mut reading = Reading::new(known, LIMITS, Manner::default());
    let mut seen = Seen { rows: Vec::new(), steps: 0, steps_max, bad: Vec::new() };
    for chunk in text.chunks(chunk_bytes) {
        if !reading.take(chunk, &mut seen) {
            return (seen, false);
        }
    }
    let taken = reading.end(&mut seen);
    (seen, taken)
}

const HEADER: &str = "order;part;supplier;quantity;placed_on;line\n";

fn lines(count: usize) -> String {
    let line = |at: usize| format!("P-{at};EL-1;CORRIE;1;2026-01-05;{at}\n");
    (1..=count).map(line).collect()
}

#[test]
fn chunks_may_be_cut_anywhere_and_blank_lines_count() {
    let text = format!("\u{feff}{HEADER}\n{}", lines(3)).replace('\n', "\r\n");
    for chunk_bytes in [1, 2, 3, 7, 1000] {
        let (seen, taken) = read(text.as_bytes(), chunk_bytes, 9);
        assert!(taken && seen.bad.is_empty(), "{:?}", seen.bad);
        let places: Vec<_> = seen.rows.iter().map(|row| (row.file_line, row.line)).collect();
        assert_eq!(places, [(3, 1), (4, 2), (5, 3)]);
    }
}

#[test]
fn all_bad_rows_are_found_and_the_good_ones_go_on() {
    let mut text = format!("{HEADER}{}", lines(2)).into_bytes();
    text.extend_from_slice(b"P-3;EL-1;CORRIE;x;soon;3\nP-4;f\xfcr;CORRIE;1;2026-01-05;1\n");
    text.extend_from_slice(format!("P-5;{};CORRIE;1;2026-01-05;1\n", "9".repeat(300)).as_bytes());
    text.extend_from_slice(b"P-6;EL-1;CORRIE;1\nP-7;EL-1;CORRIE;1;2026-01-05;1");
    for chunk_bytes in [5, 100_000] {
        let (seen, taken) = read(&text, chunk_bytes, 9);
        assert!(taken);
        let mut bad = seen.bad;
        bad.sort();
        let want = [
            "4 placed_on \"soon\" is no date of the form 2026-09-14",
            "4 quantity \"x\" is not a decimal number",
            "5  is no UTF-8 text: save the file as \"CSV UTF-8\"",
            "6  the line is longer than 200 bytes",
            "7  the row has 4 fields, the header has 6",
        ];
        assert_eq!(bad, want);
        let orders: Vec<_> = seen.rows.iter().map(|row| row.order.written()).collect();
        assert_eq!(orders, ["P-1", "P-2", "P-7"]);
    }
}

#[test]
fn a_quote_that_is_never_closed_costs_a_block_and_not_the_file() {
    let text = format!("{HEADER}P-0;\"EL-1;CORRIE;1;2026-01-05;1\n{}", lines(4_000));
    let (seen, _) = read(text.as_bytes(), 10_000, 99);
    assert_eq!(seen.bad.len(), 1, "{:?}", seen.bad);
    assert!(seen.bad[0].starts_with("2 part goes on over the line's end: a quote"));
    assert!(seen.rows.len() > 1_000, "{}", seen.rows.len());
    assert_eq!(seen.rows.last().unwrap().file_line, 4_002);
}

#[test]
fn headers_are_judged_and_limits_hold() {
    for (text, want) in [
        ("", "1  the file has no header line"),
        ("\nx", "1  the file has no header line"),
        (
            "order;part;supplier;quantity\n",
            "1 placed_on the column is needed and not in the header",
        ),
    ] {
        assert_eq!(read(text.as_bytes(), 4, 9).0.bad, [want]);
    }
    let text = format!("{HEADER}{}", lines(6_000));
    let (seen, taken) = read(text.as_bytes(), 10_000, 99);
    assert!(taken && seen.rows.len() == 5_000);
    assert_eq!(seen.bad, ["5002  the file has more than 5000 rows: import it in parts"]);
    assert!(!read(text.as_bytes(), 10_000, 2).1, "nobody takes more than two steps");
}
