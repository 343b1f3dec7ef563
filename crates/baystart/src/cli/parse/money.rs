//! Prices.

use baystart_proto::v1;

/// A price as it was written; without a currency it is in the shop's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Price {
    /// Whole units of the currency.
    pub units: i64,
    /// Billionths of a unit.
    pub nanos: i32,
    /// ISO 4217 code, when written.
    pub currency_code: Option<String>,
}

impl Price {
    /// As the API has it, in the price's own currency or else in `currency`.
    #[must_use]
    pub fn money(&self, currency: &str) -> v1::Money {
        v1::Money {
            currency_code: self.currency_code.clone().unwrap_or_else(|| currency.to_owned()),
            units: self.units,
            nanos: self.nanos,
        }
    }
}

/// Reads `12.50`, `12.50EUR` or `12.50 EUR`; at most nine decimals, which is
/// what the message can carry: how many a price may have, the server says.
///
/// # Errors
/// The text is no such amount.
pub fn price(text: &str) -> Result<Price, String> {
    let wrong = || "is not a price; write for example 12.50 or 12.50EUR".to_owned();
    let letters = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let code = text.strip_prefix(letters).unwrap_or_default();
    let currency_code = match code.len() {
        0 => None,
        3 => Some(code.to_ascii_uppercase()),
        _ => return Err(wrong()),
    };
    let amount = letters.trim_end();
    let (whole, fraction) = amount.split_once('.').unwrap_or((amount, ""));
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    let point_without_digits = amount.ends_with('.');
    if whole.is_empty()
        || !digits(whole)
        || !digits(fraction)
        || fraction.len() > 9
        || point_without_digits
    {
        return Err(wrong());
    }
    let units = whole.parse().map_err(|_| wrong())?;
    let nanos = format!("{fraction:0<9}").parse().map_err(|_| wrong())?;
    Ok(Price { units, nanos, currency_code })
}

/// A price, or `none` to take it away.
///
/// # Errors
/// As [`price`].
pub fn price_or_none(text: &str) -> Result<super::date::Cleared<Price>, String> {
    if text == super::date::NONE {
        return Ok(super::date::Cleared(None));
    }
    price(text).map(|price| super::date::Cleared(Some(price)))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn amounts() {
        let read = |text: &str| price(text).unwrap().money("GBP");
        let money =
            |code: &str, units, nanos| v1::Money { currency_code: code.into(), units, nanos };
        assert_eq!(read("12.50"), money("GBP", 12, 500_000_000));
        assert_eq!(read("12"), money("GBP", 12, 0));
        assert_eq!(read("0.0005eur"), money("EUR", 0, 500_000));
        assert_eq!(read("1200 JPY"), money("JPY", 1200, 0));
        for wrong in
            ["", "-1", "1,50", "1.", ".5", "12.50EURO", "1.0000000001", "99999999999999999999"]
        {
            assert!(price(wrong).is_err(), "{wrong}");
        }
    }
}
