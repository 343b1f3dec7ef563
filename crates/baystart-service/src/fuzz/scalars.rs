//! Texts within requests and cells: numbers, days, amounts, page tokens.

use crate::limits::Limits;
use crate::page::Page;
use baystart_core::money::Currency;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_proto::convert::{Reader, scalar, wire};
use baystart_proto::v1;

/// Most characters of an error about a text, however long the text is.
const SAID_CHARS_MAX: usize = 1_000;

fn said<T>(read: Result<T, (baystart_core::refusal::Reason, String)>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err((_, message)) => {
            assert!(!message.is_empty() && message.chars().count() <= SAID_CHARS_MAX, "{message}");
            assert!(!message.chars().any(char::is_control), "{message:?}");
            None
        }
    }
}

/// Every reader of one text; what reads prints as something that reads the same.
pub(super) fn scalar(bytes: &[u8]) {
    let text = &*String::from_utf8_lossy(bytes);
    if let Some(day) = said(scalar::date_text(text)) {
        assert_eq!(scalar::date_text(&day.to_string()), Ok(day));
        assert_eq!(scalar::date(&wire::date(day)), Ok(day));
    }
    if let Some(quantity) = said(scalar::quantity(text)) {
        assert_eq!(scalar::quantity(&quantity.to_string()), Ok(quantity));
        assert_eq!(Quantity::from_decimal(quantity.to_decimal()), Ok(quantity));
    }
    for code in ["GBP", "JPY", "KWD"] {
        let currency = Currency::parse(code).unwrap();
        if let Some(money) = said(scalar::money_text(text, currency)) {
            assert_eq!(scalar::money(&wire::money(money)), Ok(money));
        }
    }
    if let Some(currency) = said(scalar::currency(text)) {
        assert_eq!(scalar::currency(currency.code()), Ok(currency));
    }
    if let Some(unit) = said(scalar::unit(text)) {
        assert_eq!(scalar::unit(unit.code()), Ok(unit));
    }
    if let Some(number) = said(scalar::number(text)) {
        let again = Number::parse(number.written()).unwrap();
        assert_eq!((again.written(), again.normal()), (number.written(), number.normal()));
        // A lot is kept in its normal form, and exported so.
        let normal = Number::parse(number.normal()).expect("the normal form of a number is one");
        assert_eq!(normal, number);
    }
    if let Some(id) = scalar::uuid(text) {
        assert_eq!(scalar::uuid(&id.to_string()), Some(id));
    }
    if let Some(zone) = said(scalar::time_zone(text)) {
        assert_eq!(scalar::time_zone(&zone), Ok(zone));
    }
    said(scalar::text(text, 100));
    let shown = scalar::shown(text);
    assert!(!shown.chars().any(char::is_control) && shown.len() <= 4 * SAID_CHARS_MAX);
    if let Ok(level) = text.parse::<f64>() {
        let permille = scalar::permille(level);
        assert!(permille.is_none_or(|permille| permille <= 1_000), "{permille:?}");
    }
}

/// A forged token is refused; the token of a cursor leads to that cursor.
pub(super) fn page(bytes: &[u8]) {
    let text = &*String::from_utf8_lossy(bytes);
    let limits = Limits::default();
    let read = |token: &str| {
        let mut reader = Reader::new();
        let page_token = token.to_owned();
        let asked = v1::ListPartsRequest { page_size: 7, page_token, ..Default::default() };
        Page::read(&mut reader, &limits, &asked, &"")
    };
    let forged = read(text);
    let first = read("").unwrap();
    // The longest keys that a list has are two numbers.
    let cursor = vec![text.chars().take(64).collect::<String>(), "A".to_owned()];
    let token = first.token(cursor.clone());
    assert_eq!(read(&token).unwrap().cursor, cursor);
    assert!(forged.is_none() || text.is_empty() || forged.unwrap().token(vec![]).len() < 500);
}
