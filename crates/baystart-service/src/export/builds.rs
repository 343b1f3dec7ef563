//! Builds as they stand, with stages, lines, awaited things and what lines hold.

use super::Source;
use super::catalogue::{made, part, supplier};
use super::sheet::{Cell, Sheet, Unwritable, earlier_and_last, flag, from_one, maybe, pairs, some};
use crate::import::Kind;
use baystart_core::book::Book;
use baystart_core::book::model::{AwaitedKind, Build, Line, StockKey};
use baystart_core::quantity::Quantity;
use std::collections::BTreeMap;

fn sorted<'a>(source: &Source<'a>) -> Vec<&'a Build> {
    let mut rows: Vec<_> =
        source.book.builds.values().filter(|build| source.has(build.id)).collect();
    rows.sort_by_key(|build| build.number.normal());
    rows
}

pub(super) fn builds(source: &Source<'_>) -> Result<Sheet, Unwritable> {
    let mut sheet = super::sheet(Kind::Builds)?;
    for row in sorted(source) {
        let bin = row.staging_bin.map_or("", |bin| source.book.bin_code(bin));
        sheet.row(&[
            ("build", row.number.written().to_owned()),
            ("vehicle", row.vehicle.clone()),
            ("customer", row.customer.clone()),
            ("priority", row.priority.to_string()),
            ("planned_start", maybe(row.planned_start)),
            ("required_by", maybe(row.required_by)),
            ("state", row.state.text().to_owned()),
            ("note", row.note.clone()),
            ("for_stock", flag(row.for_stock)),
            ("staging_bin", bin.to_owned()),
            ("held_from", maybe(row.held_from.map(|state| state.text()))),
            ("opened_at", maybe(row.opened_at)),
            ("promised", promised(row)),
            ("delivered_on", maybe(row.delivered_on)),
        ])?;
    }
    Ok(sheet)
}

/// `2026-10-30@2026-09-14=0.83 ...`: the day, when it was given, and the chance as it was stated.
fn promised(build: &Build) -> String {
    let mut text = String::new();
    for promise in &build.customer_promises {
        let space = if text.is_empty() { "" } else { " " };
        text.push_str(&format!("{space}{}@{}", promise.delivery_on, promise.made_on));
        if let Some(chance) = promise.stated_chance {
            text.push_str(&format!("={chance}"));
        }
    }
    text
}

pub(super) fn stages(source: &Source<'_>) -> Result<Sheet, Unwritable> {
    let book = source.book;
    let mut sheet = super::sheet(Kind::Stages)?;
    for build in sorted(source) {
        for row in book.stages_of(build.id) {
            sheet.row(&[
                ("build", build.number.written().to_owned()),
                ("stage", row.name.written().to_owned()),
                ("planned_days", row.planned_days.to_string()),
                ("begun_on", maybe(row.begun_on)),
                ("done_on", maybe(row.done_on)),
                ("off_site", row.off_site.map_or_else(String::new, |firm| supplier(book, firm))),
            ])?;
        }
    }
    Ok(sheet)
}

pub(super) fn lines(source: &Source<'_>) -> Result<Sheet, Unwritable> {
    let book = source.book;
    let mut sheet = super::sheet(Kind::BuildLines)?;
    for build in sorted(source) {
        let rows = source.lines_of(build.id);
        let mut at_finishers = BTreeMap::new();
        for row in rows {
            at_finisher(book, row, &mut at_finishers);
        }
        for row in rows {
            sheet.row(&line(book, build, row, &at_finishers))?;
        }
    }
    Ok(sheet)
}

fn line(
    book: &Book,
    build: &Build,
    row: &Line,
    at_finishers: &BTreeMap<i32, Vec<String>>,
) -> Vec<Cell> {
    let stage = book.stages.get(&row.stage).map_or("", |stage| stage.name.written());
    let mut cells = vec![
        ("build", build.number.written().to_owned()),
        ("stage", stage.to_owned()),
        ("part", part(book, row.part)),
        ("quantity", row.required.to_string()),
        ("issued", some(row.issued)),
        ("customer_supplied", flag(row.customer_supplied)),
        ("line", row.number.to_string()),
        ("kit_line", from_one(row.kit_line)),
        ("made_for", from_one(row.made_for)),
        ("exploded", flag(row.exploded)),
    ];
    if let Some(making) = &row.making {
        let promises = making.promises.iter().map(|p| (p.promised_on, p.known_on));
        cells.extend([
            ("making_quantity", making.quantity.to_string()),
            ("making_done", some(making.done)),
            ("making_out", some(making.out)),
            ("sent_on", maybe(making.sent_on)),
            ("back_on", maybe(making.back_on)),
            ("promised_back", pairs(promises)),
        ]);
        cells.extend(made(book, making.how));
    }
    if let Some(out) = at_finishers.get(&row.number) {
        cells.push(("at_finisher", out.join("|")));
    }
    if let Some(substituted) = &row.substituted {
        cells.extend([
            ("instead_of", part(book, substituted.instead_of)),
            ("approved_by", substituted.approved_by.clone()),
            ("substitution_reason", substituted.reason.clone()),
            ("substituted_on", substituted.on.to_string()),
        ]);
    }
    cells
}

