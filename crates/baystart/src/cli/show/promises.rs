//! Promises to customers: today's chance of each, and what moved it.

use super::table::Rows;
use super::text::day;
use super::what_if::working_days;
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The promises, the endangered first, and how earlier ones were kept.
#[must_use]
pub fn text(console: Console, response: &v1::ListCustomerPromisesResponse) -> String {
    let columns = [
        "build",
        "vehicle",
        "customer",
        "state",
        "promised",
        "given",
        "said",
        "now",
        "80 % by",
        "#days late",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["customer", "given", "state", "said"]);
    for row in &response.promises {
        let promise = row.promise.clone().unwrap_or_default();
        rows.row([
            row.build_number.clone(),
            row.vehicle.clone(),
            row.customer.clone(),
            row.state.clone(),
            day(promise.delivery_on.as_ref()),
            day(promise.made_on.as_ref()),
            promise.stated_chance.map_or(String::new(), percent),
            percent(row.chance),
            day(row.handover_80.as_ref()),
            row.days_late_80.map_or(String::new(), |days| format!("{days:+}")),
        ]);
    }
    let mut text = rows.text_or("No customer was promised a day that is still to come.");
    if !response.promises.is_empty() {
        text.push_str(LEGEND);
    }
    for row in response.promises.iter().filter(|row| !row.undated_parts.is_empty()) {
        let parts = row.undated_parts.join(", ");
        let _ = writeln!(text, "{}: without {parts}, which nobody dates.", row.build_number);
    }
    for row in &response.promises {
        if let Some(since) = &row.since {
            text.push_str(&since_promised(row, since));
        }
    }
    text.push_str(&kept(&response.scores));
    text
}

const LEGEND: &str = "\
said, now: chance that the vehicle is handed over by the promised day, when it was given and as things stand.
days late: working days from the promised day to the 80 % date.
";

/// What moved one build's date since it was promised.
fn since_promised(row: &v1::PromisedBuild, since: &v1::DateSince) -> String {
    let mut text = String::new();
    if row.times_given > 1 {
        let _ =
            writeln!(text, "\n{}: the date was given {} times.", row.build_number, row.times_given);
    }
    text + &moved(&row.build_number, since)
}

/// What moved a build's handover since a day; nothing where nothing did.
#[must_use]
pub fn moved(build_number: &str, since: &v1::DateSince) -> String {
    let mut text = String::new();
    if since.events.is_empty() {
        return text;
    }
    let days = match since.days {
        Some(0) => "no later and no sooner".to_owned(),
        Some(days) => working_days(days),
        None => "changed".to_owned(),
    };
    let _ = writeln!(text, "\n{build_number}: {days} since {}", day(since.day.as_ref()));
    for event in &since.events {
        let _ = match event.days {
            0 => writeln!(text, "  {}", event.text),
            days => writeln!(text, "  {}: {}", event.text, working_days(days)),
        };
    }
    text
}

fn kept(scores: &[v1::PromiseScore]) -> String {
    let mut text = String::new();
    if scores.is_empty() {
        return text;
    }
    text.push_str("\nPromises that came due:\n");
    for score in scores {
        let _ = writeln!(
            text,
            "  said to hold with {} to {}, {} on average: {} of {} kept",
            percent(score.stated_from),
            percent(score.stated_below),
            percent(score.mean_stated),
            score.kept,
            score.given
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(day: i32) -> Option<v1::Date> {
        Some(v1::Date { year: 2026, month: 10, day })
    }

    #[test]
    fn the_promise_its_chance_and_what_moved_it() {
        let promise = v1::CustomerPromise {
            delivery_on: date(9),
            made_on: date(1),
            stated_chance: Some(0.83),
            ..Default::default()
        };
        let event = v1::SinceEvent { text: "TK-40: moved".into(), days: 8 };
        let row = v1::PromisedBuild {
            build_number: "B-1042".into(),
            vehicle: "Rescue 4x4".into(),
            customer: "team leader".into(),
            state: "open".into(),
            promise: Some(promise),
            times_given: 2,
            chance: 0.21,
            handover_80: date(21),
            days_late_80: Some(8),
            undated_parts: Vec::new(),
            since: Some(v1::DateSince {
                day: date(1),
                days: Some(8),
                events: vec![event],
                ..Default::default()
            }),
        };
        let score = v1::PromiseScore {
            stated_from: 0.8,
            stated_below: 0.95,
            given: 5,
            kept: 4,
            mean_stated: 0.84,
        };
        let response = v1::ListCustomerPromisesResponse {
            promises: vec![row],
            scores: vec![score],
            revision: 1,
        };
        let shown = text(Console::default(), &response);
        let expected = "\
build   vehicle     customer     state  promised        given           said  now   80 % by         days late
-------------------------------------------------------------------------------------------------------------
B-1042  Rescue 4x4  team leader  open   Fri 2026-10-09  Thu 2026-10-01  83 %  21 %  Wed 2026-10-21         +8
said, now: chance that the vehicle is handed over by the promised day, when it was given and as things stand.
days late: working days from the promised day to the 80 % date.

B-1042: the date was given 2 times.

B-1042: 8 working days later since Thu 2026-10-01
  TK-40: moved: 8 working days later

Promises that came due:
  said to hold with 80 % to 95 %, 84 % on average: 4 of 5 kept
";
        assert_eq!(shown, expected);
        let none = text(Console::default(), &v1::ListCustomerPromisesResponse::default());
        assert_eq!(none, "No customer was promised a day that is still to come.\n");
    }
}
