//! Lines of a build as they stood, with what is in the vehicle, used up or at a
//! finisher booked so that balances are the sums of their entries.

use crate::book::Change;
use crate::book::model::{
    Account, Line, Lot, Made, Making, MovementKind, Stage, StockKey, Substitution,
};
use crate::command::NewMade;
use crate::decide::check;
use crate::decide::ledger::{Booking, post};
use crate::decide::work::Work;
use crate::ids::{BuildId, LineId, PartId, SupplierId};
use crate::quantity::Quantity;
use crate::refusal::{Faults, Reason, nth};
use crate::restore::{RestoredBuild, RestoredLine, RestoredMaking};

/// A checked line with what of it is at a finisher.
pub(super) struct Row {
    line: Line,
    at_finisher: Vec<(StockKey, Quantity)>,
    finisher: Option<SupplierId>,
}

/// Checks the lines; those that are right, in their order.
pub(super) fn checked(
    work: &mut Work<'_, '_>,
    faults: &mut Faults,
    build: BuildId,
    stages: &[Stage],
    new: &RestoredBuild,
) -> Vec<Row> {
    check::count(faults, "lines", new.lines.len(), false);
    if new.lines.len() > crate::limits::LINES_MAX {
        return Vec::new();
    }
    let mut rows: Vec<Row> = Vec::new();
    for (i, line) in new.lines.iter().enumerate() {
        let id = LineId(work.fresh());
        let before = new.lines.get(..i).unwrap_or_default();
        if line.number < 1 || before.iter().any(|other| other.number == line.number) {
            let message = format!("{} is no new number of a line", line.number);
            faults.push(nth("lines", i).then("line"), Reason::DuplicateLine, message);
        }
        rows.extend(row(work, faults, (i, line), (build, id), stages));
    }
    together(faults, new);
    at_finishers(work, faults, new, &mut rows);
    rows
}

fn row(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    (i, new): (usize, &RestoredLine),
    (build, id): (BuildId, LineId),
    stages: &[Stage],
) -> Option<Row> {
    let at = |field: &'static str| nth("lines", i).then(field);
    let wanted = crate::text::normal(&new.stage);
    let stage = stages.iter().find(|stage| stage.name.normal() == wanted).map(|stage| stage.id);
    let found = stage.ok_or_else(|| {
        let names: Vec<_> = stages.iter().map(|stage| stage.name.written()).collect();
        let message = format!("no stage \"{}\" among: {}", new.stage, names.join(", "));
        (Reason::StageUnknown, message)
    });
    let stage = faults.take(at("stage_name"), found);
    let part = faults.take(at("part"), work.book.find_part(&new.part));
    for (field, quantity) in [("quantity", new.quantity), ("issued", new.issued)] {
        if quantity.is_negative() {
            let message = format!("{quantity} is below 0");
            faults.push(at(field), Reason::QuantityInvalid, message);
        }
    }
    let part = part?;
    if new.issued.is_positive() && part.is_kit() {
        let message = format!("{} of part {} cannot be fitted already", new.issued, part.number);
        faults.push(at("issued"), Reason::QuantityInvalid, message);
    }
    let making = new.making.as_ref().and_then(|new| making(work, faults, i, part.made, new));
    let substituted = new.substituted.as_ref().and_then(|new| {
        check::text(faults, at("approved_by"), &new.approved_by, true);
        check::text(faults, at("substitution_reason"), &new.reason, true);
        let found = work.book.find_part(&new.instead_of).map(|part| part.id);
        Some(Substitution {
            instead_of: faults.take(at("instead_of"), found)?,
            approved_by: new.approved_by.trim().to_owned(),
            reason: new.reason.trim().to_owned(),
            on: new.on.unwrap_or(work.context.today),
        })
    });
    let mut at_finisher = Vec::new();
    for (lot, quantity) in &new.at_finisher {
        check::positive(faults, at("at_finisher"), *quantity);
        let lot = check::lot(faults, at("at_finisher"), part, lot);
        at_finisher.push((StockKey { part: part.id, lot }, *quantity));
    }
    if sum(&at_finisher) > new.issued {
        let message = format!("{} is more than the {} issued", sum(&at_finisher), new.issued);
        faults.push(at("at_finisher"), Reason::QuantityInvalid, message);
    }
    let line = Line {
        id,
        build,
        stage: stage?,
        number: new.number,
        part: part.id,
        required: new.quantity,
        issued: new.issued,
        kit_line: new.kit_line,
        exploded: new.exploded,
        made_for: new.made_for,
        making,
        customer_supplied: new.customer_supplied,
        substituted,
    };
    Some(Row { line, at_finisher, finisher: None })
}

