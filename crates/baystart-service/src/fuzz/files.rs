//! Files of an import: read, and booked on a small shop.

use crate::import::history::{Known, Reading, RowLimits, Sink};
use crate::import::{self, BadRow, File, Kind};
use baystart_core::book::Book;
use baystart_core::decide::Context;
use baystart_core::ids::{CountingIds, SupplierId};
use baystart_core::invariants;
use baystart_core::testing;
pub(super) use baystart_core::testing::TODAY;
use baystart_store::{ImportedKeys, PastRow};
use std::cell::OnceCell;
use uuid::Uuid;

/// Rows of a file that are looked at.
const ROWS_MAX: usize = 200;
/// Most characters that an error says of a value or a reason, whatever was sent.
const SAID_CHARS_MAX: usize = 1_500;

const KINDS: [Kind; 13] = [
    Kind::Suppliers,
    Kind::Parts,
    Kind::Kits,
    Kind::Offers,
    Kind::Bins,
    Kind::OpeningStock,
    Kind::Builds,
    Kind::Stages,
    Kind::BuildLines,
    Kind::OpenOrders,
    Kind::ClosedDays,
    Kind::Awaited,
    Kind::Bindings,
];

/// A shop with one of each, for what names something.
const SHOP: [(Kind, &str); 9] = [
    (Kind::Suppliers, "code,name\nS1,Corrie\nS2,Lochan"),
    (
        Kind::Parts,
        "part,description,unit,lot_tracked\nP1,Winch,C62,\nP2,Cable,MTR,\nP3,Paint,LTR,yes\nK1,Kit,C62,",
    ),
    (Kind::Kits, "kit,component,quantity\nK1,P1,1\nK1,P2,2.5"),
    (Kind::Offers, "supplier,part,price,quoted_lead_time_days\nS1,P1,12.50,21\nS2,P2,3,7"),
    (Kind::Bins, "bin\nA1\nA2"),
    (Kind::OpeningStock, "part,bin,quantity,lot\nP1,A1,3,\nP2,A2,40,\nP3,A1,2,L1"),
    (Kind::Builds, "build,vehicle,state\nB1,Van,open\nB2,Truck,quoted"),
    (Kind::Stages, "build,stage,planned_days\nB1,Body,3\nB1,Paint,2\nB2,Body,3"),
    (
        Kind::BuildLines,
        "build,stage,part,quantity\nB1,Body,K1,1\nB1,Paint,P3,1\nB1,Body,P1,5\nB2,Body,P2,4",
    ),
];

thread_local! {
    static BOOK: OnceCell<Book> = const { OnceCell::new() };
}

fn file(kind: Kind, bytes: &[u8]) -> File {
    File { kind, name: "file".to_owned(), manner: import::Manner::default(), bytes: bytes.to_vec() }
}

pub(super) fn context(ids: &mut CountingIds) -> Context<'_> {
    let morning = "2026-09-14T07:30:00Z".parse().unwrap();
    Context { secret_hash: Some([7; 32]), revision: 1, ..testing::context(ids, TODAY, morning) }
}

/// The small shop, a copy of its own.
pub(super) fn shop() -> Book {
    BOOK.with(|book| book.get_or_init(made).clone())
}

fn made() -> Book {
    let mut book = Book { settings: Some(testing::settings()), ..Book::default() };
    let files: Vec<File> = SHOP.iter().map(|(kind, text)| file(*kind, text.as_bytes())).collect();
    let sheets = import::read(&files, ROWS_MAX, &mut |_| {});
    let mut ids = CountingIds::default();
    let keys = ImportedKeys::new();
    let booked =
        import::book(&sheets, &mut book, &mut context(&mut ids), &keys, &mut |_| {}).unwrap();
    assert_eq!(booked.bad, []);
    book
}

/// Ids that the small shop has not given.
pub(super) fn later_ids() -> CountingIds {
    let mut ids = CountingIds::default();
    for _ in 0..1_000 {
        let _ = baystart_core::ids::FreshIds::fresh(&mut ids);
    }
    ids
}

pub(super) fn sound(book: &Book) {
    let broken = invariants::check(book);
    assert!(broken.is_empty(), "{broken:?}");
}

