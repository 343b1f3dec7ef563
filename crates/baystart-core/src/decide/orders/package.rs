//! A supplier's package: one line and one price, whose pieces arrive apart.

use crate::book::model::{Order, OrderLine, Part};
use crate::book::{Book, Change};
use crate::command::ReceiptLine;
use crate::decide::effect::OrderLineEffect;
use crate::decide::work::Work;
use crate::ids::{LineId, OrderId, PartId};
use crate::limits::{DEPTH_MAX, LINES_MAX};
use crate::quantity::Quantity;
use crate::refusal::{Faults, Reason, Refusal, nth};
use jiff::civil::Date;

/// The pieces of `quantity` of a kit, at every depth, each part once; empty for other parts. The
/// list is taken as it is now: a later change of the kit does not change the order.
pub(in crate::decide) fn pieces(
    work: &Work<'_, '_>,
    kit: &Part,
    quantity: Quantity,
) -> Result<Vec<(PartId, Quantity)>, Refusal> {
    let mut leaves: Vec<(PartId, Quantity)> = Vec::new();
    if !kit.is_kit() {
        return Ok(leaves);
    }
    let mut stack = vec![(kit.id, quantity, 0_usize)];
    let mut steps = 0;
    while let Some((id, quantity, depth)) = stack.pop() {
        steps += 1;
        if depth > DEPTH_MAX || steps > LINES_MAX {
            let message = format!("kit {} has too many levels or parts", kit.number);
            return Err(Refusal::new(Reason::KitTooDeep, message));
        }
        let part = work.book.parts.get(&id);
        let Some(part) = part.filter(|part| part.is_kit()) else {
            match leaves.iter_mut().find(|(known, _)| *known == id) {
                Some((_, sum)) => *sum += quantity,
                None => leaves.push((id, quantity)),
            }
            continue;
        };
        for (component, each) in part.components.iter().rev() {
            let needed = each.times(quantity).map_err(|error| {
                let message = format!("{quantity} of kit {}: a quantity {error}", kit.number);
                Refusal::new(Reason::QuantityInvalid, message)
            })?;
            stack.push((*component, needed, depth + 1));
        }
    }
    Ok(leaves)
}

/// The build line that a piece of a package for the kit's line is for.
pub(in crate::decide) fn line_of(
    work: &Work<'_, '_>,
    kit: LineId,
    piece: PartId,
) -> Option<LineId> {
    let kit = work.book.lines.get(&kit)?;
    let lines = work.book.lines_of(kit.build);
    let mut of_kit = lines.into_iter().filter(|line| line.kit_line == kit.number);
    of_kit.find(|line| line.part == piece).map(|line| line.id)
}

/// The package that a piece belongs to.
pub(super) fn header_of<'b>(book: &'b Book, piece: &OrderLine) -> Option<&'b OrderLine> {
    let lines = book.lines_of_order(piece.order);
    lines.into_iter().find(|line| line.package && line.number == piece.package_line)
}

/// The named lines, each package followed by those of its open pieces that are not named
/// themselves. `line` makes an entry of a named one, with the number of a piece in its place.
pub(super) fn with_pieces<T>(
    work: &Work<'_, '_>,
    order: &Order,
    named: &[T],
    line: impl Fn(&T, Option<i32>) -> T,
) -> Vec<T>
where
    T: Clone + NumberOf,
{
    let rows = work.book.lines_of_order(order.id);
    let is_named = |number: i32| named.iter().any(|entry| entry.number_of() == number);
    let mut all = Vec::new();
    for entry in named {
        all.push(entry.clone());
        let number = entry.number_of();
        if !rows.iter().any(|row| row.number == number && row.package) {
            continue;
        }
        for piece in rows.iter().filter(|row| row.package_line == number) {
            if piece.outstanding().is_positive() && !is_named(piece.number) {
                all.push(line(entry, Some(piece.number)));
            }
        }
    }
    all
}