fn making(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    i: usize,
    of_part: Made,
    new: &RestoredMaking,
) -> Option<Making> {
    let at = |field: &'static str| nth("lines", i).then(field);
    let how = match &new.how {
        None => of_part,
        Some(NewMade::Listed) => Made::Listed,
        Some(NewMade::InShop { working_days }) => Made::InShop { working_days: *working_days },
        Some(NewMade::AtFinisher { supplier, quoted_days }) => {
            let found = work.book.find_supplier(supplier).map(|supplier| supplier.id);
            let supplier = faults.take(at("finished_by"), found)?;
            Made::AtFinisher { supplier, quoted_days: *quoted_days }
        }
    };
    if how == Made::Listed {
        let message = "say how it is made: made_in_shop_days or finished_by";
        faults.push(at("making_quantity"), Reason::NotMade, message);
    }
    check::positive(faults, at("making_quantity"), new.quantity);
    if new.done.is_negative() || new.out.is_negative() || new.done + new.out > new.quantity {
        let message = format!("{} done and {} out of {}", new.done, new.out, new.quantity);
        faults.push(at("making_done"), Reason::QuantityInvalid, message);
    }
    let at_finisher = matches!(how, Made::AtFinisher { .. });
    if new.out.is_positive() && (!at_finisher || new.sent_on.is_none()) {
        let message = "what is out is with a finisher since a day: finished_by, sent_on";
        faults.push(at("making_out"), Reason::ValueInvalid, message);
    }
    let today = work.context.today;
    for (field, day) in [("sent_on", new.sent_on), ("back_on", new.back_on)] {
        if let Some(day) = day.filter(|day| *day > today) {
            faults.push(at(field), Reason::DateInFuture, format!("{day} is after today, {today}"));
        }
    }
    Some(Making {
        how,
        quantity: new.quantity,
        done: new.done,
        out: new.out,
        out_stock: Vec::new(),
        sent_on: new.sent_on,
        back_on: new.back_on,
        promises: new.promises.clone(),
    })
}

/// Notes lines that say they belong to one that is not so.
fn together(faults: &mut Faults, new: &RestoredBuild) {
    let line = |number: i32| new.lines.iter().find(|line| line.number == number);
    for (i, row) in new.lines.iter().enumerate() {
        if row.kit_line != 0 && line(row.kit_line).is_none_or(|kit| !kit.exploded) {
            let message = match line(row.kit_line) {
                Some(_) => {
                    format!("line {} does not stand for others (exploded: yes)", row.kit_line)
                }
                None => format!("line {} is not in the file", row.kit_line),
            };
            faults.push(nth("lines", i).then("kit_line"), Reason::LineUnknown, message);
        }
        let stands_for = |other: &RestoredLine| other.kit_line == row.number;
        if row.exploded && row.making.is_none() && !new.lines.iter().any(stands_for) {
            let message = format!(
                "line {} stands for its components, and no line names it as its kit_line: what it needs would be \
                 forgotten",
                row.number
            );
            faults.push(nth("lines", i).then("exploded"), Reason::LineUnknown, message);
        }
        let made = line(row.made_for);
        if row.made_for != 0 && made.is_none_or(|made| made.making.is_none()) {
            let message = format!("line {} is not made", row.made_for);
            faults.push(nth("lines", i).then("made_for"), Reason::LineUnknown, message);
        }
        let out = made.and_then(|made| made.making.as_ref()).map(|making| making.out);
        if !row.at_finisher.is_empty() && !out.is_some_and(Quantity::is_positive) {
            let message = "nothing of the line that it is made for is out";
            faults.push(nth("lines", i).then("at_finisher"), Reason::ValueInvalid, message);
        }
    }
}

