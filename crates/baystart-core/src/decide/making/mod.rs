//! Parts that are made for a line: assembled in the shop, or finished outside.

mod plan;

pub(super) use plan::{move_stage, plan};

use super::binding_rule::{bind_part, bind_parts, reserve};
use super::displace::trim;
use super::effect::{LeftFor, LineEffect, StockEffect};
use super::issue::{Leaving, take_out};
use super::ledger::{Booking, lot_facts, post};
use super::words::way;
use super::work::{Work, touch};
use super::{Subject, check, closed_days};
use crate::book::Change;
use crate::book::model::{Account, Build, Line, Made, Making, MovementKind, Promise, StockKey};
use crate::command::MakeCommand;
use crate::ids::SupplierId;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal};
use jiff::civil::Date;

pub(super) fn run(work: &mut Work<'_, '_>, command: &MakeCommand) -> Result<Subject, Refusal> {
    match command {
        MakeCommand::RecordMade { build, line, quantity, bin, lot, occurred_on } => {
            record_made(work, (build, *line), *quantity, (bin, lot), *occurred_on)
        }
        MakeCommand::SendOut { build, line, quantity, promised_on, occurred_on } => {
            send_out(work, (build, *line), *quantity, *promised_on, *occurred_on)
        }
        MakeCommand::PromiseBack { build, line, promised_on, occurred_on } => {
            promise_back(work, (build, *line), *promised_on, *occurred_on)
        }
        MakeCommand::CameBack { build, line, quantity, bin, lot, occurred_on } => {
            came_back(work, (build, *line), *quantity, (bin, lot), *occurred_on)
        }
    }
}

/// A line that is made, with its build.
struct Job {
    build: Build,
    line: Line,
    making: Making,
}

fn job(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    (build, number): (&Ref, i32),
    quantity: Option<Quantity>,
) -> Option<Job> {
    if let Some(quantity) = quantity {
        check::positive(faults, "quantity", quantity);
    }
    let (build, line) = check::build_line(work.book, faults, (build, number));
    let (build, line) = (build?, line?);
    let making = line.making.clone().ok_or_else(|| {
        let part = work.book.part_number(line.part);
        let message = format!("line {number}, part {part}, is not made for this build");
        (Reason::NotMade, message)
    });
    let making = faults.take("line.line_number", making)?;
    Some(Job { build, line, making })
}

/// Notes a line that a finisher makes.
fn in_shop(work: &Work<'_, '_>, faults: &mut Faults, job: &Job) {
    if let Made::AtFinisher { .. } = job.making.how {
        made_otherwise(work, faults, job);
    }
}

/// The finisher of a line's part, or a fault noted where it has none.
fn finisher(work: &Work<'_, '_>, faults: &mut Faults, job: &Job) -> Option<SupplierId> {
    if let Made::AtFinisher { supplier, .. } = job.making.how {
        return Some(supplier);
    }
    made_otherwise(work, faults, job);
    None
}

fn made_otherwise(work: &Work<'_, '_>, faults: &mut Faults, job: &Job) {
    let message = format!("line {} is {}", job.line.number, way(work.book, job.making.how));
    faults.push("line.line_number", Reason::NotMade, message);
}

/// The asked quantity, or all that is left; a refusal where it is more.
fn portion(
    job: &Job,
    asked: Option<Quantity>,
    left: Quantity,
    what: &str,
) -> Result<Quantity, Refusal> {
    let quantity = asked.unwrap_or(left);
    if quantity.is_positive() && quantity <= left {
        return Ok(quantity);
    }
    let number = job.line.number;
    if left.is_zero() {
        let message = format!("nothing of line {number} is {what}");
        return Err(Refusal::new(Reason::NothingToDo, message));
    }
    let message = format!("only {left} of line {number} is {what}, not {quantity}");
    Err(Refusal::new(Reason::StockShort, message).with("left", left))
}

/// How much of each component goes into `quantity`, in proportion; a refusal where it does not
/// come out even.
fn shares(
    work: &Work<'_, '_>,
    job: &Job,
    quantity: Quantity,
) -> Result<Vec<(Line, Quantity)>, Refusal> {
    let mut shares = Vec::new();
    for line in work.book.components_of(&job.line) {
        let consumable = work.book.parts.get(&line.part).is_some_and(|part| part.consumable);
        if line.exploded || consumable {
            continue;
        }
        let whole = i128::from(line.required.milli()) * i128::from(quantity.milli());
        let per = i128::from(job.making.quantity.milli()).max(1);
        let share = i64::try_from(whole / per).ok().filter(|_| whole % per == 0);
        let Some(share) = share else {
            let message = format!(
                "{quantity} of line {} would take an uneven share of line {}",
                job.line.number, line.number
            );
            return Err(Refusal::new(Reason::QuantityInvalid, message));
        };
        shares.push((line.clone(), Quantity::from_milli(share)));
    }
    Ok(shares)
}

