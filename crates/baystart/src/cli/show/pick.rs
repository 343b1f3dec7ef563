//! Pick lists, to be printed and ticked.

use super::table::Rows;
use super::text::{plain, quantity, quoted};
use super::words;
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
        "" => {
            let number = quoted(&list.build_number);
            let _ = writeln!(
                text,
                "No staging bin yet: baystart build change {number} --staging-bin BIN"
            );
        }
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
    if !list.staging_bin_code.is_empty() {
        let number = quoted(&list.build_number);
        let _ = writeln!(
            text,
            "\nWhen all is picked: baystart pick {number} --all, with --missing LINE=QTY@BIN for what \
             was not there."
        );
    }
    text
}

fn of_stage(console: Console, list: &v1::GetPickListResponse, stage: &str) -> String {
    let columns = ["picked", "bin", "part", "description", "#quantity", "lot", "line"];
    let mut rows = Rows::new(console, &columns).sparing(&["lot", "line"]);
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
        let parts = parts.join(", ");
        let _ = writeln!(text, "Safety related: {parts}. {}", words::SAFETY_RULE);
    }
    if text.is_empty() { text } else { format!("\n{text}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stage_by_stage_and_bin_by_bin() {
        let line = |line_number, stage: &str, bin: &str, part: &str| v1::PickLine {
            line_number,
            stage_name: stage.into(),
            part_number: part.into(),
            part_description: "Part".into(),
            unit_code: "C62".into(),
            bin_code: bin.into(),
            quantity: Some(v1::Decimal { value: "2".into() }),
            ..v1::PickLine::default()
        };
        let battery = v1::PickLine {
            lot: "L1".into(),
            expires_on: Some(v1::Date { year: 2027, month: 3, day: 1 }),
            handling_note: "lithium battery, UN 3480".into(),
            ..line(4, "Electrical", "A2", "LB-1")
        };
        let mut asked = v1::GetPickListResponse {
            build_number: "B-1042".into(),
            staging_bin_code: "S-3".into(),
            lines: vec![
                battery,
                line(5, "Electrical", "A1", "FB-2"),
                line(9, "Trim", "C1", "ST-1"),
            ],
            revision: 7,
        };
        let seat = v1::BuildLine {
            line_number: 9,
            part_number: "ST-1".into(),
            safety_related: true,
            ..Default::default()
        };
        let build =
            v1::Build { vehicle: "Rescue carrier".into(), lines: vec![seat], ..Default::default() };
        let expected = "\
Pick list of build B-1042  Rescue carrier
goes to bin S-3

Stage Electrical
picked  bin  part  description  quantity  lot                         line
--------------------------------------------------------------------------
[ ]     A1   FB-2  Part            2 pcs                              5
[ ]     A2   LB-1  Part            2 pcs  L1, best before 2027-03-01  4

Stage Trim
picked  bin  part  description  quantity  lot  line
---------------------------------------------------
[ ]     C1   ST-1  Part            2 pcs       9

Caution, LB-1: lithium battery, UN 3480
Safety related: ST-1. Fitment, mass and approval follow the local codes and a licensed engineer or \
certifier; Baystart decides dates, not fitness.

When all is picked: baystart pick B-1042 --all, with --missing LINE=QTY@BIN for what was not there.
";
        assert_eq!(list(Console::default(), &asked, &build), expected);
        asked.lines.clear();
        asked.staging_bin_code.clear();
        let shown = list(Console::default(), &asked, &build);
        assert!(shown.contains("build change B-1042 --staging-bin BIN\n\nNothing is left to pick"));
    }
}
