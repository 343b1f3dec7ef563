//! Cells that hold several days: what was promised, when it became known, what was taken back.

use super::cursor::Cursor;
use baystart_core::book::model::{CustomerPromise, Promise};
use baystart_core::refusal::Reason;
use baystart_proto::convert::scalar;
use jiff::civil::Date;

/// A cell of space-separated DATE@KNOWN pairs, in its order.
pub(crate) fn promises(row: &mut Cursor<'_>, column: &'static str) -> Option<Vec<(Date, Date)>> {
    row.misread(column, Reason::DateInvalid)?;
    let mut out = Vec::new();
    let mut fine = true;
    for pair in row.cells.get(column).split_whitespace() {
        let parsed = pair
            .split_once('@')
            .map(|(promised, known)| (scalar::date_text(promised), scalar::date_text(known)));
        match parsed {
            Some((Ok(promised), Ok(known))) => out.push((promised, known)),
            _ => {
                fine = false;
                let message = format!(
                    "\"{}\" is not of the form 2026-10-02@2026-09-01: the promised date, and the \
                     day on which it became known",
                    scalar::shown(pair)
                );
                row.read.fault(column, Reason::DateInvalid, message);
            }
        }
    }
    fine.then_some(out)
}

/// `2026-10-30@2026-09-14=0.83 ...`: the promised day, when it was given, the chance that was stated.
pub(super) fn customer_promises(
    row: &mut Cursor<'_>,
    column: &'static str,
) -> Option<Vec<CustomerPromise>> {
    row.misread(column, Reason::ValueInvalid)?;
    let mut out = Vec::new();
    let mut fine = true;
    for word in row.cells.get(column).split_whitespace() {
        match customer_promise(word) {
            Some(promise) => out.push(promise),
            None => {
                fine = false;
                let message = format!(
                    "\"{}\" is not of the form 2026-10-30@2026-09-14=0.83: the promised day, when it \
                     was given, and the chance that was stated",
                    scalar::shown(word)
                );
                row.read.fault(column, Reason::ValueInvalid, message);
            }
        }
    }
    fine.then_some(out)
}

fn customer_promise(word: &str) -> Option<CustomerPromise> {
    let (delivery_on, rest) = word.split_once('@')?;
    let (made_on, chance) = match rest.split_once('=') {
        Some((made_on, chance)) => (made_on, Some(chance.parse::<f64>().ok()?)),
        None => (rest, None),
    };
    if chance.is_some_and(|chance| !(0.0..=1.0).contains(&chance)) {
        return None;
    }
    Some(CustomerPromise {
        delivery_on: scalar::date_text(delivery_on).ok()?,
        made_on: scalar::date_text(made_on).ok()?,
        stated_chance: chance,
        made_by: String::new(),
        note: String::new(),
    })
}

/// `2026-10-11@2026-09-14@2026-09-16 ...`: the promised day, when it became known, when it was taken back.
pub(super) fn taken_back(
    row: &mut Cursor<'_>,
    column: &'static str,
) -> Option<Vec<(Promise, Date)>> {
    row.misread(column, Reason::DateInvalid)?;
    let mut out = Vec::new();
    let mut fine = true;
    for word in row.cells.get(column).split_whitespace() {
        let days: Vec<_> = word.split('@').map(scalar::date_text).collect();
        match days.as_slice() {
            [Ok(promised_on), Ok(known_on), Ok(on)] => {
                let promise = Promise { promised_on: *promised_on, known_on: *known_on };
                out.push((promise, *on));
            }
            _ => {
                fine = false;
                let message = format!(
                    "\"{}\" is not of the form 2026-10-11@2026-09-14@2026-09-16: the promised day, when \
                     it became known, and when it was taken back",
                    scalar::shown(word)
                );
                row.read.fault(column, Reason::DateInvalid, message);
            }
        }
    }
    fine.then_some(out)
}
