//! Parts: what there is to fit, and how it comes to be.

use super::catalogue::{part_number, supplier_code};
use super::table::Rows;
use super::text::{counted, number, unit};
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// How its components become it, in words.
fn made(part: &v1::Part) -> String {
    match &part.made {
        None => String::new(),
        Some(v1::part::Made::MadeInShop(shop)) => {
            let days = counted(shop.working_days.into(), "working day", "working days");
            format!("in the shop, in {days}")
        }
        Some(v1::part::Made::FinishedOutside(outside)) => {
            let code = supplier_code(outside.supplier.as_ref());
            match outside.quoted_lead_time_days {
                Some(days) => {
                    format!("finished by {code}, {} quoted", counted(days.into(), "day", "days"))
                }
                None => format!("finished by {code}"),
            }
        }
    }
}

fn companions(part: &v1::Part) -> String {
    let numbers: Vec<_> = part.companions.iter().map(|part| part_number(Some(part))).collect();
    numbers.join(", ")
}

/// What is special about a part, in words.
fn marks(part: &v1::Part) -> String {
    let mut marks = Vec::new();
    for (holds, mark) in [
        (!part.components.is_empty() && part.made.is_none(), "kit"),
        (part.made.is_some(), "made"),
        (part.made_to_order, "made to order"),
        (part.superseded_by.is_some(), "replaced"),
        (part.consumable, "consumable"),
        (part.safety_related, "safety related"),
        (part.lot_tracked, "lot tracked"),
    ] {
        if holds {
            marks.push(mark);
        }
    }
    marks.join(", ")
}

/// Parts as a table.
#[must_use]
pub fn list(console: Console, parts: &[v1::Part]) -> String {
    let mut rows = Rows::new(console, &["part", "description", "unit", "marks"]);
    for part in parts {
        rows.row([
            part.number.clone(),
            part.description.clone(),
            unit(&part.unit_code).to_owned(),
            marks(part),
        ]);
    }
    rows.text_or("No such parts.")
}

/// One part in full.
#[must_use]
pub fn part(console: Console, part: Option<&v1::Part>) -> String {
    let Some(part) = part else {
        return "The server told nothing of the part.".to_owned();
    };
    let mut text = format!("{}  {}\n", part.number, part.description);
    let unit = format!("{} ({})", unit(&part.unit_code), part.unit_code);
    for (name, value) in [
        ("unit", unit),
        ("marks", marks(part)),
        ("made", made(part)),
        ("family", part.family.clone()),
        ("finish", part.finish.clone()),
        ("replaced by", part_number(part.superseded_by.as_ref())),
        ("calls for", companions(part)),
        ("GTIN", part.gtin.clone()),
        ("handling", part.handling_note.clone()),
    ] {
        if !value.is_empty() {
            let _ = writeln!(text, "{name:<11} {value}");
        }
    }
    if !part.components.is_empty() {
        let mut rows = Rows::new(console, &["component", "#quantity"]);
        for component in &part.components {
            rows.row([part_number(component.part.as_ref()), number(component.quantity.as_ref())]);
        }
        text.push('\n');
        text.push_str(&rows.text_or(""));
    }
    text
}
