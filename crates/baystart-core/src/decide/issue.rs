//! Stock that leaves to a build and comes back.

use super::binding_rule::{bind_part, bind_parts, free_stock};
use super::displace::trim;
use super::effect::{LeftFor, LineEffect};
use super::ledger::{Booking, lot_facts, post};
use super::work::Work;
use super::{Subject, check};
use crate::book::Change;
use crate::book::model::{Account, Build, Line, Lot, MovementKind, Reservation, StockKey};
use crate::command::LineQuantity;
use crate::ids::{BinId, LineId};
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

/// Says when a line has more than it requires.
pub(super) fn say_over_issue(work: &mut Work<'_, '_>, line: LineId) {
    let Some(line) = work.book.lines.get(&line).cloned() else { return };
    let over = line.issued - line.required;
    if over.is_positive() {
        work.on_line(&line, over, LineEffect::OverIssued);
    }
}

/// One checked wish of an issue or a return.
struct Wish {
    line: Line,
    quantity: Quantity,
    lot: Option<Lot>,
    bin: Option<BinId>,
}

/// Where stock that leaves goes, and for what.
#[derive(Clone, Copy)]
pub(super) struct Leaving {
    pub(super) kind: MovementKind,
    pub(super) to: Account,
    pub(super) day: Date,
    pub(super) how: LeftFor,
}

/// Takes `quantity` of a line's part out of stock, its own reservations first, then what is free;
/// returns what went, by lot, and what is missing of it.
pub(super) fn take_out(
    work: &mut Work<'_, '_>,
    line: &Line,
    quantity: Quantity,
    leaving: Leaving,
) -> (Vec<(StockKey, Quantity)>, Quantity) {
    let wish = Wish { line: line.clone(), quantity, lot: None, bin: None };
    take(work, &wish, leaving)
}

fn wishes(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    build: &Build,
    lines: &[LineQuantity],
    default: impl Fn(&Line) -> Quantity,
) -> Vec<Wish> {
    let mut wishes: Vec<Wish> = Vec::new();
    check::count(faults, "lines", lines.len(), false);
    for (i, wanted) in lines.iter().enumerate() {
        let field = nth("lines", i).then("line_number");
        let found = work.book.find_line(build, wanted.line).cloned();
        let line = faults.take(field.clone(), found);
        let bin = wanted.bin.as_ref().and_then(|bin| {
            let found = work.book.find_bin(bin).map(|bin| bin.id);
            faults.take(nth("lines", i).then("bin"), found)
        });
        let Some(line) = line else { continue };
        if line.exploded {
            let message = format!("line {} is a kit: name its components' lines", line.number);
            faults.push(field, Reason::KitNotStocked, message);
            continue;
        }
        if line.made_for != 0 {
            let message = format!(
                "line {} is used up in making line {}: record that one as made or sent out",
                line.number, line.made_for
            );
            faults.push(field, Reason::MadeLine, message);
            continue;
        }
        let twice = |w: &&Wish| w.line.id == line.id && w.lot.is_none() && wanted.lot.is_none();
        if wishes.iter().any(|wish| twice(&wish)) {
            let message = format!("line {} is named twice", line.number);
            faults.push(field.clone(), Reason::DuplicateLine, message);
        }
        let quantity = wanted.quantity.unwrap_or_else(|| default(&line));
        if wanted.quantity.is_some() {
            check::positive(faults, nth("lines", i).then("quantity"), quantity);
        } else if quantity.is_zero() {
            let message = format!("nothing is left to do on line {}", line.number);
            faults.push(field, Reason::NothingToDo, message);
        }
        let part = work.book.parts.get(&line.part);
        let lot = match (&wanted.lot, part) {
            (Some(lot), Some(part)) => {
                Some(check::lot(faults, nth("lines", i).then("lot"), part, lot))
            }
            _ => None,
        };
        wishes.push(Wish { line, quantity, lot, bin });
    }
    wishes
}