/// The line number of an entry that names one.
pub(super) trait NumberOf {
    fn number_of(&self) -> i32;
}

impl NumberOf for i32 {
    fn number_of(&self) -> i32 {
        *self
    }
}

impl<T> NumberOf for (i32, T) {
    fn number_of(&self) -> i32 {
        self.0
    }
}

/// The receipts that are asked for, a package replaced by all that is open of its pieces.
pub(super) fn pieces_of(
    work: &Work<'_, '_>,
    faults: &mut Faults,
    order: &Order,
    lines: &[ReceiptLine],
) -> Vec<ReceiptLine> {
    let rows = work.book.lines_of_order(order.id);
    let mut all = Vec::new();
    for (i, wanted) in lines.iter().enumerate() {
        let package = rows.iter().find(|row| row.number == wanted.line && row.package);
        let Some(package) = package else {
            all.push(wanted.clone());
            continue;
        };
        if wanted.quantity.is_some_and(|quantity| quantity != package.outstanding()) {
            let message = format!(
                "line {} is a package: receive it whole, or name the pieces that came",
                wanted.line
            );
            faults.push(nth("lines", i).then("quantity"), Reason::KitNotStocked, message);
        }
        if wanted.over_accepted_by.is_some() {
            let message = "name the piece that is more than ordered";
            faults.push(nth("lines", i).then("over_accepted_by"), Reason::KitNotStocked, message);
        }
        let open = rows.iter().filter(|row| row.package_line == wanted.line);
        let open: Vec<_> = open.filter(|row| row.on_order().is_positive()).collect();
        if open.is_empty() {
            let message = format!("nothing of package line {} is on order", wanted.line);
            faults.push(nth("lines", i).then("line_number"), Reason::OrderLineState, message);
        }
        for piece in open {
            all.push(ReceiptLine { line: piece.number, quantity: None, ..wanted.clone() });
        }
    }
    all
}

/// Brings an order's packages up to date with their pieces: so many are received as all pieces make
/// up, and when nothing of the pieces is open the rest counts as cancelled.
pub(super) fn settle(work: &mut Work<'_, '_>, order: OrderId, day: Date) {
    let rows: Vec<OrderLine> = work.book.lines_of_order(order).into_iter().cloned().collect();
    for package in rows.iter().filter(|row| row.package) {
        let pieces: Vec<_> = rows.iter().filter(|row| row.package_line == package.number).collect();
        let complete = pieces.iter().map(|piece| packages_in(package, piece)).min();
        let received = complete.unwrap_or_default().min(package.ordered);
        let closed = pieces.iter().all(|piece| piece.outstanding().is_zero());
        let rest = if closed { (package.ordered - received).or_zero() } else { Quantity::ZERO };
        let failed = pieces.iter().any(|piece| piece.cancelled_by_supplier.is_positive());
        let (by_us, by_supplier) =
            if failed { (Quantity::ZERO, rest) } else { (rest, Quantity::ZERO) };
        let last_contact_on = pieces.iter().map(|piece| piece.last_contact_on).max().flatten();
        let row = OrderLine {
            received,
            cancelled_by_us: by_us,
            cancelled_by_supplier: by_supplier,
            closed_on: if closed { package.closed_on.or(Some(day)) } else { None },
            last_contact_on: package.last_contact_on.max(last_contact_on),
            ..package.clone()
        };
        if row == *package {
            continue;
        }
        if closed && received == package.ordered && package.closed_on.is_none() {
            super::on_line(work, row.id, OrderLineEffect::PackageComplete);
        }
        work.change(Change::OrderLine(row));
    }
}

/// Whole packages that what came of a piece makes up.
fn packages_in(package: &OrderLine, piece: &OrderLine) -> Quantity {
    let whole = i128::from(piece.received.milli()) * i128::from(package.ordered.milli());
    let of_one = i128::from(piece.ordered.milli()).max(1) * 1000;
    Quantity::from_milli(i64::try_from(whole / of_one).unwrap_or(0).saturating_mul(1000))
}
