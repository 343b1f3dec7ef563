//! Exact money: whole ten-thousandths of a currency's main unit.

use crate::quantity::Quantity;
use rust_decimal::prelude::ToPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};
use std::fmt;
use thiserror::Error;

/// Decimals that an amount may have.
pub const MONEY_DECIMALS_MAX: u32 = 4;

/// ISO 4217 codes that are known, with the digits of their minor unit.
/// Source: ISO 4217 as carried by the PyPI library iso4217 1.16 for the codes
/// that do not have 2; the list of codes is from memory of the standard.
const CURRENCIES: &[(&str, u32)] = &[
    ("AED", 2),
    ("AUD", 2),
    ("BGN", 2),
    ("BHD", 3),
    ("BRL", 2),
    ("CAD", 2),
    ("CHF", 2),
    ("CLF", 4),
    ("CLP", 0),
    ("CNY", 2),
    ("CZK", 2),
    ("DKK", 2),
    ("EUR", 2),
    ("GBP", 2),
    ("HKD", 2),
    ("HUF", 2),
    ("IDR", 2),
    ("ILS", 2),
    ("INR", 2),
    ("IQD", 3),
    ("ISK", 0),
    ("JOD", 3),
    ("JPY", 0),
    ("KRW", 0),
    ("KWD", 3),
    ("LYD", 3),
    ("MAD", 2),
    ("MXN", 2),
    ("MYR", 2),
    ("NOK", 2),
    ("NZD", 2),
    ("OMR", 3),
    ("PHP", 2),
    ("PLN", 2),
    ("RON", 2),
    ("RSD", 2),
    ("SAR", 2),
    ("SEK", 2),
    ("SGD", 2),
    ("THB", 2),
    ("TND", 3),
    ("TRY", 2),
    ("TWD", 2),
    ("UAH", 2),
    ("USD", 2),
    ("UYW", 4),
    ("VND", 0),
    ("ZAR", 2),
];

/// An ISO 4217 currency that the project knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency(usize);

/// Why something is no money.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum MoneyError {
    /// No code of the list.
    #[error("is not an ISO 4217 currency code that Baystart knows")]
    UnknownCurrency,
    /// Not a plain decimal number.
    #[error("is not a decimal number")]
    NotANumber,
    /// More than four decimals.
    #[error("has more than 4 decimals")]
    TooPrecise,
    /// Beyond what fits.
    #[error("is beyond 100000000000")]
    TooLarge,
}

impl Currency {
    /// Reads a code in upper or lower case.
    ///
    /// # Errors
    /// The code is not in the list.
    pub fn parse(code: &str) -> Result<Self, MoneyError> {
        let code = code.trim().to_ascii_uppercase();
        CURRENCIES
            .iter()
            .position(|(known, _)| *known == code)
            .map(Self)
            .ok_or(MoneyError::UnknownCurrency)
    }

    /// The three-letter code.
    #[must_use]
    pub fn code(self) -> &'static str {
        CURRENCIES.get(self.0).map_or("", |(code, _)| code)
    }

    /// Digits of the minor unit: 2 for GBP, 0 for JPY.
    #[must_use]
    pub fn minor_digits(self) -> u32 {
        CURRENCIES.get(self.0).map_or(2, |(_, digits)| *digits)
    }
}

impl TryFrom<String> for Currency {
    type Error = MoneyError;
    fn try_from(code: String) -> Result<Self, MoneyError> {
        Self::parse(&code)
    }
}
impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.code().to_owned()
    }
}

/// An amount in ten-thousandths of the currency's main unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Money {
    /// The currency.
    pub currency: Currency,
    /// Ten-thousandths of the main unit.
    pub ten_thousandths: i64,
}

/// Largest amount: 10^11 of a main unit.
const MONEY_MAX: i64 = 1_000_000_000_000_000;