pub(super) fn issue(
    work: &mut Work<'_, '_>,
    build: &Ref,
    lines: &[LineQuantity],
    stage: Option<&str>,
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    let Some(build) = faults.take("build", work.book.find_build(build).cloned()) else {
        return faults.whole(None);
    };
    let stage = stage.and_then(|name| {
        faults.take("stage_name", work.book.find_stage(&build, name).map(|s| s.id))
    });
    let wished = match lines.is_empty() {
        false => wishes(work, &mut faults, &build, lines, |line| work.book.open_need(line)),
        true => {
            let mut all = Vec::new();
            for line in work.book.lines_of(build.id) {
                let quantity = work.book.held_for(line.id);
                let own = line.made_for == 0 && stage.is_none_or(|stage| line.stage == stage);
                if quantity.is_positive() && own {
                    all.push(Wish { line: line.clone(), quantity, lot: None, bin: None });
                }
            }
            all
        }
    };
    faults.check()?;
    check::keeps_bindings(&build, "nothing leaves to it")?;
    if wished.is_empty() {
        let message = format!("nothing is reserved for build {} there", build.number);
        return Err(Refusal::new(Reason::NothingToDo, message));
    }
    let mut short = Faults::new();
    let (kind, to) = (MovementKind::Issue, Account::Build(build.id));
    let leaving = Leaving { kind, to, day, how: LeftFor::Issue };
    for (i, wish) in wished.iter().enumerate() {
        issue_line(work, wish, leaving, &mut short, i);
    }
    short.check()?;
    bind_parts(work, wished.iter().map(|wish| wish.line.part));
    Ok(Subject::None)
}

/// Takes a line's own reserved stock first, then what is free; returns what went and what
/// is missing.
fn take(
    work: &mut Work<'_, '_>,
    wish: &Wish,
    leaving: Leaving,
) -> (Vec<(StockKey, Quantity)>, Quantity) {
    let mut gone = Vec::new();
    let mut left = wish.quantity;
    let fits = |lot: &Lot| wish.lot.as_ref().is_none_or(|wanted| wanted == lot);
    let held: Vec<Reservation> = work
        .book
        .reservations_of(wish.line.id)
        .filter(|row| row.held.is_positive() && fits(&row.key.lot))
        .cloned()
        .collect();
    for row in held {
        let taken = row.held.min(left);
        let sent = send(work, wish, &row.key, taken, leaving, Some(&row));
        left -= sent;
        gone.push((row.key.clone(), sent));
        if left.is_zero() {
            break;
        }
    }
    for (key, available) in free_stock(work.book, wish.line.part, work.context.today) {
        if left.is_zero() {
            break;
        }
        if fits(&key.lot) {
            let sent = send(work, wish, &key, available.min(left), leaving, None);
            left -= sent;
            gone.push((key, sent));
        }
    }
    gone.retain(|(_, sent)| sent.is_positive());
    (gone, left)
}

fn issue_line(
    work: &mut Work<'_, '_>,
    wish: &Wish,
    leaving: Leaving,
    faults: &mut Faults,
    index: usize,
) {
    let (_, left) = take(work, wish, leaving);
    if left.is_positive() {
        let available = wish.quantity - left;
        let lot = wish.lot.as_ref().map_or(String::new(), |lot| format!(", lot {}", lot.0));
        let bin =
            wish.bin.map_or(String::new(), |bin| format!(" from bin {}", work.book.bin_code(bin)));
        let whence = format!("{lot}{bin}");
        let part = work.book.part_number(wish.line.part);
        let message = match available.is_zero() {
            true => format!(
                "nothing of part {part}{whence} can leave: no usable stock is reserved for the line \
                 or free"
            ),
            false => format!(
                "only {} of part {part}{whence} can leave, not {}",
                work.amount(wish.line.part, available),
                wish.quantity
            ),
        };
        faults.push(nth("lines", index).then("quantity"), Reason::StockShort, message);
    }
    say_over_issue(work, wish.line.id);
    trim(work, wish.line.id);
}

