//! Single values.

use crate::error::StoreError;
use baystart_core::money::{Currency, Money};
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use chrono::{DateTime, Datelike, NaiveDate, Utc};
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fmt::Display;

/// Says what a table holds that it must not hold.
pub fn corrupt(what: &str, value: impl Display) -> StoreError {
    StoreError::Corrupt(format!("the database holds {what} \"{value}\", which cannot be read"))
}

/// A civil date as the database has it.
pub fn day(date: Date) -> NaiveDate {
    let (month, day) = (date.month().unsigned_abs(), date.day().unsigned_abs());
    NaiveDate::from_ymd_opt(date.year().into(), month.into(), day.into()).unwrap_or_default()
}

/// A civil date as the core has it.
pub fn own_day(date: NaiveDate) -> Result<Date, StoreError> {
    let year = i16::try_from(date.year()).map_err(|_| corrupt("the date", date))?;
    let month = i8::try_from(date.month()).map_err(|_| corrupt("the date", date))?;
    let day = i8::try_from(date.day()).map_err(|_| corrupt("the date", date))?;
    Date::new(year, month, day).map_err(|_| corrupt("the date", date))
}

/// A date that may be absent.
pub fn own_day_option(date: Option<NaiveDate>) -> Result<Option<Date>, StoreError> {
    date.map(own_day).transpose()
}

/// An instant cut to microseconds, which is what both databases keep.
pub fn micros(at: Timestamp) -> Timestamp {
    Timestamp::from_microsecond(at.as_microsecond()).unwrap_or(at)
}

/// An instant as the database has it, in UTC.
pub fn instant(at: Timestamp) -> DateTime<Utc> {
    DateTime::from_timestamp_micros(at.as_microsecond()).unwrap_or_default()
}

/// An instant as the core has it.
pub fn own_instant(at: DateTime<Utc>) -> Result<Timestamp, StoreError> {
    Timestamp::from_microsecond(at.timestamp_micros()).map_err(|_| corrupt("the instant", at))
}

/// A number or code from its two columns. What was kept is not judged again: a
/// number that would be refused today still has its stock and its builds.
pub fn number(written: &str, normal: &str) -> Number {
    Number::kept(written.to_owned(), normal.to_owned())
}

/// A count that the core keeps in fewer bits.
pub fn small<T: TryFrom<i64>>(what: &str, value: i64) -> Result<T, StoreError> {
    T::try_from(value).map_err(|_| corrupt(what, value))
}

/// A count of days that may be absent.
pub fn days(what: &str, value: Option<i64>) -> Result<Option<u32>, StoreError> {
    value.map(|value| small(what, value)).transpose()
}

/// A quantity in thousandths.
pub const fn quantity(milli: i64) -> Quantity {
    Quantity::from_milli(milli)
}

/// A price from its two columns.
pub fn money(amount: Option<i64>, currency: Option<&str>) -> Result<Option<Money>, StoreError> {
    let (Some(ten_thousandths), Some(code)) = (amount, currency) else {
        return Ok(None);
    };
    let currency = Currency::parse(code).map_err(|_| corrupt("the currency", code))?;
    Ok(Some(Money { currency, ten_thousandths }))
}

/// A price's amount in ten-thousandths.
pub fn amount(price: Option<Money>) -> Option<i64> {
    price.map(|price| price.ten_thousandths)
}

/// A price's currency code.
pub fn code(price: Option<Money>) -> Option<String> {
    price.map(|price| price.currency.code().to_owned())
}

/// A SHA-256 digest.
pub fn digest(what: &str, bytes: &[u8]) -> Result<[u8; 32], StoreError> {
    bytes.try_into().map_err(|_| corrupt(what, format!("{} bytes", bytes.len())))
}

/// A value as JSON text. These have string keys and finite numbers only, so it cannot fail; if it
/// did, the text would not read back.
pub fn json(value: &impl Serialize) -> String {
    serde_json::to_string(value).unwrap_or_else(|error| format!("\"{error}\""))
}

/// A value of JSON text.
pub fn of_json<T: DeserializeOwned>(what: &str, text: &str) -> Result<T, StoreError> {
    serde_json::from_str(text).map_err(|_| corrupt(what, text))
}
