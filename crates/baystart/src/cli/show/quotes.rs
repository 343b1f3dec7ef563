//! Quotes as a salesperson reads them out.

use super::delivery::{bays_decide, decided_by, told};
use super::table::Rows;
use super::text::{day, money, number};
use crate::cli::console::Console;
use baystart_core::text::percent;
use baystart_proto::v1;
use std::fmt::Write as _;

/// Parts that are named as deciding the date.
const DECIDING_MAX: usize = 3;
/// Chance to decide the date from which a part is named.
const DECIDES_WORTH_SAYING: f64 = 0.05;

/// What was asked of all packages.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked {
    /// None: today.
    pub accepted_on: Option<v1::Date>,
    /// None: nobody asked.
    pub wanted_by: Option<v1::Date>,
}

/// One page for all packages: a table to compare, then each in words.
#[must_use]
pub fn text(
    console: Console,
    answers: &[(String, v1::QuoteBuildResponse)],
    asked: Asked,
) -> String {
    let mut text = String::new();
    let as_of = answers.first().and_then(|(_, response)| forecast(response.variants.first()));
    let accepted = match asked.accepted_on {
        Some(on) => format!("accepted on {}", day(Some(&on))),
        None => "accepted today".to_owned(),
    };
    let as_of = as_of.and_then(|forecast| forecast.as_of.as_ref());
    let _ = writeln!(text, "As things stood at the start of {}, {accepted}\n", day(as_of));
    if let Some((_, response)) = answers.first().filter(|(_, r)| !r.supposed.is_empty()) {
        text.push_str(&super::what_if::supposed(&response.supposed));
        text.push('\n');
    }
    text.push_str(&table(console, answers, asked));
    text.push_str(&moved(answers));
    for (name, response) in answers {
        text.push_str(&words(name, response, asked));
    }
    text
}

fn forecast(variant: Option<&v1::QuotedVariant>) -> Option<&v1::BuildForecast> {
    variant?.forecast.as_ref()
}

fn table(console: Console, answers: &[(String, v1::QuoteBuildResponse)], asked: Asked) -> String {
    let mut columns = vec![
        "package",
        "option",
        "start 80 %",
        "ready 50 %",
        "ready 80 %",
        "ready 95 %",
        "#parts cost",
        "decided by",
    ];
    if asked.wanted_by.is_some() {
        columns.push("accept by");
    }
    let mut rows =
        Rows::new(console, &columns).sparing(&["ready 95 %", "ready 50 %", "parts cost"]);
    for (name, response) in answers {
        for variant in &response.variants {
            let delivery = forecast(Some(variant)).and_then(|f| f.delivery.clone());
            let ready = |level: f64| {
                let dates = delivery.as_ref().map_or(&[][..], |delivery| &delivery.dates);
                let at = dates.iter().find(|at| (at.probability - level).abs() < 1e-6);
                day(at.and_then(|at| at.delivered_by.as_ref()))
            };
            let at = delivery.as_ref().and_then(told);
            let cells = [
                name.clone(),
                option(variant),
                day(at.and_then(|at| at.start.as_ref())),
                ready(0.5),
                ready(0.8),
                ready(0.95),
                cost(variant),
                forecast(Some(variant)).map(decided_by).unwrap_or_default(),
            ];
            match asked.wanted_by {
                None => rows.row(cells),
                Some(_) => {
                    let [a, b, c, d, e, f, g, h] = cells;
                    let by = variant.accept_by.as_ref();
                    let by = by.map_or("too late".to_owned(), |by| day(Some(by)));
                    rows.row([a, b, c, d, e, f, g, h, by]);
                }
            }
        }
    }
    rows.text_or("Nothing was quoted.")
}