/// Books up to `quantity` of one stock out of its bins; returns what went.
fn send(
    work: &mut Work<'_, '_>,
    wish: &Wish,
    key: &StockKey,
    quantity: Quantity,
    leaving: Leaving,
    held: Option<&Reservation>,
) -> Quantity {
    let mut bins: Vec<_> = work
        .book
        .bins_of(key)
        .filter(|(bin, _)| wish.bin.is_none_or(|wanted| wanted == *bin))
        .map(|(bin, balance)| (balance.usable, bin))
        .filter(|(usable, _)| usable.is_positive())
        .collect();
    // What was picked for the build waits in its staging bin.
    let staging = work.book.builds.get(&wish.line.build).and_then(|build| build.staging_bin);
    let picked = |bin: BinId| Some(bin) == staging;
    bins.sort_by(|a, b| (picked(b.1), b.0).cmp(&(picked(a.1), a.0)).then(a.1.cmp(&b.1)));
    let here: Quantity = bins.iter().map(|(usable, _)| *usable).sum();
    let goes = quantity.min(here);
    if goes.is_zero() {
        return goes;
    }
    // The reservation gives way before the stock leaves, so that reserved
    // never stands above usable in between.
    if let Some(row) = held.and_then(|row| work.book.reservations.get(&row.id)).cloned() {
        let (held, issued) = (row.held - goes, row.issued + goes);
        work.change(Change::Reservation(Reservation { held, issued, ..row }));
    }
    let mut left = goes;
    for (usable, bin) in bins {
        let taken = usable.min(left);
        let Leaving { kind, to, day, how } = leaving;
        let line = Some(wish.line.id);
        let booking = Booking { kind, day, reason: "", line, order_line: None };
        post(work, key, Account::Bin(bin), to, taken, &booking);
        let what = LineEffect::Left { how, lot: key.lot.clone(), bin };
        work.on_line(&wish.line, taken, what);
        left -= taken;
        if left.is_zero() {
            break;
        }
    }
    if let Some(row) = work.book.lines.get(&wish.line.id).cloned() {
        let issued = row.issued + goes;
        work.change(Change::Line(Line { issued, ..row }));
    }
    goes
}

pub(super) fn give_back(
    work: &mut Work<'_, '_>,
    build: &Ref,
    lines: &[LineQuantity],
    occurred_on: Option<Date>,
) -> Result<Subject, Refusal> {
    let mut faults = Faults::new();
    let day = check::occurred(work, &mut faults, occurred_on);
    check::count(&mut faults, "lines", lines.len(), true);
    let Some(build) = faults.take("build", work.book.find_build(build).cloned()) else {
        return faults.whole(None);
    };
    let wished = wishes(work, &mut faults, &build, lines, |line| line.issued);
    for (i, wanted) in lines.iter().enumerate() {
        if wanted.bin.is_none() {
            let field = nth("lines", i).then("bin");
            faults.push(field, Reason::FieldMissing, "say into which bin it comes back");
        }
    }
    for (i, wish) in wished.iter().enumerate() {
        let part = work.book.parts.get(&wish.line.part);
        if wish.lot.is_none() && part.is_some_and(|part| part.lot_tracked) {
            let number = work.book.part_number(wish.line.part);
            let message = format!("part {number} is lot tracked: a lot is needed");
            faults.push(nth("lines", i).then("lot"), Reason::LotNeeded, message);
        }
    }
    faults.check()?;
    let mut over = Faults::new();
    for (i, wish) in wished.iter().enumerate() {
        let Some(row) = work.book.lines.get(&wish.line.id).cloned() else { continue };
        let Some(bin) = wish.bin else { continue };
        if row.issued < wish.quantity {
            let message = format!(
                "{} was issued to line {}, less than the {} that come back",
                row.issued, row.number, wish.quantity
            );
            over.push(nth("lines", i).then("quantity"), Reason::OverReturn, message);
            continue;
        }
        let key = StockKey { part: row.part, lot: wish.lot.clone().unwrap_or_default() };
        lot_facts(work, &key, None, day);
        let kind = MovementKind::ReturnToStock;
        let booking = Booking { kind, day, reason: "", line: Some(row.id), order_line: None };
        post(work, &key, Account::Build(build.id), Account::Bin(bin), wish.quantity, &booking);
        work.on_line(&row, wish.quantity, LineEffect::CameBack { lot: key.lot, bin });
        let issued = row.issued - wish.quantity;
        work.change(Change::Line(Line { issued, ..row }));
    }
    over.check()?;
    for wish in &wished {
        bind_part(work, wish.line.part);
    }
    Ok(Subject::None)
}