/// Takes the components of `quantity` out of stock, or refuses with all that is missing.
fn use_up(
    work: &mut Work<'_, '_>,
    job: &Job,
    quantity: Quantity,
    leaving: Leaving,
) -> Result<Vec<(StockKey, Quantity)>, Refusal> {
    let mut faults = Faults::new();
    let mut used = Vec::new();
    for (line, share) in shares(work, job, quantity)? {
        let (gone, missing) = take_out(work, &line, share, leaving);
        used.extend(gone);
        // A kept peg may outlast the need that free stock has just covered.
        trim(work, line.id);
        if missing.is_positive() {
            let message = format!(
                "component line {}, part {}: {} of {share} are missing",
                line.number,
                work.book.part_number(line.part),
                work.amount(line.part, missing)
            );
            faults.push("quantity", Reason::StockShort, message);
        }
    }
    faults.check()?;
    Ok(used)
}

fn record_made(
    work: &mut Work<'_, '_>,
    line: (&Ref, i32),
    quantity: Option<Quantity>,
    (bin, lot): (&Ref, &str),
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let job = job(work, &mut faults, line, quantity);
    if let Some(job) = &job {
        in_shop(work, &mut faults, job);
    }
    let into = into(work, &mut faults, job.as_ref(), bin, lot);
    let (job, (bin, key)) = faults.whole((job, into))?;
    check::keeps_bindings(&job.build, "nothing is made for it")?;
    let quantity = portion(&job, quantity, job.making.open(), "still to be made")?;
    let (kind, to) = (MovementKind::Made, Account::Making);
    let used = use_up(work, &job, quantity, Leaving { kind, to, day, how: LeftFor::Making })?;
    let done = job.making.done + quantity;
    let making = Making { done, ..job.making.clone() };
    finish(work, &job, making, quantity, (bin, key), (kind, day), StockEffect::Made);
    bind_parts(work, used.iter().map(|(key, _)| key.part));
    touch(work, &job.build);
    Ok(Subject::Build(job.build.id))
}

/// The bin and the stock that something made goes into.
fn into(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    job: Option<&Job>,
    bin: &Ref,
    lot: &str,
) -> Option<(crate::ids::BinId, StockKey)> {
    let bin = faults.take("bin", work.book.find_bin(bin).map(|bin| bin.id));
    let part = job.and_then(|job| work.book.parts.get(&job.line.part))?;
    let lot = check::lot(faults, "lot", part, lot);
    Some((bin?, StockKey { part: part.id, lot }))
}

/// Books what was made into its bin and sets it aside for its line.
fn finish(
    work: &mut Work<'_, '_>,
    job: &Job,
    making: Making,
    quantity: Quantity,
    (bin, key): (crate::ids::BinId, StockKey),
    (kind, day): (MovementKind, Date),
    what: StockEffect,
) {
    lot_facts(work, &key, None, day);
    let booking = Booking { kind, day, reason: "", line: Some(job.line.id), order_line: None };
    post(work, &key, Account::Making, Account::Bin(bin), quantity, &booking);
    work.on_stock(&key, bin, quantity, what);
    let Some(row) = work.book.lines.get(&job.line.id).cloned() else { return };
    let row = Line { making: Some(making), ..row };
    work.change(Change::Line(row.clone()));
    let taken = quantity.min(work.book.short_of(&row));
    if taken.is_positive() && job.build.state.keeps_bindings() {
        reserve(work, &row, key.clone(), taken);
    }
    bind_part(work, key.part);
}

