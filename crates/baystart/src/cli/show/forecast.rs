//! When a build can start, and what decides it.

use super::delivery;
use super::table::Rows;
use super::text::{counted, day, day_at, level, number};
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Chance of a part without a date from which it is said.
const WITHOUT_DATE_WORTH_SAYING: f64 = 0.001;

/// Chance to decide the date from which a part's evidence is told.
const DECIDES_WORTH_EXPLAINING: f64 = 0.05;
/// Parts whose evidence is told, unless all are asked for.
const EXPLAINED_MAX: usize = 3;

/// How much of a forecast is shown.
#[derive(Clone, Copy, Debug, Default)]
pub struct Depth {
    /// The whole distribution, day by day.
    pub days: bool,
    /// Every source, those that hardly matter too.
    pub all: bool,
    /// The day that a start was asked for.
    pub start_on: Option<v1::Date>,
}

/// Chance from which later days say nothing new.
const SURE_ENOUGH: f64 = 0.995;

/// The forecast of one build.
#[must_use]
pub fn text(console: Console, forecast: Option<&v1::BuildForecast>, depth: Depth) -> String {
    let Some(forecast) = forecast else {
        return "The server told nothing of the build.".to_owned();
    };
    let mut text = format!("Build {}", forecast.build_number);
    if !forecast.vehicle.is_empty() {
        let _ = write!(text, ", {}", forecast.vehicle);
    }
    let _ = writeln!(text, "\nas things stood at the start of {}\n", day(forecast.as_of.as_ref()));
    text.push_str(&dates(console, forecast));
    text.push_str(&delivery::text(console, forecast, in_bay(forecast)));
    text.push_str(&chances(forecast, depth.start_on.as_ref()));
    text.push_str(&decides(console, forecast, depth.all));
    text.push_str(&evidence(forecast, depth.all));
    text.push_str(&last_papers(forecast));
    text.push_str(&undated(forecast));
    text.push_str(&warnings(forecast));
    if !forecast.assumptions.is_empty() {
        text.push_str("\nThe dates take for granted:\n");
        for assumption in &forecast.assumptions {
            let _ = writeln!(text, "  {assumption}");
        }
    }
    if depth.days {
        text.push_str(&distribution(console, forecast));
    }
    text
}

fn in_bay(forecast: &v1::BuildForecast) -> bool {
    v1::BuildForecastBasis::try_from(forecast.basis) == Ok(v1::BuildForecastBasis::FromBay)
}

fn dates(console: Console, forecast: &v1::BuildForecast) -> String {
    let goes = if in_bay(forecast) { "can go on by" } else { "can start by" };
    let table = match hands_over_later(forecast) {
        true => {
            let columns = ["#chance", goes, "work done by", "handover by"];
            let mut rows = Rows::new(console, &columns);
            for start in &forecast.start {
                rows.row([
                    level(start.probability),
                    day(start.date.as_ref()),
                    day_at(&forecast.finish, start.probability),
                    day_at(&forecast.handover, start.probability),
                ]);
            }
            rows.text_or("No dates.")
        }
        false => {
            let mut rows = Rows::new(console, &["#chance", goes, "work done by"]);
            for start in &forecast.start {
                rows.row([
                    level(start.probability),
                    day(start.date.as_ref()),
                    day_at(&forecast.finish, start.probability),
                ]);
            }
            rows.text_or("No dates.")
        }
    };
    let work = match forecast.remaining_days {
        0 => "No work is left to do.".to_owned(),
        days => format!(
            "{} of work to do, if it takes its planned days.",
            counted(days.into(), "working day", "working days")
        ),
    };
    format!("{table}{work}\n\n")
}

/// Whether work off site or a last paper makes the handover later than the work.
fn hands_over_later(forecast: &v1::BuildForecast) -> bool {
    let date =
        |dates: &[v1::DateAtConfidence], p: f64| super::text::at(dates, p).and_then(|at| at.date);
    let levels = forecast.start.iter().map(|start| start.probability);
    let later = levels.filter(|p| date(&forecast.handover, *p) != date(&forecast.finish, *p));
    !forecast.handover.is_empty() && later.count() > 0
}

/// What gates handover only.
fn last_papers(forecast: &v1::BuildForecast) -> String {
    let mut text = String::new();
    for paper in &forecast.last_papers {
        let by = day_at(&paper.arrival, 0.8);
        let what = match paper.part_number.as_str() {
            "" => paper.part_description.clone(),
            number => format!(
                "{number} {}, which stage {} was finished without",
                paper.part_description, paper.stage_name
            ),
        };
        let _ = writeln!(text, "  {what}: {}; 80 % here by {by}", paper.waits_for);
    }
    if text.is_empty() { text } else { format!("\nNeeded for handover only:\n{text}") }
}

/// Parts that were replaced, companions that are missing.
fn warnings(forecast: &v1::BuildForecast) -> String {
    let mut text = String::new();
    for warning in &forecast.warnings {
        let _ = writeln!(text, "  line {}: {}", warning.line_number, warning.text);
    }
    if text.is_empty() { text } else { format!("\nLook at:\n{text}") }
}