/// What of each component line of a made line is at its finisher, by lot.
fn at_finisher(book: &Book, row: &Line, out: &mut BTreeMap<i32, Vec<String>>) {
    let Some(making) = row.making.as_ref().filter(|making| making.out.is_positive()) else {
        return;
    };
    let mut left: Vec<(StockKey, Quantity)> = making.out_stock.clone();
    for component in book.components_of(row) {
        let whole = i128::from(component.required.milli()) * i128::from(making.out.milli());
        let share = whole / i128::from(making.quantity.milli()).max(1);
        let mut share = Quantity::from_milli(i64::try_from(share).unwrap_or(0));
        for (key, there) in left.iter_mut().filter(|(key, _)| key.part == component.part) {
            let taken = share.min(*there);
            if component.exploded || !taken.is_positive() {
                continue;
            }
            *there -= taken;
            share -= taken;
            let text = match key.lot.0.as_str() {
                "" => taken.to_string(),
                lot => format!("{taken}@{lot}"),
            };
            out.entry(component.number).or_default().push(text);
        }
    }
}

pub(super) fn awaited(source: &Source<'_>) -> Result<Sheet, Unwritable> {
    let book = source.book;
    let mut sheet = super::sheet(Kind::Awaited)?;
    for build in sorted(source) {
        for row in book.awaited_of(build.id) {
            let (earlier, last) = earlier_and_last(&row.promises);
            let kind = match row.kind {
                AwaitedKind::Vehicle => "vehicle",
                AwaitedKind::CustomerPart => "customer part",
                AwaitedKind::Paper => "paper",
            };
            let stage = row.stage.and_then(|stage| book.stages.get(&stage));
            let line = row.line.and_then(|line| book.lines.get(&line));
            sheet.row(&[
                ("build", build.number.written().to_owned()),
                ("item", row.number.to_string()),
                ("kind", kind.to_owned()),
                ("name", row.name.clone()),
                ("identification", row.identification.clone()),
                ("source", row.source.clone()),
                ("stage", maybe(stage.map(|stage| stage.name.written()))),
                ("line", maybe(line.map(|line| line.number))),
                ("asked_on", row.asked_on.to_string()),
                ("usual_days", maybe(row.quoted_days)),
                ("expected_on", maybe(last.map(|promise| promise.promised_on))),
                ("expected_known_on", maybe(last.map(|promise| promise.known_on))),
                ("earlier_dates", earlier),
                ("received_on", maybe(row.received_on)),
                ("dropped_on", maybe(row.dropped_on)),
            ])?;
        }
    }
    Ok(sheet)
}

pub(super) fn bindings(source: &Source<'_>) -> Result<Sheet, Unwritable> {
    let book = source.book;
    let mut sheet = super::sheet(Kind::Bindings)?;
    for build in sorted(source) {
        for line in source.lines_of(build.id) {
            let base = |quantity: Quantity| {
                vec![
                    ("build", build.number.written().to_owned()),
                    ("line", line.number.to_string()),
                    ("quantity", quantity.to_string()),
                ]
            };
            let mut held: BTreeMap<&str, Quantity> = BTreeMap::new();
            for row in source.reservations.get(&line.id).into_iter().flatten() {
                *held.entry(row.key.lot.0.as_str()).or_default() += row.held;
            }
            for (lot, quantity) in held {
                let mut cells = base(quantity);
                cells.push(("lot", lot.to_owned()));
                sheet.row(&cells)?;
            }
            let mut pegs = Vec::new();
            for peg in book.pegs_of(line.id) {
                let Some(supply) = book.order_lines.get(&peg.order_line) else { continue };
                let Some(order) = book.orders.get(&supply.order) else { continue };
                pegs.push((order.number.clone(), supply.number, *peg));
            }
            pegs.sort_by(|a, b| (a.0.normal(), a.1).cmp(&(b.0.normal(), b.1)));
            for (order, order_line, peg) in pegs {
                let mut cells = base(peg.quantity);
                cells.extend([
                    ("order", order.written().to_owned()),
                    ("order_line", order_line.to_string()),
                    ("kept", flag(peg.kept)),
                ]);
                sheet.row(&cells)?;
            }
        }
    }
    Ok(sheet)
}
