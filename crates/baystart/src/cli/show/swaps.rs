//! Late builds, and the loans that would bring them in time.

use super::table::Rows;
use super::text::{day, number, quoted};
use crate::cli::console::Console;
use baystart_proto::v1;
use baystart_proto::v1::LateAgainst;
use std::fmt::Write as _;

/// The late builds, then each proposal with its commands.
#[must_use]
pub fn text(console: Console, found: &v1::ProposeSwapsResponse) -> String {
    if found.late.is_empty() {
        return "No build is late at 80 %.\n".to_owned();
    }
    let mut text = String::from("Late at 80 %:\n");
    let columns = ["build", "#priority", "against", "due", "80 %", "#days late"];
    let mut rows = Rows::new(console, &columns);
    for late in &found.late {
        rows.row([
            late.build_number.clone(),
            late.priority.to_string(),
            against(late).to_owned(),
            day(late.due_on.as_ref()),
            day(late.date.as_ref()),
            days_late(late),
        ]);
    }
    text.push_str(&rows.text_or(""));
    for late in found.late.iter().filter(|late| !late.undated_parts.is_empty()) {
        let parts = late.undated_parts.join(", ");
        let _ = writeln!(text, "{}: without {parts}, which nobody dates.", late.build_number);
    }
    if found.proposals.is_empty() {
        text.push_str("\nNo loan between builds would help without harm to another.\n");
        return text;
    }
    for (at, proposal) in found.proposals.iter().enumerate() {
        let days = match proposal.days_gained {
            1 => "1 working day of lateness".to_owned(),
            days => format!("{days} working days of lateness"),
        };
        let _ = writeln!(text, "\nProposal {} saves {days}", at + 1);
        text.push_str(&sides(console, &proposal.sides));
        for loan in &proposal.loans {
            let (from, to) = (quoted(&loan.from_build_number), quoted(&loan.to_build_number));
            let (given, taken) = (loan.from_line_number, loan.to_line_number);
            let quantity = number(loan.quantity.as_ref());
            let _ = writeln!(text, "  {} ({})", loan.part_number, loan.part_description);
            let _ = writeln!(
                text,
                "  baystart lend {from} {given} {to} {taken} --quantity {quantity} --reason WORDS"
            );
        }
        if proposal.loans.len() > 1 {
            text.push_str("  Only all of them together do this.\n");
        }
    }
    text.push_str(
        "\nstart: at 80 %; days: working days later (+) or sooner (-). Once one is done, the others must be looked at again.\n",
    );
    text
}

fn sides(console: Console, sides: &[v1::SwapSide]) -> String {
    let columns = ["  build", "start now", "start then", "#days", "late now", "late then"];
    let mut rows = Rows::new(console, &columns);
    for side in sides {
        let (Some(before), Some(after)) = (&side.before, &side.after) else { continue };
        rows.row([
            format!("  {}", before.build_number),
            day(before.start_on.as_ref()),
            day(after.start_on.as_ref()),
            side.days_later.map_or(String::new(), |days| format!("{days:+}")),
            standing(before),
            standing(after),
        ]);
    }
    rows.text_or("")
}

fn against(late: &v1::Lateness) -> &'static str {
    match late.against() {
        LateAgainst::PlannedStart => "planned start",
        LateAgainst::Promise => "promised delivery",
        LateAgainst::RequiredBy => "required delivery",
        LateAgainst::Bay => "waits in a bay",
        LateAgainst::Unspecified => "no due day",
    }
}

fn days_late(late: &v1::Lateness) -> String {
    match (late.days, late.date.is_some()) {
        (Some(_), false) => "no date".to_owned(),
        (days, _) => days.map_or(String::new(), |days| days.to_string()),
    }
}

/// `4 days late`, `in time, 12 to spare`.
fn standing(late: &v1::Lateness) -> String {
    match (late.days, late.date.is_some()) {
        (None, _) => "no due day".to_owned(),
        (Some(_), false) => "no date".to_owned(),
        (Some(0), _) => "in time".to_owned(),
        (Some(1), _) => "1 day late".to_owned(),
        (Some(days), _) if days > 0 => format!("{days} days late"),
        (Some(days), _) => format!("in time, {} to spare", -days),
    }
}
