//! What a spreadsheet may write.
#![allow(clippy::unwrap_used)]

use super::*;

fn bins(bytes: &[u8]) -> Records {
    records(0, Kind::Bins, bytes, &Manner::default(), 1000)
}

fn shown(records: &Records) -> Vec<String> {
    let row = |c: &Cells| format!("{}: {} | {}", c.place.line, c.get("bin"), c.get("description"));
    let bad = |b: &BadRow| format!("{} {}: {}", b.place.line, b.field, b.reason);
    records.0.iter().map(row).chain(records.1.iter().map(bad)).collect()
}

#[test]
fn line_ends_delimiters_and_a_byte_order_mark_make_no_difference() {
    let want = ["2: A1 | Shelf, left", "3: A2 | "];
    for text in [
        "bin,description\nA1,\"Shelf, left\"\nA2,\n",
        "\u{feff}bin,description\r\nA1,\"Shelf, left\"\r\nA2,",
        "bin,description\rA1,\"Shelf, left\"\rA2,\r",
        "Description;BIN\nShelf, left;A1\n ; A2 \n",
    ] {
        assert_eq!(shown(&bins(text.as_bytes())), want, "{text:?}");
    }
}

#[test]
fn blank_lines_and_line_breaks_in_quotes_keep_the_count() {
    let text = "bin,description\n\n\nA1,\"two\nlines\"\n,\nA2,x\n\nA3,y";
    let got = shown(&bins(text.as_bytes()));
    assert_eq!(got, ["4: A1 | two\nlines", "7: A2 | x", "9: A3 | y"]);
}

#[test]
fn a_quote_that_is_never_closed_is_a_bad_row() {
    for text in [
        "bin,description\nA1,\"Shelf\nA2,x\n",
        "bin,description\nA1,\"Shelf\nA2,\"x\"\n",
        "bin,description\nA1,\"Shelf\n",
    ] {
        let (rows, bad) = bins(text.as_bytes());
        assert!(rows.is_empty(), "{text:?}");
        assert!(bad[0].reason.contains("a quote"), "{text:?}");
        assert_eq!((bad[0].place.line, bad[0].field.as_str()), (2, "description"), "{text:?}");
    }
}

#[test]
fn quotes_double_inside_quotes() {
    let got = bins(b"bin,description\nA1,\"5\"\" shelf\"\n");
    assert_eq!(got.0[0].get("description"), "5\" shelf");
}

#[test]
fn headers_are_judged_by_name() {
    let got = shown(&bins(b"bim,description,bim\nA1,x,y\n"));
    assert_eq!(got.len(), 3);
    assert!(got[0].starts_with("1 bim: is no column"), "{got:?}");
    assert_eq!(got[2], "1 bin: the column is needed and not in the header");
    assert_eq!(shown(&bins(b"bin,BIN\n")), ["1 BIN: the column stands in the header twice"]);
    assert_eq!(shown(&bins(b"")), ["1 : the file has no header line"]);
}

#[test]
fn ragged_rows_and_other_encodings_are_bad_rows() {
    let got = shown(&bins(b"bin,description\nA1\nA2,x,y\nA3,z\n"));
    assert_eq!(got[0], "4: A3 | z");
    assert_eq!(got[1], "2 : the row has 1 field, the header has 2");
    assert_eq!(got[2], "3 : the row has 3 fields, the header has 2");
    let latin1 = bins(b"bin,description\r\nA1,x\r\nA2,f\xfcr\r\n");
    assert_eq!(latin1.1[0].place.line, 3);
}

#[test]
fn any_bytes_are_read_without_a_panic() {
    for seed in 0..2000_u32 {
        let mut state = seed;
        let mut bytes = b"bin,description\n".to_vec();
        for _ in 0..60 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let alphabet = b"\",;\n\rA \xc3\xbc\x00";
            bytes.push(alphabet[usize::try_from(state >> 24).unwrap() % alphabet.len()]);
        }
        let _ = bins(&bytes);
    }
}

/// Rows that are bad were not counted: a file of nothing else was held as a whole.
#[test]
fn reading_ends_after_so_many_rows_bad_ones_counted() {
    let bad = format!("bin\n{}", "a,b\n".repeat(1_000));
    let (rows, faults) = super::records(0, Kind::Bins, bad.as_bytes(), &Manner::default(), 10);
    assert_eq!((rows.len(), faults.len()), (0, 11));
    let good = format!("bin\n{}", "a\n".repeat(1_000));
    let (rows, faults) = super::records(0, Kind::Bins, good.as_bytes(), &Manner::default(), 10);
    assert_eq!((rows.len(), faults.len()), (11, 0));
    let files = |text: &str| {
        [crate::import::File {
            kind: Kind::Bins,
            manner: Manner::default(),
            name: "bins.csv".to_owned(),
            bytes: text.as_bytes().to_vec(),
        }]
    };
    for text in [bad, good] {
        let sheets = crate::import::read(&files(&text), 10, &mut |_| {});
        let last = sheets.bad.last().unwrap();
        assert_eq!(last.place.line, 12);
        assert!(last.reason.contains("more than 10 rows"), "{last:?}");
    }
}

#[test]
fn wide_headers_and_long_lines_name_their_limit() {
    let (_, faults) =
        super::records(0, Kind::Bins, ",".repeat(1_000).as_bytes(), &Manner::default(), 10);
    assert_eq!(faults.len(), 1);
    assert!(faults[0].reason.contains("1001 columns; at most 200"), "{faults:?}");
    let text = format!("bin\nA\n{}\n", "x".repeat(LINE_BYTES_MAX + 1));
    let (rows, faults) = super::records(0, Kind::Bins, text.as_bytes(), &Manner::default(), 10);
    assert_eq!((rows.len(), faults.len(), faults[0].place.line), (0, 1, 3));
}
