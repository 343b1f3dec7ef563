//! Can this build start, and what is missing.

use super::table::Rows;
use super::text::{counted, day, some_number};
use super::words;
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The verdict, the stages, the parts that are missing.
#[must_use]
pub fn text(console: Console, readiness: Option<&v1::Readiness>) -> String {
    let Some(ready) = readiness else {
        return "The server told nothing of the build.".to_owned();
    };
    let mut text = format!("Build {} on {}\n", ready.build_number, day(ready.as_of.as_ref()));
    if ready.verdict_text.is_empty() {
        let chance = percent(ready.stall_probability);
        let _ = writeln!(text, "It {}; chance of a stall {chance}.\n", verdict(ready.verdict));
    } else {
        let _ = writeln!(text, "{}\n", ready.verdict_text);
    }
    text.push_str(&stages(console, &ready.stages));
    let missing = missing(console, &ready.stages);
    if let Some(missing) = missing {
        let _ = write!(text, "\nMissing:\n{missing}");
    }
    text
}

fn verdict(verdict: i32) -> &'static str {
    match v1::ReadinessVerdict::try_from(verdict).unwrap_or_default() {
        v1::ReadinessVerdict::Unspecified => "has no verdict",
        v1::ReadinessVerdict::CanStart => "can start",
        v1::ReadinessVerdict::MayStall => "can start, but may stall",
        v1::ReadinessVerdict::CannotStart => "cannot start",
    }
}

fn stages(console: Console, stages: &[v1::StageReadiness]) -> String {
    let mut rows = Rows::new(console, &["stage", "state", "begins", "#lines here"]);
    for stage in stages {
        let waiting = v1::StageState::try_from(stage.state) == Ok(v1::StageState::Waiting);
        let begins = match stage.offset_days {
            _ if !waiting => String::new(),
            0 => "today".to_owned(),
            days => format!("in {}", counted(days.into(), "working day", "working days")),
        };
        rows.row([
            stage.stage_name.clone(),
            words::stage_state(stage.state).to_owned(),
            begins,
            format!("{} of {}", stage.lines_here, stage.lines_total),
        ]);
    }
    rows.text_or("No stages.")
}

fn missing(console: Console, stages: &[v1::StageReadiness]) -> Option<String> {
    let columns = [
        "stage",
        "line",
        "part",
        "description",
        "#quantity",
        "waits for",
        "expected",
        "80 % by",
        "needed on",
    ];
    let mut rows =
        Rows::new(console, &columns).sparing(&["needed on", "expected", "quantity", "description"]);
    let mut any = false;
    for stage in stages {
        for part in &stage.missing {
            any = true;
            rows.row([
                stage.stage_name.clone(),
                // The vehicle and papers are no lines.
                if part.line_number > 0 { part.line_number.to_string() } else { String::new() },
                part.part_number.clone(),
                part.part_description.clone(),
                some_number(part.quantity.as_ref()),
                part.waits_for.clone(),
                day(part.expected_on.as_ref()),
                day(part.likely_by.as_ref()),
                day(part.needed_on.as_ref()),
            ]);
        }
    }
    any.then(|| rows.text_or(""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_build_that_may_stall() {
        let date = |day| Some(v1::Date { year: 2026, month: 10, day });
        let missing = v1::MissingPart {
            line_number: 7,
            part_number: "WIN-20".into(),
            part_description: "Winch".into(),
            quantity: Some(v1::Decimal { value: "1.000".into() }),
            waits_for: "order P-2007 line 3".into(),
            expected_on: date(8),
            likely_by: None,
            needed_on: date(7),
        };
        let stage = |name: &str, offset_days, missing: Vec<_>| v1::StageReadiness {
            stage_name: name.into(),
            state: v1::StageState::Waiting.into(),
            offset_days,
            lines_here: 3,
            lines_total: 3 + i32::try_from(missing.len()).unwrap_or_default(),
            missing,
        };
        let mut ready = v1::Readiness {
            build_number: "B-1042".into(),
            as_of: date(5),
            verdict: v1::ReadinessVerdict::MayStall.into(),
            verdict_text: "It may stall on WIN-20.".into(),
            stall_probability: 0.234,
            stages: vec![stage("Strip", 0, vec![]), stage("Front", 2, vec![missing])],
            builds_in_the_bays: Vec::new(),
        };
        let expected = "\
Build B-1042 on Mon 2026-10-05
It may stall on WIN-20.

stage  state    begins             lines here
---------------------------------------------
Strip  waiting  today                  3 of 3
Front  waiting  in 2 working days      3 of 4

Missing:
stage  line  part    description  quantity  waits for            expected        80 % by  needed on
--------------------------------------------------------------------------------------------------------
Front  7     WIN-20  Winch               1  order P-2007 line 3  Thu 2026-10-08  no date  Wed 2026-10-07
";
        assert_eq!(text(Console::default(), Some(&ready)), expected);
        ready.verdict_text.clear();
        let shown = text(Console::default(), Some(&ready));
        assert!(
            shown.contains("\nIt can start, but may stall; chance of a stall 23 %.\n"),
            "{shown}"
        );
    }
}
