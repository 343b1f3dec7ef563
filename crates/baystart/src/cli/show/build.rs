//! Builds, their stages and lines.

use super::table::Rows;
use super::text::{NO_DATE, counted, plain, quantity, some_number};
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
    let mut rows = Rows::new(console, &columns);
    for item in items {
        let expected = match item.expected.last() {
            Some(last) => plain(last.expected_on.as_ref()),
            None => match item.usual_days {
                Some(days) => format!("{} usual", counted(days.into(), "day", "days")),
                None => NO_DATE.to_owned(),
            },
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

/// Accepted alternatives, warnings, and the caution of safety-related parts.
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
    for warning in &build.warnings {
        let _ = writeln!(text, "Line {}: {}", warning.line_number, warning.text);
    }
    if build.lines.iter().any(|line| line.safety_related) {
        text.push_str(
            "Safety-related parts are among these: fitment, mass and approval follow the local \
             codes and a licensed engineer or certifier.\n",
        );
    }
    if text.is_empty() { text } else { format!("\n{text}") }
}

/// What a line that is made, or used up in making, has to say.
fn making(line: &v1::BuildLine) -> Option<String> {
    if line.made_for_line_number > 0 && line.making.is_none() {
        return Some(format!("for line {}", line.made_for_line_number));
    }
    let making = line.making.as_ref()?;
    let parsed = |decimal: Option<&v1::Decimal>| {
        decimal.and_then(|d| Quantity::parse(&d.value).ok()).unwrap_or_default()
    };
    let (all, done) = (parsed(making.quantity.as_ref()), parsed(making.done.as_ref()));
    let out = parsed(making.out.as_ref());
    let mut note = making.way.clone();
    if done >= all {
        note.push_str(": done");
    } else if out.is_positive() {
        let _ = write!(note, ": {out} there since {}", plain(making.sent_on.as_ref()));
        if making.promised_back_on.is_some() {
            let _ = write!(note, ", promised back {}", plain(making.promised_back_on.as_ref()));
        }
    } else {
        let _ = write!(note, ": {} to do", (all - done).or_zero());
    }
    if line.made_for_line_number > 0 {
        let _ = write!(note, "; for line {}", line.made_for_line_number);
    }
    Some(note)
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
        let note = if line.exploded && line.making.is_none() {
            "kit, see its components".to_owned()
        } else if let Some(note) = making(line) {
            note
        } else if line.customer_supplied {
            "the customer brings it".to_owned()
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
