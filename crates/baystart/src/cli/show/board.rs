//! Every open build beside its dates.

use super::delivery;
use super::table::Rows;
use super::text::{counted, day, day_at, percent};
use crate::cli::console::Console;
use baystart_proto::v1;

/// One row a build, in the server's order: priority, then planned start.
#[must_use]
pub fn text(console: Console, board: &[v1::StreamBoardResponse]) -> String {
    let mut text = String::new();
    let as_of = board.iter().find_map(|row| row.forecast.as_ref()?.as_of);
    if as_of.is_some() {
        text = format!("Open builds as things stood at the start of {}\n\n", day(as_of.as_ref()));
    }
    let columns = [
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
    let mut rows = Rows::new(console, &columns);
    for row in board {
        let entry = row.entry.clone().unwrap_or_default();
        let forecast = row.forecast.clone().unwrap_or_default();
        let start = |level| day_at(&forecast.start, level);
        rows.row([
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
            decided_by(&forecast),
        ]);
    }
    text.push_str(&rows.text_or("No open builds."));
    text
}

/// The delivery at 80 %, the bays counted in; of a server that knows none, the end of the work.
fn delivered_by(forecast: &v1::BuildForecast) -> String {
    match forecast.delivery.as_ref().and_then(delivery::told) {
        Some(at) => day(at.delivered_by.as_ref()),
        None => day_at(&forecast.finish, 0.8),
    }
}

/// The bays where they decide, then the source that is most probably the last, and the lines without a date.
fn decided_by(forecast: &v1::BuildForecast) -> String {
    let mut said = Vec::new();
    let at = forecast.delivery.as_ref().and_then(delivery::told);
    if let Some(at) = at.filter(|at| delivery::decides(at) == v1::DeliveryDecider::Bays) {
        said.push(match at.decided_days {
            Some(days) => format!("bays +{}", counted(days.into(), "day", "days")),
            None => "no bay comes free".to_owned(),
        });
    }
    let last = forecast.sources.iter().max_by(|a, b| {
        let by_chance = a.gating_probability.total_cmp(&b.gating_probability);
        by_chance.then_with(|| b.part_number.cmp(&a.part_number))
    });
    if let Some(source) = last.filter(|source| source.gating_probability >= 0.005) {
        // The vehicle and the papers have no part number.
        let what = match source.part_number.as_str() {
            "" => &source.part_description,
            number => number,
        };
        said.push(format!("{what} {}", percent(source.gating_probability)));
    }
    match forecast.undated.len() {
        0 => {}
        1 => said.push("1 line without a date".to_owned()),
        count => said.push(format!("{count} lines without a date")),
    }
    said.join("; ")
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
        assert_eq!(decided_by(&forecast), "the vehicle, Carrier 60 %");
        forecast.sources.pop();
        forecast.undated.push(v1::UndatedLine::default());
        assert_eq!(decided_by(&forecast), "HD-1 20 %; 1 line without a date");
    }
}
