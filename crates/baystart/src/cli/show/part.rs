//! Parts: what there is to fit, and how it comes to be.

use super::catalogue::{part_number, supplier_code};
use super::table::Rows;
use super::text::{counted, number, unit};
use super::words;
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

/// How it is kept in stock, in words.
fn stocked(part: &v1::Part) -> String {
    let Some(policy) = &part.stocked else { return String::new() };
    let days = counted(policy.cover_days.into(), "working day", "working days");
    let level = format!("{:.1}", policy.service_level * 100.0);
    let level = level.trim_end_matches(".0");
    let least = match policy.least.as_ref().map(|least| least.value.as_str()) {
        None | Some("0" | "0.000") => String::new(),
        Some(_) => format!(", at least {}", number(policy.least.as_ref())),
    };
    format!("enough in {level} % of lead times{least}; an order brings {days} of use")
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
        (part.stocked.is_some(), "kept in stock"),
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

/// Parts as a table; families and finishes only where some part has one.
#[must_use]
pub fn list(console: Console, parts: &[v1::Part]) -> String {
    let families = parts.iter().any(|part| !part.family.is_empty() || !part.finish.is_empty());
    let mut columns = vec!["part", "description", "unit", "marks"];
    if families {
        columns.extend(["family", "finish"]);
    }
    let mut rows = Rows::new(console, &columns).sparing(&["family", "finish"]);
    for part in parts {
        let (a, b) = (part.number.clone(), part.description.clone());
        let (c, d) = (unit(&part.unit_code).to_owned(), marks(part));
        match families {
            true => rows.row([a, b, c, d, part.family.clone(), part.finish.clone()]),
            false => rows.row([a, b, c, d]),
        }
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
        ("stock", stocked(part)),
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
    if part.safety_related {
        let _ = writeln!(text, "\nSafety related. {}", words::SAFETY_RULE);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(number: &str) -> v1::PartRef {
        v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) }
    }

    fn bumper() -> v1::Part {
        let raw = v1::KitComponent {
            part: Some(named("BK-7")),
            quantity: Some(v1::Decimal { value: "1.000".into() }),
        };
        let code = v1::supplier_ref::Ref::Code("BEINN".into());
        let finished = v1::FinishedOutside {
            supplier: Some(v1::SupplierRef { r#ref: Some(code) }),
            quoted_lead_time_days: Some(12),
        };
        v1::Part {
            number: "BK-7-RED".into(),
            description: "Front bumper".into(),
            unit_code: "C62".into(),
            components: vec![raw],
            made: Some(v1::part::Made::FinishedOutside(finished)),
            family: "BK-7".into(),
            finish: "signal red".into(),
            made_to_order: true,
            superseded_by: Some(named("BK-8-RED")),
            companions: vec![named("TP-1"), named("TP-2")],
            safety_related: true,
            ..v1::Part::default()
        }
    }

    #[test]
    fn a_finished_part_explains_itself() {
        let expected = "\
BK-7-RED  Front bumper
unit        pcs (C62)
marks       made, made to order, replaced, safety related
made        finished by BEINN, 12 days quoted
family      BK-7
finish      signal red
replaced by BK-8-RED
calls for   TP-1, TP-2

component  quantity
-------------------
BK-7              1

Safety related. Fitment, mass and approval follow the local codes and a licensed engineer or \
certifier; Baystart decides dates, not fitness.
";
        assert_eq!(part(Console::default(), Some(&bumper())), expected);
    }

    #[test]
    fn a_list_shows_families_where_there_are_some() {
        let shown = list(Console::default(), &[bumper()]);
        assert!(shown.contains("  family  finish\n") && shown.contains("  BK-7    signal red\n"));
        let plain = v1::Part { number: "A".into(), ..v1::Part::default() };
        assert!(!list(Console::default(), &[plain]).contains("family"));
        let loom = v1::Part {
            made: Some(v1::part::Made::MadeInShop(v1::MadeInShop { working_days: 1 })),
            ..bumper()
        };
        let shown = part(Console::default(), Some(&loom));
        assert!(shown.contains("made        in the shop, in 1 working day\n"), "{shown}");
    }
}
