//! Calls to suppliers: one a supplier, the most worth first.

use super::table::Rows;
use super::text::{day, number, quoted};
use crate::cli::console::Console;
use baystart_proto::v1;
use std::fmt::Write as _;

/// The lines by supplier, suppliers by what their call is worth.
#[must_use]
pub fn text(console: Console, chases: &[v1::Chase]) -> String {
    let mut suppliers: Vec<(&str, f64, Vec<&v1::Chase>)> = Vec::new();
    for chase in chases {
        let code = chase.supplier_code.as_str();
        match suppliers.iter_mut().find(|(its, ..)| *its == code) {
            Some((_, worth, lines)) => {
                *worth += chase.worth;
                lines.push(chase);
            }
            None => suppliers.push((code, chase.worth, vec![chase])),
        }
    }
    // Stable: of equal calls the one with the longest overdue line stays first.
    suppliers.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut text = String::new();
    for (code, _, lines) in &suppliers {
        let _ = writeln!(text, "{code}");
        text.push_str(&table(console, lines));
        text.push('\n');
    }
    let Some((_, _, lines)) = suppliers.first() else {
        return "Nobody needs a call today.\n".to_owned();
    };
    if let Some(first) = lines.first() {
        let (order, line) = (quoted(&first.order_number), first.order_line_number);
        let _ = writeln!(
            text,
            "What they say: baystart order answer {order} --promise {line}=DATE, or baystart order asked {order} {line} --note WORDS"
        );
    }
    text
}

fn table(console: Console, lines: &[&v1::Chase]) -> String {
    let columns = [
        "order",
        "#line",
        "their number",
        "part",
        "description",
        "#open",
        "promised",
        "last heard",
        "why",
    ];
    let mut rows = Rows::new(console, &columns).sparing(&["their number", "last heard", "open"]);
    for line in lines {
        rows.row([
            line.order_number.clone(),
            line.order_line_number.to_string(),
            line.supplier_reference.clone(),
            line.part_number.clone(),
            line.part_description.clone(),
            number(line.quantity.as_ref()),
            day(line.promised_on.as_ref()),
            day(line.last_contact_on.as_ref()),
            line.reason.clone(),
        ]);
    }
    rows.text_or("")
}
