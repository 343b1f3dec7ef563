//! Checks that several commands share; each notes its fault under the field.

use super::work::Work;
use crate::book::Book;
use crate::book::model::{Build, Line, Lot, Order, OrderLine, Part};
use crate::limits::{LINES_MAX, TEXT_CHARS_MAX};
use crate::number::Number;
use crate::quantity::Quantity;
use crate::refs::Ref;
use crate::refusal::{Faults, FieldPath, Reason, Refusal};
use crate::text::{self, Lines};
use crate::units::Unit;
use jiff::civil::Date;

/// The etag of a row's version.
pub fn etag(version: i64) -> String {
    format!("v{version}")
}

/// Refuses a change of a row that was changed since it was read.
///
/// # Errors
/// The etag is not that of the row's version.
pub fn same_etag(version: i64, sent: &str, what: &str) -> Result<(), Refusal> {
    if sent == etag(version) {
        return Ok(());
    }
    let message = match sent.is_empty() {
        true => format!("{what} can only be changed with the etag of the last read"),
        false => {
            format!("somebody changed {what} since it was read (etag {})", text::escaped(sent))
        }
    };
    Err(Refusal::new(Reason::EtagMismatch, message).with("etag", etag(version)))
}

/// A build and one of its lines, as `line.build` and `line.line_number` name them.
pub fn build_line(
    book: &Book,
    faults: &mut Faults,
    (build, number): (&Ref, i32),
) -> (Option<Build>, Option<Line>) {
    let build = faults.take("line.build", book.find_build(build).cloned());
    let line = build
        .as_ref()
        .and_then(|build| faults.take("line.line_number", book.find_line(build, number).cloned()));
    (build, line)
}

/// An order and one of its lines, as `order_line.order` and `order_line.line_number` name them.
pub fn order_line(
    book: &Book,
    faults: &mut Faults,
    (order, number): (&Ref, i32),
) -> (Option<Order>, Option<OrderLine>) {
    let order = faults.take("order_line.order", book.find_order(order).cloned());
    let line = order.as_ref().and_then(|order| {
        let found = book.find_order_line(order, number).cloned();
        faults.take("order_line.line_number", found)
    });
    (order, line)
}

/// Refuses what would bind something to a build whose lines may keep nothing.
///
/// # Errors
/// The build's state.
pub fn binding(build: &Build) -> Result<(), Refusal> {
    keeps_bindings(build, "nothing is bound to it")
}

/// Refuses what needs a build whose lines may keep stock and supplies; `so` is what does not happen.
///
/// # Errors
/// The build's state.
pub fn keeps_bindings(build: &Build, so: &str) -> Result<(), Refusal> {
    if build.state.keeps_bindings() {
        return Ok(());
    }
    let message = format!("build {} is {}: {so}", build.number, build.state);
    Err(Refusal::new(Reason::BuildState, message))
}

/// The day of a fact: today where none is given, never after today.
pub fn occurred(work: &Work<'_, '_>, faults: &mut Faults, given: Option<Date>) -> Date {
    let today = work.context.today;
    let day = given.unwrap_or(today);
    if day > today {
        let message = format!("{day} is after today, {today}");
        faults.push("occurred_on", Reason::DateInFuture, message);
    }
    day
}

/// Notes a quantity that is not above 0.
pub fn positive(faults: &mut Faults, field: impl Into<FieldPath>, quantity: Quantity) {
    if !quantity.is_positive() {
        let message = format!("{quantity} is not above 0");
        faults.push(field, Reason::QuantityInvalid, message);
    }
}

/// Notes a text that is needed and empty, too long, of several lines, or with a
/// character that no text may hold.
pub fn text(faults: &mut Faults, field: impl Into<FieldPath>, value: &str, needed: bool) {
    text_of(faults, field, value, needed, Lines::One);
}

/// As [`text`], for a note that may have several lines.
pub fn note(faults: &mut Faults, field: impl Into<FieldPath>, value: &str) {
    text_of(faults, field, value, false, Lines::Several);
}

fn text_of(
    faults: &mut Faults,
    field: impl Into<FieldPath>,
    value: &str,
    needed: bool,
    lines: Lines,
) {
    let field = &field.into();
    if needed && value.trim().is_empty() {
        faults.push(field, Reason::FieldMissing, "is needed");
    }
    let chars = value.chars().count();
    if chars > TEXT_CHARS_MAX {
        let message = format!("has {chars} characters; at most {TEXT_CHARS_MAX} are kept");
        faults.push(field, Reason::ValueInvalid, message);
    }
    if let Err(odd) = text::clean(value, lines) {
        let message = format!("\"{}\" {odd}", text::escaped(value));
        faults.push(field, Reason::ValueInvalid, message);
    }
}

/// The lot in normal form, as the part asks for it.
pub fn lot(faults: &mut Faults, field: impl Into<FieldPath>, part: &Part, given: &str) -> Lot {
    if given.trim().is_empty() {
        if part.lot_tracked {
            let message = format!("part {} is lot tracked: a lot is needed", part.number);
            faults.push(field, Reason::LotNeeded, message);
        }
        return Lot::default();
    }
    if !part.lot_tracked {
        let message =
            format!("part {} is not lot tracked, but lot \"{given}\" is given", part.number);
        faults.push(field, Reason::LotNotTracked, message);
        return Lot::default();
    }
    match Number::parse(given) {
        Ok(number) => Lot(number.normal().to_owned()),
        Err(error) => {
            faults.push(
                field,
                Reason::ValueInvalid,
                format!("lot \"{}\" {error}", text::escaped(given)),
            );
            Lot::default()
        }
    }
}

/// Notes a unit that is not the part's base unit.
pub fn unit(faults: &mut Faults, field: impl Into<FieldPath>, part: &Part, given: Option<Unit>) {
    let Some(given) = given else { return };
    if given != part.unit {
        let message = format!(
            "{} is not the base unit of part {}, which is {}",
            given.code(),
            part.number,
            part.unit.code()
        );
        faults.push(field, Reason::UnitMismatch, message);
    }
}

/// Notes a kit where a stocked part is needed.
pub fn stocked(faults: &mut Faults, field: impl Into<FieldPath>, part: &Part) {
    if part.is_kit() {
        let message = format!("part {} is a kit: book its components", part.number);
        faults.push(field, Reason::KitNotStocked, message);
    }
}

/// Notes a list that is empty or over [`LINES_MAX`].
pub fn count(faults: &mut Faults, field: impl Into<FieldPath>, count: usize, needed: bool) {
    if needed && count == 0 {
        faults.push(field, Reason::FieldMissing, "at least one is needed");
    } else if count > LINES_MAX {
        let message = format!("{count} are more than {LINES_MAX}");
        faults.push(field, Reason::TooMany, message);
    }
}
