//! Files of each kind, of so many rows, for a shop whose catalogue does not grow with them.

use std::fmt::Write;

/// Parts that the shop has, whatever is imported; as many again are heads of kits.
const PARTS: usize = 20_000;
const SUPPLIERS: usize = 200;
const BINS: usize = 1_000;
/// Lines and stages of a build.
const LINES: usize = 40;
const STAGES: usize = 4;
/// Lines of an order.
const ORDER_LINES: usize = 5;

/// A file's name and text.
pub type File = (&'static str, String);

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Suppliers,
    Parts,
    Kits,
    Offers,
    Bins,
    OpeningStock,
    Builds,
    OpenOrders,
    ClosedDays,
    ClosedDaysIcs,
}

impl Kind {
    pub const ALL: [Self; 10] = [
        Self::Suppliers,
        Self::Parts,
        Self::Kits,
        Self::Offers,
        Self::Bins,
        Self::OpeningStock,
        Self::Builds,
        Self::OpenOrders,
        Self::ClosedDays,
        Self::ClosedDaysIcs,
    ];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Suppliers => "suppliers",
            Self::Parts => "parts",
            Self::Kits => "kits",
            Self::Offers => "offers",
            Self::Bins => "bins",
            Self::OpeningStock => "opening stock",
            Self::Builds => "builds, stages, lines",
            Self::OpenOrders => "open orders",
            Self::ClosedDays => "closed days, csv",
            Self::ClosedDaysIcs => "closed days, ics",
        }
    }

    /// What the shop has before.
    pub fn base(self) -> Vec<File> {
        match self {
            Self::Suppliers | Self::Parts | Self::Bins | Self::ClosedDaysIcs => Vec::new(),
            Self::Kits => vec![parts("P", PARTS), heads()],
            Self::ClosedDays => vec![suppliers(SUPPLIERS)],
            Self::OpeningStock => vec![parts("P", PARTS), bins(BINS)],
            Self::Offers | Self::OpenOrders => vec![suppliers(SUPPLIERS), parts("P", PARTS)],
            Self::Builds => vec![parts("P", PARTS), bins(BINS), stock(PARTS)],
        }
    }

    /// The files of an import of about so many rows.
    pub fn files(self, rows: usize) -> Vec<File> {
        match self {
            Self::Suppliers => vec![suppliers(rows)],
            Self::Parts => vec![parts("P", rows)],
            Self::Kits => vec![kits(rows)],
            Self::Offers => vec![offers(rows)],
            Self::Bins => vec![bins(rows)],
            Self::OpeningStock => vec![stock(rows)],
            Self::Builds => builds(rows),
            Self::OpenOrders => vec![orders(rows)],
            Self::ClosedDays => vec![closed_days(rows)],
            Self::ClosedDaysIcs => vec![calendar(rows)],
        }
    }
}

fn table(name: &'static str, header: &str, rows: impl Iterator<Item = String>) -> File {
    let mut text = header.to_owned();
    for row in rows {
        write!(text, "\n{row}").unwrap();
    }
    (name, text)
}

fn suppliers(rows: usize) -> File {
    table("suppliers.csv", "code,name", (0..rows).map(|i| format!("S{i},Supplier {i}")))
}

fn parts(prefix: &str, rows: usize) -> File {
    let row = |i| format!("{prefix}{i},Part {i},C62");
    table("parts.csv", "part,description,unit", (0..rows).map(row))
}

/// A kit's head needs its list in the same import or later; here it comes as a part of its own.
fn heads() -> File {
    let (_, text) = parts("K", PARTS);
    ("parts-kits.csv", text)
}

fn kits(rows: usize) -> File {
    let row = |i: usize| {
        let (kit, nth) = (i % PARTS, i / PARTS);
        format!("K{kit},P{},2", (kit * 7 + nth * 1_237) % PARTS)
    };
    table("kits.csv", "kit,component,quantity", (0..rows).map(row))
}

fn offers(rows: usize) -> File {
    let row =
        |i: usize| format!("S{},P{},12.50,GBP,21", (i / PARTS * 31 + i) % SUPPLIERS, i % PARTS);
    let header = "supplier,part,price,currency,quoted_lead_time_days";
    table("offers.csv", header, (0..rows).map(row))
}

fn bins(rows: usize) -> File {
    table("bins.csv", "bin,description", (0..rows).map(|i| format!("A{i},Shelf {i}")))
}

fn stock(rows: usize) -> File {
    let row = |i: usize| format!("P{},A{},3", i % PARTS, (i / PARTS + i) % BINS);
    table("opening_stock.csv", "part,bin,quantity", (0..rows).map(row))
}

fn builds(rows: usize) -> Vec<File> {
    let count = rows / (1 + STAGES + LINES);
    let build = |i: usize| format!("B{i},Vehicle {i},{},open", 10 + i % 90);
    let stages = (0..count * STAGES).map(|i| format!("B{},Stage {},3", i / STAGES, i % STAGES));
    let line = |i: usize| {
        let (build, nth) = (i / LINES, i % LINES);
        format!("B{build},Stage {},P{},1", nth % STAGES, (build * 97 + nth * 499) % PARTS)
    };
    vec![
        table("builds.csv", "build,vehicle,priority,state", (0..count).map(build)),
        table("stages.csv", "build,stage,planned_days", stages),
        table("build_lines.csv", "build,stage,part,quantity", (0..count * LINES).map(line)),
    ]
}

fn orders(rows: usize) -> File {
    let row = |i: usize| {
        let (order, nth) = (i / ORDER_LINES, i % ORDER_LINES);
        let part = (order * 97 + nth * 4_001) % PARTS;
        format!(
            "O{order},{},S{},P{part},2,2026-08-03,2026-10-05,2026-08-05",
            nth + 1,
            order % SUPPLIERS
        )
    };
    let header = "order,line,supplier,part,quantity,placed_on,promised_on,promise_known_on";
    table("open_orders.csv", header, (0..rows).map(row))
}

/// The n-th day from 1971 on, months of 28 days; as many as the years to 2199 have, then again.
fn day(n: usize) -> (usize, usize, usize) {
    (1971 + n / 336 % 228, 1 + n / 28 % 12, 1 + n % 28)
}

fn closed_days(rows: usize) -> File {
    let row = |i: usize| {
        let (year, month, day) = day(i / SUPPLIERS);
        format!("{year}-{month:02}-{day:02},S{},Closed", i % SUPPLIERS)
    };
    table("closed_days.csv", "first_day,supplier,name", (0..rows).map(row))
}

fn calendar(rows: usize) -> File {
    let mut text = "BEGIN:VCALENDAR\r\n".to_owned();
    for i in 0..rows {
        let (year, month, day) = day(i);
        write!(
            text,
            "BEGIN:VEVENT\r\nDTSTART;VALUE=DATE:{year}{month:02}{day:02}\r\nSUMMARY:Closed\r\nEND:VEVENT\r\n"
        )
        .unwrap();
    }
    text.push_str("END:VCALENDAR\r\n");
    ("closed_days.ics", text)
}