fn chances(forecast: &v1::BuildForecast, start_on: Option<&v1::Date>) -> String {
    let goes = if in_bay(forecast) { "go on" } else { "start" };
    let mut text = format!(
        "Chance that it can {goes} today and not stall: {}\n",
        percent(forecast.startable_today)
    );
    // A planned start that has passed cannot be kept any more.
    let ahead = !is_before(forecast.planned_start.as_ref(), forecast.as_of.as_ref());
    if let (Some(chance), true) = (forecast.stall_at_planned_start, ahead) {
        let planned = day(forecast.planned_start.as_ref());
        let _ = writeln!(
            text,
            "Chance of a stall if it starts as planned, {planned}: {}",
            percent(chance)
        );
    }
    if let (Some(chance), Some(asked)) = (forecast.stall_at_asked_start, start_on) {
        let _ = writeln!(
            text,
            "Chance of a stall if it starts on {}: {}",
            day(Some(asked)),
            percent(chance)
        );
    }
    // A chance that no person would act upon is not worth a line.
    if forecast.without_date >= WITHOUT_DATE_WORTH_SAYING {
        let chance = percent(forecast.without_date);
        let _ = writeln!(text, "Chance that some part stays without a date: {chance}");
    }
    text
}

fn is_before(day: Option<&v1::Date>, other: Option<&v1::Date>) -> bool {
    let key = |date: &v1::Date| (date.year, date.month, date.day);
    matches!((day, other), (Some(day), Some(other)) if key(day) < key(other))
}

/// Working days gained that are shown as more than nothing.
const GAIN_MIN: f64 = 0.05;

fn matters(source: &v1::ForecastSource) -> bool {
    source.gating_probability >= 0.005 || source.days_gained >= GAIN_MIN
}

/// Whose past orders stand behind the parts that decide.
fn evidence(forecast: &v1::BuildForecast, all: bool) -> String {
    let mut text = String::new();
    let worth =
        |source: &&v1::ForecastSource| all || source.gating_probability >= DECIDES_WORTH_EXPLAINING;
    let told = forecast.sources.iter().filter(|source| !source.evidence.is_empty());
    let most = if all { usize::MAX } else { EXPLAINED_MAX };
    for source in told.filter(worth).take(most) {
        let what = match source.part_number.as_str() {
            "" => &source.part_description,
            number => number,
        };
        let _ = writeln!(text, "  {what}: {}", source.evidence);
    }
    if text.is_empty() { text } else { format!("\nWhat their dates stand on:\n{text}") }
}

fn decides(console: Console, forecast: &v1::BuildForecast, all: bool) -> String {
    if forecast.sources.is_empty() {
        return if forecast.undated.is_empty() {
            "\nNo part is waited for.\n".to_owned()
        } else {
            String::new()
        };
    }
    let columns = [
        "part",
        "description",
        "waits for",
        "80 % in by",
        "needed for",
        "#decides",
        "#days gained if here",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["days gained if here", "description"]);
    let mut left_out: usize = 0;
    for source in &forecast.sources {
        if !all && !matters(source) {
            left_out += 1;
            continue;
        }
        rows.row([
            source.part_number.clone(),
            source.part_description.clone(),
            source.waits_for.clone(),
            day_at(&source.arrival, 0.8),
            needed_for(source),
            percent(source.gating_probability),
            format!("{:.1}", source.days_gained),
        ]);
    }
    let mut text = format!("\nWhat decides it:\n{}", rows.text_or("No single part."));
    if left_out > 0 {
        let parts = counted(
            i64::try_from(left_out).unwrap_or(i64::MAX),
            "part hardly matters",
            "parts hardly matter",
        );
        let _ = writeln!(text, "{parts} (--all shows them).");
    }
    for package in &forecast.packages {
        let _ = writeln!(
            text,
            "Package {} (order {} line {}), {} pieces together: decides {}, {:.1} days gained if here.",
            package.part_number,
            package.order_number,
            package.order_line_number,
            package.pieces,
            percent(package.gating_probability),
            package.days_gained
        );
    }
    text
}

fn needed_for(source: &v1::ForecastSource) -> String {
    match source.offset_days {
        0 => source.stage_name.clone(),
        days if days < 0 => {
            let before = counted(-i64::from(days), "day", "days");
            format!("{}, {before} before the start", source.stage_name)
        }
        days => format!("{}, {} in", source.stage_name, counted(days.into(), "day", "days")),
    }
}

fn undated(forecast: &v1::BuildForecast) -> String {
    if forecast.undated.is_empty() {
        return String::new();
    }
    let mut text = "\nWithout any date, and left out of the dates above:\n".to_owned();
    for line in &forecast.undated {
        let amount = number(line.quantity.as_ref());
        if line.line_number == 0 {
            let _ = writeln!(text, "  {}: {}", line.part_description, line.reason);
            continue;
        }
        let (place, part) = (line.line_number, &line.part_number);
        let _ = writeln!(
            text,
            "  line {place}: {amount} of {part} {}: {}",
            line.part_description, line.reason
        );
    }
    text
}

fn distribution(console: Console, forecast: &v1::BuildForecast) -> String {
    let mut rows = Rows::new(console, &["day", "#can start by"]);
    // Days on which the shown chance stays the same say nothing new.
    let mut before = String::new();
    for point in &forecast.distribution {
        let chance = percent(point.probability);
        if chance != before {
            rows.row([day(point.date.as_ref()), chance.clone()]);
            before = chance;
        }
        if point.probability >= SURE_ENOUGH {
            break;
        }
    }
    format!("\nDay by day:\n{}", rows.text_or("No dates."))
}

#[cfg(test)]
#[path = "forecast_tests.rs"]
mod tests;