impl Money {
    /// Reads an amount such as `12.5` in a currency.
    ///
    /// # Errors
    /// Not a number, more than four decimals, or beyond 10^11.
    pub fn parse(text: &str, currency: Currency) -> Result<Self, MoneyError> {
        let text = text.trim();
        if text.len() > 40 || text.contains(['_', 'e', 'E']) {
            return Err(MoneyError::NotANumber);
        }
        let decimal: Decimal = text.parse().map_err(|_| MoneyError::NotANumber)?;
        Self::from_decimal(decimal, currency)
    }

    /// From an exact decimal of main units.
    ///
    /// # Errors
    /// More than four decimals that are not zero, or beyond 10^11.
    pub fn from_decimal(decimal: Decimal, currency: Currency) -> Result<Self, MoneyError> {
        let decimal = decimal.normalize();
        if decimal.scale() > MONEY_DECIMALS_MAX {
            return Err(MoneyError::TooPrecise);
        }
        let ten_thousandths = decimal
            .checked_mul(Decimal::from(10_000))
            .and_then(|d| d.to_i64())
            .filter(|n| n.abs() <= MONEY_MAX)
            .ok_or(MoneyError::TooLarge)?;
        Ok(Self { currency, ten_thousandths })
    }

    /// The exact decimal of main units.
    #[must_use]
    pub fn to_decimal(self) -> Decimal {
        Decimal::new(self.ten_thousandths, MONEY_DECIMALS_MAX).normalize()
    }

    /// This price times a quantity, rounded half to even to the currency's
    /// minor unit.
    ///
    /// # Errors
    /// The product is beyond 10^11.
    pub fn times(self, quantity: Quantity) -> Result<Self, MoneyError> {
        let product = self
            .to_decimal()
            .checked_mul(quantity.to_decimal())
            .ok_or(MoneyError::TooLarge)?
            .round_dp_with_strategy(
                self.currency.minor_digits(),
                RoundingStrategy::MidpointNearestEven,
            );
        Self::from_decimal(product, self.currency)
    }
}

impl fmt::Display for Money {
    /// `12.50 GBP`: at least the digits of the minor unit.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut amount = self.to_decimal();
        if amount.scale() < self.currency.minor_digits() {
            amount.rescale(self.currency.minor_digits());
        }
        f.pad(&format!("{amount} {}", self.currency.code()))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn money(text: &str, code: &str) -> Money {
        Money::parse(text, Currency::parse(code).unwrap()).unwrap()
    }

    /// Half to even: from memory of IEEE 754's and ISO 80000's rule.
    #[test]
    fn price_times_quantity_rounds_half_to_even() {
        let half = Quantity::from_milli(500);
        assert_eq!(money("0.05", "GBP").times(half).unwrap(), money("0.02", "GBP"));
        assert_eq!(money("0.07", "GBP").times(half).unwrap(), money("0.04", "GBP"));
        assert_eq!(money("3", "JPY").times(half).unwrap(), money("2", "JPY"));
        assert_eq!(
            money("0.0015", "BHD").times(Quantity::whole(1)).unwrap(),
            money("0.002", "BHD")
        );
    }

    /// ISO 4217 minor units, run with the PyPI library iso4217 1.16.
    #[test]
    fn minor_units_of_iso_4217() {
        for (digits, codes) in [
            (0, "JPY ISK KRW CLP VND"),
            (3, "BHD KWD TND OMR JOD IQD LYD"),
            (4, "CLF UYW"),
            (2, "HUF GBP EUR USD"),
        ] {
            for code in codes.split(' ') {
                assert_eq!(Currency::parse(code).unwrap().minor_digits(), digits, "{code}");
            }
        }
    }

    #[test]
    fn refuses_over_precise_amounts() {
        let gbp = Currency::parse("gbp").unwrap();
        assert_eq!(Money::parse("1.00001", gbp), Err(MoneyError::TooPrecise));
        assert_eq!(Currency::parse("XXZ"), Err(MoneyError::UnknownCurrency));
        assert_eq!(money("12.5", "GBP").to_string(), "12.50 GBP");
        assert_eq!(money("12.1234", "GBP").to_string(), "12.1234 GBP");
    }
}
