//! Order suggestions, by supplier, dates first.

use super::table::Rows;
use super::text::{counted, day, level, money, quantity, quoted};
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Everything to order, and the command that comes next; `only`: the supplier asked for, or empty.
#[must_use]
pub fn text(console: Console, found: &v1::SuggestOrdersResponse, only: &str) -> String {
    let mut text = String::new();
    if found.suppliers.is_empty() {
        text.push_str("Nothing is to be ordered.\n");
    } else {
        let _ = writeln!(
            text,
            "To have all that a build waits for in time with a chance of {}; the next ordering day is {}.",
            level(found.confidence),
            day(found.next_ordering_day.as_ref())
        );
    }
    for supplier in &found.suppliers {
        text.push('\n');
        text.push_str(&one(console, supplier));
    }
    text.push_str(&not_ordered(console, &found.not_ordered));
    text.push_str(&next(found, only));
    text
}

fn one(console: Console, supplier: &v1::SupplierSuggestion) -> String {
    let mut text = format!("{}  {}\n", supplier.supplier_code, supplier.supplier_name);
    let columns =
        ["order by", "part", "description", "#order", "terms", "#amount", "for", "needed", "note"];
    let mut rows = Rows::new(console, &columns).sparing(&["terms", "amount", "needed"]);
    for line in &supplier.lines {
        let timing = line.timing.unwrap_or_default();
        rows.row([
            day(timing.order_by.as_ref()),
            line.part_number.clone(),
            line.part_description.clone(),
            quantity(line.quantity.as_ref(), &line.unit_code),
            terms(line),
            money(line.amount.as_ref()),
            uses(line),
            match needed(line) {
                _ if line.stock.is_some() => String::new(),
                None if !without_date(line).is_empty() => "not booked".to_owned(),
                needed => day(needed),
            },
            note(line, &timing),
        ]);
    }
    text.push_str(&rows.text_or(""));
    for sum in &supplier.sums {
        let _ = writeln!(text, "sum {}", money(Some(sum)));
    }
    if supplier.lines_without_price > 0 {
        let lines = counted(supplier.lines_without_price.into(), "line", "lines");
        let _ = writeln!(text, "{lines} without a price");
    }
    text
}

/// The earliest day on which a build needs it.
fn needed(line: &v1::SuggestedOrderLine) -> Option<&v1::Date> {
    let days = line.uses.iter().filter_map(|use_| use_.timing.as_ref()?.needed_on.as_ref());
    days.min_by_key(|day| (day.year, day.month, day.day))
}

/// The builds that have no day to order by, since they are not booked, each once.
fn without_date(line: &v1::SuggestedOrderLine) -> String {
    let basis = |use_: &v1::SuggestedUse| use_.timing.unwrap_or_default().basis();
    let uses = line.uses.iter().filter(|use_| basis(use_) == v1::TimingBasis::NoDate);
    let mut builds: Vec<&str> = uses.map(|use_| use_.build_number.as_str()).collect();
    builds.dedup();
    builds.join(", ")
}

fn terms(line: &v1::SuggestedOrderLine) -> String {
    let mut terms = Vec::new();
    if let Some(pack) = &line.pack_size {
        terms.push(format!("packs of {}", quantity(Some(pack), &line.unit_code)));
    }
    if let Some(least) = &line.minimum_quantity {
        terms.push(format!("at least {}", quantity(Some(least), &line.unit_code)));
    }
    terms.join(", ")
}

fn uses(line: &v1::SuggestedOrderLine) -> String {
    let one = |use_: &v1::SuggestedUse| {
        let amount = quantity(use_.quantity.as_ref(), &line.unit_code);
        format!("{amount} {} line {}", use_.build_number, use_.line_number)
    };
    if let Some(stock) = &line.stock {
        let amount = |of: Option<&v1::Decimal>| quantity(of, &line.unit_code);
        return format!(
            "stock: {} here, {} coming, ordered below {}",
            amount(stock.on_hand.as_ref()),
            amount(stock.on_order.as_ref()),
            amount(stock.reorder_at.as_ref())
        );
    }
    line.uses.iter().map(one).collect::<Vec<_>>().join("; ")
}

fn note(line: &v1::SuggestedOrderLine, timing: &v1::OrderTiming) -> String {
    let mut said = Vec::new();
    if timing.late {
        let by = match timing.late_working_days {
            Some(days) => {
                format!("late by {}", counted(days.into(), "working day", "working days"))
            }
            None => "late, no date".to_owned(),
        };
        said.push(format!("{by}, {} in time", percent(timing.chance_in_time.unwrap_or(0.0))));
    }
    said.extend(line.stock.as_ref().map(|stock| stock.basis.clone()));
    let builds = without_date(line);
    if !builds.is_empty() {
        said.push(format!("{builds}: not booked"));
    }
    if timing.basis() == v1::TimingBasis::NoLeadTime {
        said.push("no lead time known".to_owned());
    }
    if !line.draft_order_number.is_empty() {
        said.push(format!("draft {} line {}", line.draft_order_number, line.draft_line_number));
    }
    if !line.superseded_by.is_empty() {
        said.push(format!("superseded by {}", line.superseded_by));
    }
    said.join("; ")
}

fn not_ordered(console: Console, lines: &[v1::NotOrdered]) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let mut rows = Rows::new(console, &["part", "description", "#short", "for", "why"]);
    for line in lines {
        let uses: Vec<_> = line
            .uses
            .iter()
            .map(|u| format!("{} line {}", u.build_number, u.line_number))
            .collect();
        let why = match line.reason() {
            v1::NotOrderedReason::Made => "made of its components",
            _ => "no supplier offers it",
        };
        rows.row([
            line.part_number.clone(),
            line.part_description.clone(),
            quantity(line.quantity.as_ref(), &line.unit_code),
            uses.join("; "),
            why.to_owned(),
        ]);
    }
    format!("\nShort, and ordered from nobody\n{}", rows.text_or(""))
}

/// Draft what is not drafted; else place the first draft; else find a supplier.
fn next(found: &v1::SuggestOrdersResponse, only: &str) -> String {
    let mut lines = found.suppliers.iter().flat_map(|supplier| &supplier.lines);
    if lines.clone().any(|line| line.draft_order_number.is_empty()) {
        let only =
            if only.is_empty() { String::new() } else { format!(" --supplier {}", quoted(only)) };
        return format!("next: baystart suggest{only} --draft\n");
    }
    if let Some(line) = lines.next() {
        return format!("next: baystart order place {}\n", quoted(&line.draft_order_number));
    }
    let mut bare = found.not_ordered.iter();
    match bare.find(|line| line.reason() == v1::NotOrderedReason::NoOffer) {
        Some(line) => {
            format!(
                "next: baystart offer set SUPPLIER {} --lead-days DAYS\n",
                quoted(&line.part_number)
            )
        }
        None => String::new(),
    }
}
