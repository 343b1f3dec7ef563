//! Days that are told from today.

use super::date::Side;
use jiff::ToSpan as _;
use jiff::civil::{Date, Weekday};

const WEEKDAYS: [(&str, Weekday); 7] = [
    ("monday", Weekday::Monday),
    ("tuesday", Weekday::Tuesday),
    ("wednesday", Weekday::Wednesday),
    ("thursday", Weekday::Thursday),
    ("friday", Weekday::Friday),
    ("saturday", Weekday::Saturday),
    ("sunday", Weekday::Sunday),
];
const NUMBERS: [&str; 13] = [
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
];

/// The day; None: the text tells no day from today. Some(None): it lies beyond all calendars.
#[allow(clippy::option_option)]
pub(super) fn relative(text: &str, today: Date, side: Side) -> Option<Option<Date>> {
    let text = text.trim().to_lowercase();
    let after = |days: i64| today.checked_add(days.days()).ok();
    match text.as_str() {
        "today" => return Some(Some(today)),
        "tomorrow" => return Some(after(1)),
        "yesterday" => return Some(after(-1)),
        _ => {}
    }
    if let Some(day) = weekday(&text) {
        return Some(match side {
            Side::Next => after(i64::from(today.weekday().until(day))),
            Side::Last => after(-i64::from(today.weekday().since(day))),
        });
    }
    signed(&text).or_else(|| in_words(&text)).map(after)
}

/// `fri`, `fri.` or `friday`; at least three letters.
fn weekday(text: &str) -> Option<Weekday> {
    let text = text.trim_end_matches('.');
    let begins = |(name, _): &&(&str, Weekday)| text.len() >= 3 && name.starts_with(text);
    WEEKDAYS.iter().find(begins).map(|(_, day)| *day)
}

/// `+7`, `-3`, `+2w`.
fn signed(text: &str) -> Option<i64> {
    let (sign, rest) = match text.strip_prefix('+') {
        Some(rest) => (1, rest),
        None => (-1, text.strip_prefix('-')?),
    };
    let (digits, days) = match rest.strip_suffix('w') {
        Some(digits) => (digits, 7),
        None => (rest.strip_suffix('d').unwrap_or(rest), 1),
    };
    Some(sign * days * count(digits)?)
}

/// `in 2 weeks`, `in-two-weeks`, `3 days ago`.
fn in_words(text: &str) -> Option<i64> {
    let words: Vec<&str> = text.split([' ', '-']).filter(|word| !word.is_empty()).collect();
    let (sign, number, unit) = match words.as_slice() {
        ["in", number, unit] => (1, number, unit),
        [number, unit, "ago"] => (-1, number, unit),
        _ => return None,
    };
    let days = match *unit {
        "day" | "days" => 1,
        "week" | "weeks" => 7,
        _ => return None,
    };
    let number = match *number {
        "a" | "an" => Some(1),
        word => count(word).or_else(|| {
            NUMBERS.iter().position(|name| *name == word).and_then(|n| i64::try_from(n).ok())
        }),
    };
    Some(sign * days * number?)
}

/// At most four figures.
fn count(text: &str) -> Option<i64> {
    let plain = (1..=4).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn every_way_to_say_it() {
        let today = date(2026, 9, 16);
        for (text, day) in [
            ("Today", date(2026, 9, 16)),
            ("tomorrow", date(2026, 9, 17)),
            ("yesterday", date(2026, 9, 15)),
            ("+2w", date(2026, 9, 30)),
            ("-3", date(2026, 9, 13)),
            ("+10d", date(2026, 9, 26)),
            ("in two weeks", date(2026, 9, 30)),
            ("in-10-weeks", date(2026, 11, 25)),
            ("a week ago", date(2026, 9, 9)),
            ("twelve days ago", date(2026, 9, 4)),
            ("thurs", date(2026, 9, 17)),
        ] {
            assert_eq!(relative(text, today, Side::Next), Some(Some(day)), "{text}");
        }
        for text in
            ["in weeks", "two weeks", "fr", "fridays", "+", "+1.5", "in 2 months", "7", "+99999"]
        {
            assert_eq!(relative(text, today, Side::Next), None, "{text}");
        }
    }
}
