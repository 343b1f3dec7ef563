//! What a row may say, and what is said of one that may not.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::import::FileLine;
use baystart_core::ids::SupplierId;
use jiff::civil::date;
use uuid::Uuid;

fn checked(row: &[(&'static str, &str)]) -> Result<PastRow, Vec<String>> {
    let suppliers = [("CORRIE".to_owned(), SupplierId(Uuid::nil()))].into_iter().collect();
    let known = Known { suppliers, today: date(2026, 9, 14) };
    let whole = [
        ("supplier", "corrie"),
        ("part", "el-1"),
        ("order", "p-1"),
        ("quantity", "2.5"),
        ("placed_on", "2026-03-02"),
    ];
    let mut cells = Cells::new(FileLine { file: 0, line: 7 });
    for (column, text) in whole {
        if !row.iter().any(|(other, _)| *other == column) {
            cells.set(column, text);
        }
    }
    for (column, text) in row {
        cells.set(column, text);
    }
    let shown = |row: &BadRow| format!("{} {}", row.field, row.reason);
    read(&cells, &known).map_err(|bad| bad.iter().map(shown).collect())
}

#[test]
fn a_row_with_little_is_an_open_order() {
    let row = checked(&[]).unwrap();
    assert_eq!((row.file_line, row.line, row.placed_on), (7, 0, date(2026, 3, 2)));
    assert_eq!((row.received_on, row.cancelled, row.quoted_days), (None, None, None));
    assert_eq!((row.order.normal(), row.quantity.milli()), ("P-1", 2500));
}

#[test]
fn promises_stand_in_the_order_in_which_they_became_known() {
    let cell = "2026-04-20@2026-04-02 2026-04-01@2026-02-27 2026-04-25@2026-04-02";
    let row = checked(&[("promises", cell), ("line", "3"), ("rejected", "0.5")]).unwrap();
    let day = |day| date(2026, 4, day);
    let known = date(2026, 2, 27);
    assert_eq!(row.promises, [(day(1), known), (day(20), day(2)), (day(25), day(2))]);
    assert_eq!((row.line, row.rejected.milli()), (3, 500));
}

#[test]
fn every_fault_of_a_row_is_named() {
    for (row, want) in [
        (&[("supplier", "NOBODY")][..], "supplier no supplier \"NOBODY\" in this shop"),
        (&[("placed_on", "")], "placed_on is needed"),
        (&[("placed_on", "1969-12-31")], "placed_on 1969-12-31 is outside the years 1970 to 2199"),
        (&[("placed_on", "2026-09-15")], "placed_on 2026-09-15 is after today, 2026-09-14"),
        (&[("line", "0")], "line 0: lines are numbered from 1"),
        (
            &[("quoted_lead_time_days", "3651")],
            "quoted_lead_time_days 3651 days; at most 3650 are taken",
        ),
        (&[("quantity", "0")], "quantity 0 is nothing: leave the row out, or say how many"),
        (&[("rejected", "-1")], "rejected -1 is not above 0"),
        (
            &[("received_on", "2026-03-01")],
            "received_on 2026-03-01 is before the day of placing, 2026-03-02",
        ),
        (
            &[("received_on", "2026-03-05"), ("despatched_on", "2026-03-06")],
            "despatched_on 2026-03-06 is after the day it was received, 2026-03-05",
        ),
        (
            &[
                ("cancelled_on", "2026-03-05"),
                ("cancelled_by", "us"),
                ("received_on", "2026-03-05"),
            ],
            "cancelled_on was received on 2026-03-05: a line is received or cancelled",
        ),
        (
            &[("cancelled_on", "2026-03-05")],
            "cancelled_by is needed with cancelled_on: us or supplier",
        ),
        (&[("cancelled_by", "us")], "cancelled_on is needed with cancelled_by"),
        (
            &[("cancelled_on", "2026-03-05"), ("cancelled_by", "them")],
            "cancelled_by \"them\" is neither us nor supplier",
        ),
        (
            &[("received_on", "2026-03-05"), ("last_known_open_on", "2026-03-06")],
            "last_known_open_on 2026-03-06 is after the day it was received, 2026-03-05",
        ),
        (
            &[("promises", "2026-10-01@2026-09-15")],
            "promises 2026-09-15 is after today, 2026-09-14: it is not known yet",
        ),
        (&[("recorded_on", "2026-09-15")], "recorded_on 2026-09-15 is after today, 2026-09-14"),
        (
            &[("received_recorded_on", "2026-03-09")],
            "received_recorded_on 2026-03-09: but received_on is empty",
        ),
        (
            &[("placed_recorded_on", "2026-09-15")],
            "placed_recorded_on 2026-09-15 is after today, 2026-09-14",
        ),
    ] {
        assert_eq!(checked(row).unwrap_err(), [want], "{row:?}");
    }
    let many =
        [("supplier", ""), ("quantity", "x"), ("promises", "soon"), ("received_on", "1/2/26")];
    let fields: Vec<String> = checked(&many).unwrap_err();
    let fields: Vec<&str> = fields.iter().filter_map(|text| text.split(' ').next()).collect();
    assert_eq!(fields, ["supplier", "quantity", "promises", "received_on"]);
}
