//! Builds, their stages and lines.

use super::table::Rows;
use super::text::{counted, plain, quantity, some_number};
use super::words;
use crate::cli::console::Console;
use baystart_core::quantity::Quantity;
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
    let mut rows = Rows::new(console, &columns);
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
    text
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
            counted(stage.planned_days.into(), "day", "days"),
            words::stage_state(stage.state).to_owned(),
            plain(stage.begun_on.as_ref()),
            plain(stage.done_on.as_ref()),
        ]);
    }
    rows.text_or("No stages.")
}

/// How much more was issued than the line requires, if any.
fn over_issued(line: &v1::BuildLine) -> Option<Quantity> {
    let parsed = |decimal: Option<&v1::Decimal>| Quantity::parse(&decimal?.value).ok();
    let over = parsed(line.issued.as_ref())? - parsed(line.required.as_ref())?;
    over.is_positive().then_some(over)
}

/// Lines as a table.
#[must_use]
pub fn lines(console: Console, lines: &[v1::BuildLine]) -> String {
    let columns = [
        "line",
        "stage",
        "part",
        "description",
        "#required",
        "#issued",
        "#reserved",
        "#pegged",
        "#short",
        "note",
    ];
    let mut rows = Rows::new(console, &columns);
    for line in lines {
        let note = if line.exploded {
            "kit, see its components".to_owned()
        } else if let Some(over) = over_issued(line) {
            format!("{over} more than required")
        } else if line.kit_line_number > 0 {
            format!("of kit line {}", line.kit_line_number)
        } else if line.gates {
            String::new()
        } else {
            "holds nothing up".to_owned()
        };
        rows.row([
            line.line_number.to_string(),
            line.stage_name.clone(),
            line.part_number.clone(),
            line.part_description.clone(),
            quantity(line.required.as_ref(), &line.unit_code),
            some_number(line.issued.as_ref()),
            some_number(line.reserved.as_ref()),
            some_number(line.pegged.as_ref()),
            some_number(line.short.as_ref()),
            note,
        ]);
    }
    rows.text_or("No lines.")
}
