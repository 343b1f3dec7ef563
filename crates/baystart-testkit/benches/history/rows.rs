//! Invented past order lines, the same in the file and for the plain insert.

use chrono::{Days, NaiveDate};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{BufWriter, Write as _};
use std::path::Path;

/// Suppliers that the rows name.
pub const SUPPLIERS: u32 = 30;
/// Different parts.
const PARTS: u32 = 5_000;
/// Order lines that are placed on one day.
const PER_DAY: u32 = 300;

/// One order line.
pub struct PastOrderLine {
    pub supplier: u32,
    pub part: String,
    pub order: String,
    pub line: i64,
    pub quantity: i64,
    pub quoted_days: i64,
    pub placed_on: NaiveDate,
    pub promises: String,
    pub despatched_on: Option<NaiveDate>,
    pub received_on: Option<NaiveDate>,
}

pub fn supplier_code(number: u32) -> String {
    format!("S-{number}")
}

/// The row of a number; order by order, as a shop's sheet is.
pub fn row(at: u32) -> PastOrderLine {
    let order = at / 4;
    let placed_on = day(at / PER_DAY);
    let scatter = at.wrapping_mul(2_654_435_761) >> 16;
    let days = 5 + u64::from(scatter % 40);
    let promised = placed_on + Days::new(days);
    let received_on =
        (!at.is_multiple_of(50)).then(|| promised + Days::new(u64::from(scatter % 9)));
    let promises = match at % 3 {
        0 => String::new(),
        1 => format!("{promised}@{}", placed_on + Days::new(2)),
        _ => {
            let moved = promised + Days::new(3);
            format!("{promised}@{} {moved}@{}", placed_on + Days::new(2), placed_on + Days::new(4))
        }
    };
    PastOrderLine {
        supplier: order % SUPPLIERS,
        part: format!("P-{}", scatter % PARTS),
        order: format!("PO-{order}"),
        line: i64::from(at % 4) + 1,
        quantity: i64::from(1 + scatter % 8),
        quoted_days: 14,
        placed_on,
        promises,
        despatched_on: received_on.filter(|_| at.is_multiple_of(2)).map(|day| day - Days::new(1)),
        received_on,
    }
}

fn day(number: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2015, 1, 5).unwrap() + Days::new(number.into())
}

/// Writes a file of so many rows.
pub fn write(path: &Path, rows: u32) {
    let mut file = BufWriter::new(File::create(path).unwrap());
    file.write_all(
        b"supplier,part,order,line,quantity,quoted_lead_time_days,placed_on,promises,despatched_on,received_on\n",
    )
    .unwrap();
    let shown = |day: Option<NaiveDate>| day.map(|day| day.to_string()).unwrap_or_default();
    let mut text = String::new();
    for at in 0..rows {
        let row = row(at);
        text.clear();
        let _ = writeln!(
            text,
            "{},{},{},{},{},{},{},{},{},{}",
            supplier_code(row.supplier),
            row.part,
            row.order,
            row.line,
            row.quantity,
            row.quoted_days,
            row.placed_on,
            row.promises,
            shown(row.despatched_on),
            shown(row.received_on)
        );
        file.write_all(text.as_bytes()).unwrap();
    }
    file.flush().unwrap();
}