/// Gives each made line the components that are at its finisher.
fn at_finishers(work: &Work<'_, '_>, faults: &mut Faults, new: &RestoredBuild, rows: &mut [Row]) {
    for at in 0..rows.len() {
        let Some(row) = rows.get(at) else { continue };
        let Some(making) = row.line.making.clone() else { continue };
        let (Made::AtFinisher { supplier, .. }, number) = (making.how, row.line.number) else {
            continue;
        };
        let mut out_stock: Vec<(StockKey, Quantity)> = Vec::new();
        for row in rows.iter_mut().filter(|row| row.line.made_for == number) {
            row.finisher = Some(supplier);
            for (key, quantity) in &row.at_finisher {
                match out_stock.iter_mut().find(|(there, _)| there == key) {
                    Some((_, sum)) => *sum += *quantity,
                    None => out_stock.push((key.clone(), *quantity)),
                }
            }
        }
        if making.out.is_positive() {
            shares(work, faults, new, rows, &making, number);
        }
        if let Some(row) = rows.get_mut(at) {
            row.line.making = Some(Making { out_stock, ..making });
        }
    }
}

/// Notes components of which not as much is out as belongs to what is out.
fn shares(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    new: &RestoredBuild,
    rows: &[Row],
    making: &Making,
    number: i32,
) {
    for row in rows.iter().filter(|row| row.line.made_for == number && !row.line.exploded) {
        if work.book.parts.get(&row.line.part).is_none_or(|part| part.consumable) {
            continue;
        }
        let out = i128::from(sum(&row.at_finisher).milli()) * i128::from(making.quantity.milli());
        if out == i128::from(row.line.required.milli()) * i128::from(making.out.milli()) {
            continue;
        }
        let i = new.lines.iter().position(|line| line.number == row.line.number).unwrap_or(0);
        let message = format!(
            "{} of {} at the finisher do not make up the {} of line {number} that are out",
            sum(&row.at_finisher),
            work.book.part_number(row.line.part),
            making.out
        );
        faults.push(nth("lines", i).then("at_finisher"), Reason::QuantityInvalid, message);
    }
}

fn sum(stock: &[(StockKey, Quantity)]) -> Quantity {
    stock.iter().map(|(_, quantity)| *quantity).sum()
}

/// Adds the lines and books what is out of the shop's stock for them; the lots
/// of what is fitted or used up are not known.
pub(super) fn add(work: &mut Work<'_, '_>, rows: Vec<Row>) {
    for Row { line, at_finisher, finisher } in rows {
        let (id, build, made_for) = (line.id, line.build, line.made_for);
        let rest = line.issued - sum(&at_finisher);
        let part: PartId = line.part;
        work.change(Change::Line(line));
        let booking = Booking {
            kind: MovementKind::Opening,
            day: work.context.today,
            reason: "taken over as it stood",
            line: Some(id),
            order_line: None,
        };
        if let Some(finisher) = finisher {
            for (key, quantity) in &at_finisher {
                let to = Account::Finisher(finisher);
                post(work, key, Account::Variance, to, *quantity, &booking);
            }
        }
        if rest.is_positive() {
            let to = if made_for == 0 { Account::Build(build) } else { Account::Making };
            let key = StockKey { part, lot: Lot::default() };
            post(work, &key, Account::Variance, to, rest, &booking);
        }
    }
}
