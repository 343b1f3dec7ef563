//! Single values: wire text and small messages to exact core values. An error
//! is a reason and a sentence that says the value and what is wrong.

use crate::v1;
use baystart_core::money::{Currency, Money, MoneyError};
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refusal::Reason;
use baystart_core::text::{Lines, clean, escaped};
use baystart_core::units::Unit;
use jiff::civil::Date;
use rust_decimal::Decimal;
use uuid::Uuid;

/// A value, or the fault to note under its field.
pub type Scalar<T> = Result<T, (Reason, String)>;

/// First and last year that a date may lie in: a date outside is a slip of the
/// hand, and calendars need not reach it.
pub const YEARS: std::ops::RangeInclusive<i32> = 1970..=2199;
/// Most characters of a text that is repeated in an error.
const SHOWN_CHARS_MAX: usize = 80;
/// Nanos of one ten-thousandth.
const NANOS_PER_STEP: i32 = 100_000;

/// A text as it is repeated in an error: cut to 80 characters, what nobody sees
/// and what controls shown as escapes.
#[must_use]
pub fn shown(text: &str) -> String {
    let mut out: String = text.chars().take(SHOWN_CHARS_MAX).collect();
    if text.chars().nth(SHOWN_CHARS_MAX).is_some() {
        out.push_str(" ...");
    }
    escaped(&out).into_owned()
}

/// A whole civil date.
///
/// # Errors
/// A partial date, a day that does not exist, or a year outside [`YEARS`].
pub fn date(date: &v1::Date) -> Scalar<Date> {
    let v1::Date { year, month, day } = *date;
    let text = format!("{year:04}-{month:02}-{day:02}");
    if year == 0 || month == 0 || day == 0 {
        return Err((Reason::DateInvalid, format!("{text} is a partial date")));
    }
    let parts = (i16::try_from(year), i8::try_from(month), i8::try_from(day));
    let (Ok(y), Ok(m), Ok(d)) = parts else {
        return Err((Reason::DateInvalid, format!("{text} is no date")));
    };
    let date =
        Date::new(y, m, d).map_err(|_| (Reason::DateInvalid, format!("{text} is no date")))?;
    within_years(date)
}

/// A date as text, `YYYY-MM-DD`.
///
/// # Errors
/// Another form, a day that does not exist, or a year outside [`YEARS`].
pub fn date_text(text: &str) -> Scalar<Date> {
    let fault =
        || (Reason::DateInvalid, format!("\"{}\" is no date of the form 2026-09-14", shown(text)));
    let shape = text.len() == 10
        && text.bytes().enumerate().all(|(i, b)| match i {
            4 | 7 => b == b'-',
            _ => b.is_ascii_digit(),
        });
    if !shape {
        return Err(fault());
    }
    within_years(text.parse::<Date>().map_err(|_| fault())?)
}

fn within_years(date: Date) -> Scalar<Date> {
    if YEARS.contains(&i32::from(date.year())) {
        return Ok(date);
    }
    let (first, last) = (YEARS.start(), YEARS.end());
    Err((Reason::DateInvalid, format!("{date} is outside the years {first} to {last}")))
}

/// A quantity from decimal text.
///
/// # Errors
/// Not a plain decimal, more than three decimals, or beyond 10^12.
pub fn quantity(text: &str) -> Scalar<Quantity> {
    Quantity::parse(text)
        .map_err(|error| (Reason::QuantityInvalid, format!("\"{}\" {error}", shown(text))))
}

/// Money from the wire.
///
/// # Errors
/// An unknown currency, nanos that are no multiple of 100,000 (excess
/// precision) or of another sign than the units, a negative amount, or an
/// amount beyond 10^11.
pub fn money(money: &v1::Money) -> Scalar<Money> {
    let v1::Money { units, nanos, .. } = *money;
    let fault = |text: String| (Reason::MoneyInvalid, text);
    let currency = currency(&money.currency_code)?;
    if nanos.unsigned_abs() >= 1_000_000_000 {
        return Err(fault(format!("nanos {nanos} is beyond 999999999")));
    }
    if (units > 0 && nanos < 0) || (units < 0 && nanos > 0) {
        return Err(fault(format!("units {units} and nanos {nanos} differ in sign")));
    }
    let amount = Decimal::from(units)
        .checked_add(Decimal::new(i64::from(nanos), 9))
        .ok_or_else(|| fault(format!("units {units} is beyond 100000000000")))?;
    if nanos % NANOS_PER_STEP != 0 {
        return Err(fault(format!("{} has more than 4 decimals", amount.normalize())));
    }
    if amount.is_sign_negative() && !amount.is_zero() {
        return Err(fault(format!("{amount} is below 0")));
    }
    Money::from_decimal(amount, currency).map_err(|error| fault(format!("{amount} {error}")))
}

