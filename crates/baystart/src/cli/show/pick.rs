//! Pick lists, to be printed and ticked.

use super::table::Rows;
use super::text::{plain, quantity};
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// What is to be fetched for a build, stage by stage and bin by bin.
#[must_use]
pub fn list(console: Console, list: &v1::GetPickListResponse, build: &v1::Build) -> String {
    let mut text = format!("Pick list of build {}", list.build_number);
    if !build.vehicle.is_empty() {
        let _ = write!(text, "  {}", build.vehicle);
    }
    text.push('\n');
    match list.staging_bin_code.as_str() {
        "" => text.push_str("No staging bin yet: set one with build change --staging-bin.\n"),
        code => {
            let _ = writeln!(text, "goes to bin {code}");
        }
    }
    if list.lines.is_empty() {
        text.push_str("\nNothing is left to pick: what is reserved lies in its staging bin.\n");
        return text;
    }
    let mut stages: Vec<&str> = Vec::new();
    for line in &list.lines {
        if !stages.contains(&line.stage_name.as_str()) {
            stages.push(&line.stage_name);
        }
    }
    for stage in stages {
        let _ = writeln!(text, "\nStage {stage}");
        text.push_str(&of_stage(console, list, stage));
    }
    text.push_str(&cautions(list, build));
    text
}

fn of_stage(console: Console, list: &v1::GetPickListResponse, stage: &str) -> String {
    let columns = ["picked", "bin", "part", "description", "#quantity", "lot", "line"];
    let mut rows = Rows::new(console, &columns);
    let mut lines: Vec<_> = list.lines.iter().filter(|line| line.stage_name == stage).collect();
    lines.sort_by(|a, b| (&a.bin_code, a.line_number).cmp(&(&b.bin_code, b.line_number)));
    for line in lines {
        rows.row([
            "[ ]".to_owned(),
            line.bin_code.clone(),
            line.part_number.clone(),
            line.part_description.clone(),
            quantity(line.quantity.as_ref(), &line.unit_code),
            lot(line),
            line.line_number.to_string(),
        ]);
    }
    rows.text_or("Nothing.")
}

fn lot(line: &v1::PickLine) -> String {
    match (&line.lot, &line.expires_on) {
        (lot, Some(day)) => format!("{lot}, best before {}", plain(Some(day))),
        (lot, None) => lot.clone(),
    }
}

/// Handling notes, and which parts are safety related.
fn cautions(list: &v1::GetPickListResponse, build: &v1::Build) -> String {
    let mut text = String::new();
    let mut told: Vec<&str> = Vec::new();
    for line in &list.lines {
        if !line.handling_note.is_empty() && !told.contains(&line.part_number.as_str()) {
            told.push(&line.part_number);
            let _ = writeln!(text, "Caution, {}: {}", line.part_number, line.handling_note);
        }
    }
    let listed = |number| list.lines.iter().any(|line| line.line_number == number);
    let safety = build.lines.iter().filter(|line| line.safety_related && listed(line.line_number));
    let mut parts: Vec<&str> = safety.map(|line| line.part_number.as_str()).collect();
    parts.dedup();
    if !parts.is_empty() {
        let _ = writeln!(
            text,
            "Safety related: {}. Fitment follows the local code and a licensed engineer or certifier.",
            parts.join(", ")
        );
    }
    if text.is_empty() { text } else { format!("\n{text}") }
}