fn send_out(
    work: &mut Work<'_, '_>,
    line: (&Ref, i32),
    quantity: Option<Quantity>,
    promised_on: Option<Date>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let job = job(work, &mut faults, line, quantity);
    let supplier = job.as_ref().and_then(|job| finisher(work, &mut faults, job));
    if let Some(date) = promised_on.filter(|date| *date < day) {
        let message = format!("{date} is before it was sent out, {day}");
        faults.push("promised_back_on", Reason::DateInvalid, message);
    }
    let (job, supplier) = faults.whole((job, supplier))?;
    check::keeps_bindings(&job.build, "nothing is made for it")?;
    let left = (job.making.open() - job.making.out).or_zero();
    let quantity = portion(&job, quantity, left, "here to be sent out")?;
    let (kind, to) = (MovementKind::SentOut, Account::Finisher(supplier));
    let used = use_up(work, &job, quantity, Leaving { kind, to, day, how: LeftFor::Finisher })?;
    let mut making = job.making.clone();
    for (key, quantity) in &used {
        match making.out_stock.iter_mut().find(|(there, _)| there == key) {
            Some((_, sum)) => *sum += *quantity,
            None => making.out_stock.push((key.clone(), *quantity)),
        }
    }
    if making.out.is_zero() {
        // What is out now is forecast from this sending; earlier dates were for what came back.
        making.promises.clear();
    }
    making.out += quantity;
    making.sent_on = Some(day);
    making.back_on = None;
    making.promises.extend(promised_on.map(|promised_on| Promise { promised_on, known_on: day }));
    let row = work.book.lines.get(&job.line.id).cloned();
    let row = row.ok_or_else(|| Refusal::internal("the line that is sent out is gone"))?;
    work.change(Change::Line(Line { making: Some(making), ..row }));
    work.on_line(&job.line, quantity, LineEffect::SentOut { to: supplier, promised_on });
    closed_days::say(work, promised_on, Some(supplier));
    bind_parts(work, used.iter().map(|(key, _)| key.part));
    touch(work, &job.build);
    Ok(Subject::Build(job.build.id))
}

fn promise_back(
    work: &mut Work<'_, '_>,
    line: (&Ref, i32),
    promised_on: Option<Date>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let job = job(work, &mut faults, line, None);
    if promised_on.is_none() {
        faults.push("promised_back_on", Reason::FieldMissing, "is needed");
    }
    let supplier = job.as_ref().and_then(|job| finisher(work, &mut faults, job));
    if let Some(job) = &job {
        if job.making.sent_on.is_some_and(|sent| day < sent) {
            let message = format!("{day} is before it was sent out");
            faults.push("occurred_on", Reason::DateInvalid, message);
        }
        if job.making.promises.last().is_some_and(|last| last.known_on > day) {
            let message = format!("a later date became known after {day}");
            faults.push("occurred_on", Reason::DateInvalid, message);
        }
    }
    let (job, supplier, promised_on) = faults.whole((job, supplier, promised_on))?;
    check::keeps_bindings(&job.build, "nothing is made for it")?;
    portion(&job, None, job.making.out, "with the finisher")?;
    let mut making = job.making.clone();
    making.promises.push(Promise { promised_on, known_on: day });
    work.change(Change::Line(Line { making: Some(making), ..job.line.clone() }));
    work.on_line(&job.line, job.making.out, LineEffect::PromisedBack { on: promised_on });
    closed_days::say(work, [promised_on], Some(supplier));
    touch(work, &job.build);
    Ok(Subject::Build(job.build.id))
}

fn came_back(
    work: &mut Work<'_, '_>,
    line: (&Ref, i32),
    quantity: Option<Quantity>,
    (bin, lot): (&Ref, &str),
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let job = job(work, &mut faults, line, quantity);
    let supplier = job.as_ref().and_then(|job| finisher(work, &mut faults, job));
    let sent_on = job.as_ref().and_then(|job| job.making.sent_on);
    if let Some(sent) = sent_on.filter(|sent| day < *sent) {
        let message = format!("{day} is before it was sent out, {sent}");
        faults.push("occurred_on", Reason::DateInvalid, message);
    }
    let into = into(work, &mut faults, job.as_ref(), bin, lot);
    let (job, supplier, (bin, key)) = faults.whole((job, supplier, into))?;
    // Goods come back whatever became of the build meanwhile.
    let quantity = portion(&job, quantity, job.making.out, "with the finisher")?;
    let kind = MovementKind::CameBack;
    let mut making = job.making.clone();
    let all = quantity == making.out;
    // With the last of it comes all that is there, whatever the lines say by now.
    let shares = match all {
        true => {
            let lines = work.book.components_of(&job.line).into_iter();
            lines.map(|line| (line.clone(), quantity)).collect()
        }
        false => shares(work, &job, quantity)?,
    };
    for (line, share) in shares {
        let mut left = share;
        for (key, there) in making.out_stock.iter_mut().filter(|(key, _)| key.part == line.part) {
            let taken = if all { *there } else { (*there).min(left) };
            if taken.is_positive() {
                let booking =
                    Booking { kind, day, reason: "", line: Some(line.id), order_line: None };
                let from = Account::Finisher(supplier);
                post(work, key, from, Account::Making, taken, &booking);
                *there -= taken;
                left = (left - taken).or_zero();
            }
        }
    }
    making.out_stock.retain(|(_, quantity)| quantity.is_positive());
    making.done += quantity;
    making.out -= quantity;
    making.back_on = Some(day).filter(|_| making.out.is_zero());
    finish(work, &job, making, quantity, (bin, key), (kind, day), StockEffect::Finished);
    touch(work, &job.build);
    Ok(Subject::Build(job.build.id))
}