fn check_bad(bad: &[BadRow], bytes: &[u8]) {
    let ends = bytes.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count();
    for row in bad {
        let line = usize::try_from(row.place.line).unwrap();
        assert!((1..=ends + 2).contains(&line), "{row:?}");
        assert!(!row.reason.is_empty(), "{row:?}");
        for said in [&row.field, &row.value, &row.reason] {
            assert!(said.chars().count() <= SAID_CHARS_MAX, "{row:?}");
            assert!(!said.chars().any(char::is_control), "{row:?}");
        }
    }
}

/// Books what was read on the small shop; with any bad row the changes are dropped, as they are there.
fn book(kind: Kind, bytes: &[u8]) {
    let sheets = import::read(&[file(kind, bytes)], ROWS_MAX, &mut |_| {});
    let read: i64 = sheets.counts.iter().sum();
    assert!(usize::try_from(read).unwrap() <= ROWS_MAX);
    let mut book = shop();
    let mut ids = later_ids();
    let keys = ImportedKeys::new();
    let booked =
        import::book(&sheets, &mut book, &mut context(&mut ids), &keys, &mut |_| {}).unwrap();
    check_bad(&booked.bad, bytes);
    sound(&book);
}

/// The first byte is the kind of file, the rest the file.
pub(super) fn csv(bytes: &[u8]) {
    let Some((first, bytes)) = bytes.split_first() else { return };
    let kind = KINDS[usize::from(*first) % KINDS.len()];
    again(kind, bytes);
    book(kind, bytes);
}

/// What was read, written and read again is the same.
fn again(kind: Kind, bytes: &[u8]) {
    let (rows, bad) = import::table_records(kind, bytes, ROWS_MAX);
    check_bad(&bad, bytes);
    let columns: Vec<&str> = kind.columns().iter().map(|(column, _)| *column).collect();
    // A cell of several lines may look like a quote that was left open, so it is no test.
    let plain = |row: &&import::Cells| columns.iter().all(|column| !row.get(column).contains('\n'));
    let rows: Vec<_> = rows.iter().filter(plain).collect();
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&columns).unwrap();
    for row in &rows {
        writer.write_record(columns.iter().map(|column| row.get(column))).unwrap();
    }
    let written = writer.into_inner().unwrap();
    let (reread, bad) = import::table_records(kind, &written, ROWS_MAX);
    assert_eq!(bad, []);
    let canonical = |row: &import::Cells| row.canonical();
    let before: Vec<String> = rows.into_iter().map(canonical).collect();
    assert_eq!(reread.iter().map(canonical).collect::<Vec<_>>(), before);
}

pub(super) fn ics(bytes: &[u8]) {
    book(Kind::ClosedDaysIcs, bytes);
}

#[derive(Default)]
struct Seen {
    rows: Vec<PastRow>,
    bad: Vec<BadRow>,
}

impl Sink for Seen {
    fn rows(&mut self, rows: Vec<PastRow>) -> bool {
        self.rows.extend(rows);
        true
    }

    fn bad(&mut self, row: BadRow) {
        self.bad.push(row);
    }
}

fn read_history(bytes: &[u8], chunk_bytes: usize) -> Seen {
    let suppliers = [("S1".to_owned(), SupplierId(Uuid::nil()))].into_iter().collect();
    let limits = RowLimits { rows_max: 200, line_bytes_max: 1_000 };
    let mut reading =
        Reading::new(Known { suppliers, today: TODAY }, limits, import::Manner::default());
    let mut seen = Seen::default();
    for chunk in bytes.chunks(chunk_bytes) {
        reading.take(chunk, &mut seen);
    }
    reading.end(&mut seen);
    seen
}

/// The first byte is the size of chunks: a file says the same however it is cut.
pub(super) fn history(bytes: &[u8]) {
    let Some((first, bytes)) = bytes.split_first() else { return };
    let whole = read_history(bytes, bytes.len().max(1));
    let cut = read_history(bytes, usize::from(*first) + 1);
    check_bad(&whole.bad, bytes);
    assert_eq!((whole.rows, whole.bad), (cut.rows, cut.bad));
}
