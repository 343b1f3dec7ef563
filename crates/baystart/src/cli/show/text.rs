//! Dates, chances, quantities and prices as people read them.

use baystart_proto::v1;

/// What stands for a date that nobody knows.
pub const NO_DATE: &str = "no date";

/// The date, where it is one.
#[must_use]
pub fn civil(date: &v1::Date) -> Option<jiff::civil::Date> {
    let year = i16::try_from(date.year).ok()?;
    jiff::civil::Date::new(year, i8::try_from(date.month).ok()?, i8::try_from(date.day).ok()?).ok()
}

/// `Tue 2026-10-06`, or "no date".
#[must_use]
pub fn day(date: Option<&v1::Date>) -> String {
    let Some(date) = date else {
        return NO_DATE.to_owned();
    };
    match civil(date) {
        Some(day) => day.strftime("%a %Y-%m-%d").to_string(),
        None => plain(Some(date)),
    }
}

/// `2026-10-06`, or nothing for something that has not happened.
#[must_use]
pub fn plain(date: Option<&v1::Date>) -> String {
    date.map_or(String::new(), |date| format!("{:04}-{:02}-{:02}", date.year, date.month, date.day))
}

/// The level of a date, for example "80 %".
#[must_use]
pub fn level(probability: f64) -> String {
    format!("{} %", (probability * 1000.0).round() / 10.0)
}

/// The date at a level, when the answer has that level.
#[must_use]
pub fn at(dates: &[v1::DateAtConfidence], probability: f64) -> Option<&v1::DateAtConfidence> {
    dates.iter().find(|date| (date.probability - probability).abs() < 1e-6)
}

/// The day at a level, or "no date".
#[must_use]
pub fn day_at(dates: &[v1::DateAtConfidence], probability: f64) -> String {
    day(at(dates, probability).and_then(|date| date.date.as_ref()))
}

/// A number without the zeros that say nothing, or 0.
#[must_use]
pub fn number(decimal: Option<&v1::Decimal>) -> String {
    let Some(decimal) = decimal else {
        return "0".to_owned();
    };
    let text = decimal.value.as_str();
    if text.is_empty() {
        return "0".to_owned();
    }
    if text.contains('.') {
        return text.trim_end_matches('0').trim_end_matches('.').to_owned();
    }
    text.to_owned()
}

/// A number, or nothing for zero, so that tables show what there is.
#[must_use]
pub fn some_number(decimal: Option<&v1::Decimal>) -> String {
    let text = number(decimal);
    if text == "0" { String::new() } else { text }
}

/// `2.5 m`.
#[must_use]
pub fn quantity(decimal: Option<&v1::Decimal>, unit_code: &str) -> String {
    format!("{} {}", number(decimal), unit(unit_code)).trim_end().to_owned()
}

/// A short name for a UN/CEFACT code; a code that is not in the list stands
/// for itself.
#[must_use]
pub fn unit(code: &str) -> &str {
    match code {
        "C62" => "pcs",
        "MTR" => "m",
        "MMT" => "mm",
        "CMT" => "cm",
        "MTK" => "m²",
        "MTQ" => "m³",
        "LTR" => "l",
        "MLT" => "ml",
        "KGM" => "kg",
        "GRM" => "g",
        "PR" => "pairs",
        "SET" => "sets",
        "RO" => "rolls",
        "HUR" => "h",
        other => other,
    }
}

/// `12.50 GBP`, or nothing.
#[must_use]
pub fn money(money: Option<&v1::Money>) -> String {
    let Some(money) = money else {
        return String::new();
    };
    let sign = if money.units < 0 || money.nanos < 0 { "-" } else { "" };
    let (units, code) = (money.units.unsigned_abs(), &money.currency_code);
    if money.nanos == 0 {
        return format!("{sign}{units} {code}");
    }
    let nanos = format!("{:09}", money.nanos.unsigned_abs());
    let decimals = nanos.trim_end_matches('0');
    format!("{sign}{units}.{decimals:0<2} {code}")
}

/// `1 day`, `3 days`.
#[must_use]
pub fn counted(count: i64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// A word as the command line takes it.
#[must_use]
pub fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "-_./:=@,+".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_owned();
    }
    format!("'{}'", word.replace('\'', "'\\''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates() {
        let date = v1::Date { year: 2026, month: 10, day: 6 };
        assert_eq!(day(Some(&date)), "Tue 2026-10-06");
        assert_eq!(plain(Some(&date)), "2026-10-06");
        assert_eq!((day(None), plain(None)), ("no date".to_owned(), String::new()));
        let partial = v1::Date { year: 2026, month: 0, day: 0 };
        assert_eq!(day(Some(&partial)), "2026-00-00");
    }

    #[test]
    fn quantities() {
        let decimal = |value: &str| v1::Decimal { value: value.to_owned() };
        assert_eq!(quantity(Some(&decimal("2.500")), "MTR"), "2.5 m");
        assert_eq!(quantity(Some(&decimal("100")), "C62"), "100 pcs");
        assert_eq!(quantity(Some(&decimal("3")), "XYZ"), "3 XYZ");
        assert_eq!(quantity(None, ""), "0");
        assert_eq!(
            (some_number(None), some_number(Some(&decimal("0.000")))),
            (String::new(), String::new())
        );
    }

    #[test]
    fn prices() {
        let show =
            |units, nanos| money(Some(&v1::Money { currency_code: "GBP".into(), units, nanos }));
        assert_eq!(show(12, 500_000_000), "12.50 GBP");
        assert_eq!(show(12, 0), "12 GBP");
        assert_eq!(show(0, 500_000), "0.0005 GBP");
        assert_eq!(show(-1, -250_000_000), "-1.25 GBP");
    }

    #[test]
    fn words_for_the_shell() {
        assert_eq!(quoted("Electrical"), "Electrical");
        assert_eq!(quoted("Body and paint"), "'Body and paint'");
        assert_eq!(quoted("driver's"), "'driver'\\''s'");
        assert_eq!(quoted(""), "''");
    }

    #[test]
    fn levels() {
        assert_eq!(level(0.8), "80 %");
        assert_eq!(level(0.975), "97.5 %");
    }
}
