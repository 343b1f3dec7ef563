//! Every open build beside its dates.

use super::delivery;
use super::promises::moved;
use super::table::Rows;
use super::text::{day, day_at};
use super::what_if;
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;

/// One row a build, in the server's order: priority, then planned start.
#[must_use]
pub fn text(console: Console, board: &[v1::StreamBoardResponse]) -> String {
    let mut text = String::new();
    let as_of = board.iter().find_map(|row| row.forecast.as_ref()?.as_of);
    if as_of.is_some() {
        text = format!("Open builds as things stood at the start of {}\n\n", day(as_of.as_ref()));
    }
    let facts = board.first().map_or(&[][..], |row| &row.supposed);
    if !facts.is_empty() {
        text.push_str(&what_if::supposed(facts));
        text.push('\n');
    }
    let moves = board.iter().any(|row| row.as_it_is.is_some());
    let news = board.iter().any(|row| row.since.is_some());
    let mut columns = vec![
        "build",
        "vehicle",
        "state",
        "#lines here",
        "#short",
        "#today",
        "start 50 %",
        "start 80 %",
        "start 95 %",
        "delivery 80 %",
        "decided by",
    ];
    if moves {
        columns.extend(["#start moves", "#delivery moves"]);
    }
    if news {
        columns.push("#moved");
    }
    let mut spare = vec!["start 50 %", "start 95 %", "lines here", "state", "short", "today"];
    if moves {
        // What moves is what was asked.
        spare.extend(["decided by", "start 80 %"]);
    }
    let mut rows = Rows::new(console, &columns).sparing(&spare);
    for row in board {
        let entry = row.entry.clone().unwrap_or_default();
        let forecast = row.forecast.clone().unwrap_or_default();
        let start = |level| day_at(&forecast.start, level);
        let mut cells = vec![
            entry.build_number,
            entry.vehicle,
            entry.state,
            format!("{} of {}", entry.lines_here, entry.lines_total),
            if entry.lines_short == 0 { String::new() } else { entry.lines_short.to_string() },
            row.forecast
                .as_ref()
                .map_or(String::new(), |forecast| percent(forecast.startable_today)),
            start(0.5),
            start(0.8),
            start(0.95),
            delivered_by(&forecast),
            delivery::decided_by(&forecast),
        ];
        if moves {
            let as_it_is = row.as_it_is.unwrap_or_default();
            cells.push(what_if::days(as_it_is.start_days_later));
            cells.push(what_if::days(as_it_is.delivery_days_later));
        }
        if news {
            cells.push(what_if::days(row.since.as_ref().and_then(|since| since.days)));
        }
        rows.row(cells);
    }
    text.push_str(&rows.text_or("No open builds."));
    if moves {
        text.push_str("moves: working days at 80 % by which it is later (+) or sooner (-).\n");
    }
    if news {
        text.push_str(
            "moved: working days by which the handover at 80 % is later (+) or sooner (-) than it was.\n",
        );
    }
    for row in board {
        let number = row.entry.as_ref().map_or("", |entry| entry.build_number.as_str());
        text.push_str(&row.since.as_ref().map_or(String::new(), |since| moved(number, since)));
    }
    text
}

/// The delivery at 80 %, the bays counted in; of a server that knows none, the end of the work.
fn delivered_by(forecast: &v1::BuildForecast) -> String {
    match forecast.delivery.as_ref().and_then(delivery::told) {
        Some(at) => day(at.delivered_by.as_ref()),
        None => day_at(&forecast.finish, 0.8),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_decides_has_a_name() {
        let source = |part: &str, what: &str, gating_probability| v1::ForecastSource {
            part_number: part.into(),
            part_description: what.into(),
            gating_probability,
            ..v1::ForecastSource::default()
        };
        let mut forecast = v1::BuildForecast {
            sources: vec![source("HD-1", "Fuse box", 0.2), source("", "the vehicle, Carrier", 0.6)],
            ..v1::BuildForecast::default()
        };
        assert_eq!(delivery::decided_by(&forecast), "the vehicle, Carrier 60 %");
        forecast.sources.pop();
        forecast.undated.push(v1::UndatedLine::default());
        assert_eq!(delivery::decided_by(&forecast), "HD-1 20 %; 1 line without a date");
    }
}