/// How far what is supposed moves each delivery.
fn moved(answers: &[(String, v1::QuoteBuildResponse)]) -> String {
    let mut text = String::new();
    for (name, response) in answers {
        for variant in &response.variants {
            let Some(as_it_is) = &variant.as_it_is else { continue };
            let ready = day(as_it_is.delivery_on.as_ref());
            let moves = match as_it_is.delivery_days_later {
                Some(0) => "does not move".to_owned(),
                Some(days) => super::what_if::working_days(days),
                None => "no date on a side".to_owned(),
            };
            let _ = writeln!(
                text,
                "{name}, {}: ready at 80 %, as things are {ready}: {moves}",
                option(variant)
            );
        }
    }
    text
}

fn option(variant: &v1::QuotedVariant) -> String {
    match variant.group_name.is_empty() {
        true => "as it is".to_owned(),
        false => format!("{}: {}", variant.group_name, variant.choice_name),
    }
}

fn cost(variant: &v1::QuotedVariant) -> String {
    let mut sums: Vec<String> = variant.parts_cost.iter().map(|sum| money(Some(sum))).collect();
    if !variant.unpriced_part_numbers.is_empty() {
        sums.push("unpriced".to_owned());
    }
    sums.join(" + ")
}

/// What is read out of one package: the first variant whole, of the others what differs.
fn words(name: &str, response: &v1::QuoteBuildResponse, asked: Asked) -> String {
    let Some(base) = response.variants.first() else { return String::new() };
    let Some(own) = &base.forecast else { return String::new() };
    let mut text = format!("\n{name}\n");
    let at = own.delivery.as_ref().and_then(told);
    match (at.and_then(|at| at.start.as_ref()), at.and_then(|at| at.delivered_by.as_ref())) {
        _ if !own.undated.is_empty() => {
            text.push_str("  No date can be named: some of its parts have none.\n");
        }
        (Some(start), Some(ready)) => {
            let _ = writeln!(
                text,
                "  In 8 of 10 cases work starts by {} and the vehicle is ready by {}.",
                day(Some(start)),
                day(Some(ready))
            );
        }
        _ => text.push_str("  In 8 of 10 cases: no date within the horizon.\n"),
    }
    if let Some(wanted) = asked.wanted_by {
        let _ = match base.accept_by {
            Some(by) => writeln!(
                text,
                "  To be ready by {} it must be accepted by {}, if what is free today is free then.",
                day(Some(&wanted)),
                day(Some(&by))
            ),
            None => writeln!(text, "  {} cannot be met in 8 of 10 cases.", day(Some(&wanted))),
        };
    }
    if let Some(bays) = bays_decide(own) {
        let _ = writeln!(text, "  It waits for a bay after its parts are here: {bays}.");
    }
    let deciding = own.sources.iter().filter(|s| s.gating_probability >= DECIDES_WORTH_SAYING);
    for source in deciding.take(DECIDING_MAX) {
        let _ = writeln!(
            text,
            "  {} {}: {}; decides the date in {} of cases",
            source.part_number,
            source.part_description,
            source.waits_for,
            percent(source.gating_probability)
        );
    }
    for line in &own.undated {
        let _ = writeln!(
            text,
            "  No date for {} {}: {}",
            line.part_number, line.part_description, line.reason
        );
    }
    let free: Vec<String> = base
        .free_stock
        .iter()
        .map(|row| format!("{} of {}", number(row.quantity.as_ref()), row.part_number))
        .collect();
    list(&mut text, "Counts on stock that is free today", &free);
    list(&mut text, "The customer brings", &base.customer_part_numbers);
    list(&mut text, "Nobody quotes a price for", &base.unpriced_part_numbers);
    for variant in &response.variants {
        for warning in forecast(Some(variant)).map_or(&[][..], |forecast| &forecast.warnings) {
            let told = forecast(Some(base)).is_some_and(|own| own.warnings.contains(warning));
            if std::ptr::eq(variant, base) || !told {
                let _ = writeln!(text, "  Look at: {}", warning.text);
            }
        }
    }
    text.push_str("  It takes for granted:\n");
    for assumption in &own.assumptions {
        let _ = writeln!(text, "    {assumption}");
    }
    text
}

fn list(text: &mut String, what: &str, items: &[String]) {
    if !items.is_empty() {
        let _ = writeln!(text, "  {what}: {}", items.join(", "));
    }
}
