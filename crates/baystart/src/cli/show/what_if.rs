//! What is supposed, and how far it moves the dates.

use super::text::{counted, day};
use baystart_proto::v1;
use std::fmt::Write as _;

/// `What if: order P-2007 comes 7 days later.`; nothing where nothing is supposed.
#[must_use]
pub fn supposed(facts: &[String]) -> String {
    match facts.is_empty() {
        true => String::new(),
        false => format!("What if {}. Nothing is saved.\n", facts.join(", and ")),
    }
}

/// How far the facts move a build's dates, in words.
#[must_use]
pub fn moved(as_it_is: Option<&v1::AsItIs>) -> String {
    let Some(row) = as_it_is else { return String::new() };
    let mut text = String::new();
    let what = [
        ("start", row.start_on.as_ref(), row.start_days_later),
        ("delivery", row.delivery_on.as_ref(), row.delivery_days_later),
    ];
    for (name, date, days) in what {
        let moved = match (days, date) {
            (Some(0), _) => "does not move".to_owned(),
            (Some(days), _) => format!("comes {}", working_days(days)),
            (None, Some(_)) => "has no date any more".to_owned(),
            (None, None) => {
                let _ = writeln!(text, "The {name} at 80 % has no date as it is.");
                continue;
            }
        };
        let _ = writeln!(text, "The {name} at 80 %, as it is {}, {moved}.", day(date));
    }
    text
}

/// `+5`, `-3`, `0`; a dash without a date on one side.
#[must_use]
pub fn days(days: Option<i32>) -> String {
    match days {
        Some(0) => "0".to_owned(),
        Some(days) => format!("{days:+}"),
        None => super::text::NO_DATE.to_owned(),
    }
}

/// `3 working days later`.
#[must_use]
pub fn working_days(days: i32) -> String {
    let way = if days < 0 { "sooner" } else { "later" };
    let said = counted(days.unsigned_abs().into(), "working day", "working days");
    format!("{said} {way}")
}
