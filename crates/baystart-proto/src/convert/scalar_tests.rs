//! What single values read as, and what is refused.
#![allow(clippy::unwrap_used)]

use super::*;

fn wire_date(year: i32, month: i32, day: i32) -> v1::Date {
    v1::Date { year, month, day }
}

#[test]
fn partial_and_impossible_dates_are_refused() {
    assert_eq!(date(&wire_date(2028, 2, 29)).unwrap(), jiff::civil::date(2028, 2, 29));
    for bad in [
        (2026, 0, 0),
        (2026, 9, 0),
        (0, 9, 14),
        (2026, 2, 29),
        (2026, 13, 1),
        (99_999, 1, 1),
        (2026, 1, 300),
        (-5, 1, 1),
    ] {
        let fault = date(&wire_date(bad.0, bad.1, bad.2)).unwrap_err();
        assert_eq!(fault.0, Reason::DateInvalid, "{bad:?}");
    }
    assert_eq!(date_text("2026-09-14").unwrap(), jiff::civil::date(2026, 9, 14));
    for bad in [
        "2026-9-14",
        "14.09.2026",
        "2026-09",
        "20260914",
        "2026-02-30",
        "1850-01-01",
        "2026-09-14 ",
    ] {
        assert_eq!(date_text(bad).unwrap_err().0, Reason::DateInvalid, "{bad}");
    }
}

#[test]
fn quantities_are_exact_or_refused() {
    assert_eq!(quantity("12.125").unwrap(), Quantity::from_milli(12_125));
    assert_eq!(quantity("-0.5").unwrap(), Quantity::from_milli(-500));
    assert_eq!(quantity("1.5000").unwrap(), Quantity::from_milli(1500));
    for bad in ["", "1,5", "0.0001", "1e3", "NaN", "ten", "99999999999999999999999999999999"] {
        assert_eq!(quantity(bad).unwrap_err().0, Reason::QuantityInvalid, "{bad}");
    }
}

#[test]
fn money_has_four_decimals_and_one_sign() {
    let wire = |units, nanos| v1::Money { currency_code: "GBP".to_owned(), units, nanos };
    assert_eq!(money(&wire(12, 345_600_000)).unwrap().ten_thousandths, 123_456);
    for (units, nanos) in [(1, 50_000), (1, -1), (-1, 0), (0, 1_000_000_000), (i64::MAX, 0)] {
        assert_eq!(money(&wire(units, nanos)).unwrap_err().0, Reason::MoneyInvalid);
    }
    let unknown = v1::Money { currency_code: "XXZ".to_owned(), units: 1, nanos: 0 };
    assert_eq!(money(&unknown).unwrap_err().0, Reason::MoneyInvalid);
    assert!(money_text("-1", Currency::parse("GBP").unwrap()).is_err());
}

#[test]
fn texts_hold_one_line_that_can_be_seen() {
    assert_eq!(text("  e\u{301}clair ", 50).unwrap(), "\u{e9}clair");
    for (odd, named) in [
        ("a\0b", "\"a\\u{0}b\" holds U+0000 NULL as character 2"),
        ("two\nlines", "\"two\\nlines\" holds U+000A LINE FEED as character 4"),
        ("a\rb", "holds U+000D CARRIAGE RETURN"),
        ("a\u{200b}b", "\"a\\u{200b}b\" holds U+200B ZERO WIDTH SPACE"),
        ("\u{202e}b", "holds U+202E RIGHT-TO-LEFT OVERRIDE as character 1"),
    ] {
        let (reason, said) = text(odd, 50).unwrap_err();
        assert_eq!(reason, Reason::ValueInvalid);
        assert!(said.contains(named), "{said}");
    }
    assert_eq!(note("  two\r\nlines ", 50).unwrap(), "two\nlines");
    assert!(note("a\u{1b}b", 50).is_err());
    assert!(text("abc", 2).is_err());
}

#[test]
fn numbers_hold_no_look_alikes() {
    assert_eq!(number(" ").unwrap_err().0, Reason::FieldMissing);
    for (odd, named) in [
        ("A\u{7}B", "\"A\\u{7}B\" holds U+0007 BELL as character 2"),
        ("HD\u{200b}10", "holds U+200B ZERO WIDTH SPACE as character 3"),
        (
            "HD-\u{410}1",
            "character 4, \"\u{410}\" (U+0410), is Cyrillic and the first letter Latin",
        ),
    ] {
        let (reason, said) = number(odd).unwrap_err();
        assert_eq!(reason, Reason::ValueInvalid);
        assert!(said.contains(named), "{said}");
    }
    assert_eq!(number("e\u{301}-1").unwrap(), number("\u{c9}-1").unwrap());
    assert_eq!(shown("a\0b\u{9b}\u{2066}"), "a\\u{0}b\\u{9b}\\u{2066}");
}

#[test]
fn time_zones_are_looked_up() {
    assert_eq!(time_zone("Europe/London").unwrap(), "Europe/London");
    assert!(time_zone("Glen/Orran").is_err());
}

/// Found by the fuzzer: the text came back raw.
#[test]
fn an_amount_below_nothing_is_shown_without_its_control_characters() {
    let (_, said) = money_text("\r\n-3.125", Currency::parse("GBP").unwrap()).unwrap_err();
    assert_eq!(said, "\\r\\n-3.125 is below 0");
}
