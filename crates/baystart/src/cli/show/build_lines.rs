//! A build's lines, each under the kit or the assembly that it belongs to.

use super::table::Rows;
use super::text::{plain, quantity, some_number};
use super::tree::{indented, ordered};
use crate::cli::console::Console;
use baystart_core::quantity::Quantity;
use baystart_proto::v1;
use std::fmt::Write as _;

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

/// How much more was issued than the line requires, if any.
fn over_issued(line: &v1::BuildLine) -> Option<Quantity> {
    let parsed = |decimal: Option<&v1::Decimal>| Quantity::parse(&decimal?.value).ok();
    let over = parsed(line.issued.as_ref())? - parsed(line.required.as_ref())?;
    over.is_positive().then_some(over)
}

/// The line that a line stands under, or 0: its kit, else what is made of it.
fn parent(line: &v1::BuildLine) -> i32 {
    match line.kit_line_number {
        0 => line.made_for_line_number,
        kit => kit,
    }
}

/// What the numbers do not say.
fn note(line: &v1::BuildLine) -> String {
    let mut notes = Vec::new();
    if line.exploded && line.making.is_none() {
        notes.push("kit, see its components".to_owned());
    }
    notes.extend(making(line));
    if let Some(over) = over_issued(line) {
        notes.push(format!("{over} more than required"));
    }
    if line.customer_supplied {
        notes.push("the customer brings it".to_owned());
    }
    if let Some(row) = &line.substituted {
        notes.push(format!("instead of {}", row.instead_of_part_number));
    }
    if line.kit_line_number > 0 {
        notes.push(format!("of kit line {}", line.kit_line_number));
    }
    if notes.is_empty() && !line.gates {
        notes.push("holds nothing up".to_owned());
    }
    notes.join("; ")
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
    let mut rows = Rows::new(console, &columns).sparing(&["issued", "pegged", "reserved", "stage"]);
    for (depth, line) in ordered(lines, |line| (line.line_number, parent(line))) {
        rows.row([
            line.line_number.to_string(),
            line.stage_name.clone(),
            indented(depth, &line.part_number),
            line.part_description.clone(),
            quantity(line.required.as_ref(), &line.unit_code),
            some_number(line.issued.as_ref()),
            some_number(line.reserved.as_ref()),
            some_number(line.pegged.as_ref()),
            some_number(line.short.as_ref()),
            note(line),
        ]);
    }
    rows.text_or("No lines.")
}
