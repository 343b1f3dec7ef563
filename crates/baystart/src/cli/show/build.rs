//! Builds, their stages and lines.

use super::build_lines::lines;
use super::table::Rows;
use super::text::{NO_DATE, counted, plain};
use super::words;
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// One row a build.
#[must_use]
pub fn list(console: Console, builds: &[v1::Build]) -> String {
    let columns = [
        "build",
        "vehicle",
        "customer",
        "state",
        "stage",
        "#priority",
        "planned start",
        "required by",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["customer", "priority", "required by"]);
    for build in builds {
        rows.row([
            build.number.clone(),
            build.vehicle.clone(),
            build.customer.clone(),
            words::build_state(build.state).to_owned(),
            standing(build),
            build.priority.to_string(),
            plain(build.planned_start.as_ref()),
            plain(build.required_by.as_ref()),
        ]);
    }
    rows.text_or("No such builds.")
}

/// Where a build in the bay stands: the stage that is begun, or the next one.
fn standing(build: &v1::Build) -> String {
    if v1::BuildState::try_from(build.state) != Ok(v1::BuildState::InBay) {
        return String::new();
    }
    let in_state =
        |state: v1::StageState| build.stages.iter().find(|stage| stage.state == i32::from(state));
    if let Some(stage) = in_state(v1::StageState::Begun) {
        return stage.name.clone();
    }
    in_state(v1::StageState::Waiting)
        .map_or("all done".to_owned(), |stage| format!("before {}", stage.name))
}

/// One build in full.
#[must_use]
pub fn build(console: Console, build: Option<&v1::Build>) -> String {
    let Some(build) = build else {
        return "The server told nothing of the build.".to_owned();
    };
    let mut text = format!("Build {}  {}\n", build.number, build.vehicle);
    for (name, value) in [
        ("state", words::build_state(build.state).to_owned()),
        ("customer", build.customer.clone()),
        ("priority", build.priority.to_string()),
        ("planned start", plain(build.planned_start.as_ref())),
        ("required by", plain(build.required_by.as_ref())),
        ("makes", if build.for_stock { "stock, not a vehicle".to_owned() } else { String::new() }),
        ("staging bin", build.staging_bin_code.clone()),
        ("note", build.note.clone()),
    ] {
        if !value.is_empty() {
            let _ = writeln!(text, "{name:<14} {value}");
        }
    }
    text.push('\n');
    text.push_str(&stages(console, &build.stages));
    text.push('\n');
    text.push_str(&lines(console, &wanted_lines(build)));
    text.push_str(&awaited(console, &build.awaited));
    text.push_str(&told(build));
    text
}

/// What no order brings.
fn awaited(console: Console, items: &[v1::AwaitedItem]) -> String {
    if items.is_empty() {
        return String::new();
    }
    let columns =
        ["item", "awaited", "name", "identification", "from", "needed for", "expected", "came"];
    let mut rows = Rows::new(console, &columns).sparing(&["identification", "from", "item"]);
    for item in items {
        let over = item.received_on.is_some() || item.dropped_on.is_some();
        let expected = match (item.expected.last(), item.usual_days) {
            (Some(last), _) => plain(last.expected_on.as_ref()),
            (None, _) if over => String::new(),
            (None, Some(days)) => format!("{} usual", counted(days.into(), "day", "days")),
            (None, None) => NO_DATE.to_owned(),
        };
        let came = match (&item.received_on, &item.dropped_on) {
            (Some(day), _) => plain(Some(day)),
            (None, Some(day)) => format!("given up {}", plain(Some(day))),
            (None, None) => String::new(),
        };
        let needed_for = match (item.stage_name.as_str(), item.line_number) {
            ("", _) => "handover".to_owned(),
            (stage, 0) => stage.to_owned(),
            (stage, line) => format!("{stage}, line {line}"),
        };
        rows.row([
            item.item_number.to_string(),
            words::awaited(item.kind).to_owned(),
            item.name.clone(),
            item.identification.clone(),
            item.source.clone(),
            needed_for,
            expected,
            came,
        ]);
    }
    format!("\n{}", rows.text_or(""))
}

/// Accepted alternatives, dates that moved, warnings, and the caution of safety-related parts.
fn told(build: &v1::Build) -> String {
    let mut text = String::new();
    for line in &build.lines {
        if let Some(row) = &line.substituted {
            let _ = writeln!(
                text,
                "Line {}: {} instead of {}, accepted by {} on {}: {}",
                line.line_number,
                line.part_number,
                row.instead_of_part_number,
                row.approved_by,
                plain(row.on.as_ref()),
                row.reason
            );
        }
    }
    for item in build.awaited.iter().filter(|item| item.expected.len() > 1) {
        let mut dates = Vec::new();
        for given in &item.expected {
            let (day, known) = (plain(given.expected_on.as_ref()), plain(given.known_on.as_ref()));
            dates.push(format!("{day} (known {known})"));
        }
        let _ = writeln!(text, "Item {}: expected {}", item.item_number, dates.join(", then "));
    }
    for warning in &build.warnings {
        let _ = writeln!(text, "Line {}: {}", warning.line_number, warning.text);
    }
    let safety = build.lines.iter().filter(|line| line.safety_related);
    let safety: Vec<String> = safety.map(|line| line.line_number.to_string()).collect();
    if !safety.is_empty() {
        let lines = if safety.len() == 1 { "line" } else { "lines" };
        let numbers = safety.join(", ");
        let _ = writeln!(text, "Safety related: {lines} {numbers}. {}", words::SAFETY_RULE);
    }
    if text.is_empty() { text } else { format!("\n{text}") }
}

/// The lines as they are, without shortages once nobody waits for them any more.
fn wanted_lines(build: &v1::Build) -> Vec<v1::BuildLine> {
    let over = [v1::BuildState::Delivered, v1::BuildState::Cancelled];
    let mut lines = build.lines.clone();
    if over.iter().any(|state| build.state == i32::from(*state)) {
        lines.iter_mut().for_each(|line| line.short = None);
    }
    lines
}

fn stages(console: Console, stages: &[v1::Stage]) -> String {
    let mut rows = Rows::new(console, &["stage", "#planned", "state", "begun", "done"]);
    for stage in stages {
        rows.row([
            stage.name.clone(),
            planned(stage),
            words::stage_state(stage.state).to_owned(),
            plain(stage.begun_on.as_ref()),
            plain(stage.done_on.as_ref()),
        ]);
    }
    rows.text_or("No stages.")
}

/// `5 days`, `5 days at BEINN`.
fn planned(stage: &v1::Stage) -> String {
    let days = counted(stage.planned_days.into(), "day", "days");
    match stage.off_site_code.as_str() {
        "" => days,
        firm => format!("{days} at {firm}"),
    }
}

#[cfg(test)]
#[path = "build_tests.rs"]
mod tests;