/// Money from decimal text and a currency.
///
/// # Errors
/// Not a decimal, more than four decimals, negative, or beyond 10^11.
pub fn money_text(text: &str, currency: Currency) -> Scalar<Money> {
    let fault = |error: MoneyError| (Reason::MoneyInvalid, format!("\"{}\" {error}", shown(text)));
    let money = Money::parse(text, currency).map_err(fault)?;
    if money.ten_thousandths < 0 {
        return Err((Reason::MoneyInvalid, format!("{} is below 0", shown(text))));
    }
    Ok(money)
}

/// An ISO 4217 code.
///
/// # Errors
/// The code is not one that core knows.
pub fn currency(code: &str) -> Scalar<Currency> {
    Currency::parse(code)
        .map_err(|error| (Reason::MoneyInvalid, format!("\"{}\" {error}", shown(code))))
}

/// A unit of measure.
///
/// # Errors
/// The code is not one that core knows.
pub fn unit(code: &str) -> Scalar<Unit> {
    Unit::parse(code)
        .map_err(|error| (Reason::ValueInvalid, format!("\"{}\" {error}", shown(code))))
}

/// A part, build, order number or a code.
///
/// # Errors
/// As [`Number::parse`].
pub fn number(text: &str) -> Scalar<Number> {
    if text.trim().is_empty() {
        return Err((Reason::FieldMissing, "is needed".to_owned()));
    }
    Number::parse(text)
        .map_err(|error| (Reason::ValueInvalid, format!("\"{}\" {error}", shown(text))))
}

/// A service level as whole thousandths from 500 to 999, where it is one.
#[must_use]
pub fn permille(level: f64) -> Option<u16> {
    (500..=999).find(|permille| (f64::from(*permille) / 1000.0 - level).abs() < 1e-9)
}

/// Free text in one line, as [`clean`] keeps it.
///
/// # Errors
/// A character that no text may hold, or more than `chars_max` characters.
pub fn text(text: &str, chars_max: usize) -> Scalar<String> {
    text_of(text, chars_max, Lines::One)
}

/// A note of several lines, as [`clean`] keeps it.
///
/// # Errors
/// As [`text`], but that line ends are allowed.
pub fn note(text: &str, chars_max: usize) -> Scalar<String> {
    text_of(text, chars_max, Lines::Several)
}

fn text_of(text: &str, chars_max: usize, lines: Lines) -> Scalar<String> {
    let kept = clean(text, lines)
        .map_err(|odd| (Reason::ValueInvalid, format!("\"{}\" {odd}", shown(text.trim()))))?;
    let chars = kept.chars().count();
    if chars > chars_max {
        let message = format!("has {chars} characters; at most {chars_max} are kept");
        return Err((Reason::ValueInvalid, message));
    }
    Ok(kept)
}

/// A UUID in its usual form.
///
/// # Errors
/// Another text, or the nil UUID.
pub fn uuid(text: &str) -> Option<Uuid> {
    Uuid::try_parse(text.trim()).ok().filter(|uuid| !uuid.is_nil())
}

/// A IANA time zone's name.
///
/// # Errors
/// The time zone database has none of that name.
pub fn time_zone(name: &str) -> Scalar<String> {
    match jiff::tz::TimeZone::get(name.trim()) {
        Ok(_) => Ok(name.trim().to_owned()),
        Err(_) => Err((
            Reason::ValueInvalid,
            format!("\"{}\" is no IANA time zone, for example Europe/London", shown(name)),
        )),
    }
}

#[cfg(test)]
#[path = "scalar_tests.rs"]
mod tests;
