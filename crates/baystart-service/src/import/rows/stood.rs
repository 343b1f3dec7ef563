//! Rows that say how something stood: numbered build lines, awaited things, what
//! lines hold.

use super::cursor::Cursor;
use super::dates::promises;
use baystart_core::book::model::{AwaitedKind, Promise};
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_core::restore::{
    RestoredAwaited, RestoredBinding, RestoredLine, RestoredMaking, RestoredSource,
    RestoredSubstitution,
};
use baystart_proto::convert::scalar;

/// Columns that only a numbered line has.
const OF_NUMBERED: [&str; 17] = [
    "kit_line",
    "made_for",
    "exploded",
    "making_quantity",
    "making_done",
    "making_out",
    "made_in_shop_days",
    "finished_by",
    "finisher_days",
    "sent_on",
    "back_on",
    "promised_back",
    "at_finisher",
    "instead_of",
    "approved_by",
    "substitution_reason",
    "substituted_on",
];

/// What a numbered line says beyond part, stage and quantities; None where the
/// row has no number.
#[allow(clippy::option_option)]
pub(super) fn line(
    row: &mut Cursor<'_>,
    numbered: Option<Option<i32>>,
) -> Option<Option<RestoredLine>> {
    let Some(number) = numbered? else {
        let extra = OF_NUMBERED.into_iter().find(|column| !row.cells.get(column).is_empty());
        if let Some(column) = extra {
            let message = format!("is needed where {column} is given: the line's number");
            row.read.fault("line", Reason::FieldMissing, message);
            return None;
        }
        return Some(None);
    };
    let kit_line = row.maybe_line("kit_line");
    let made_for = row.maybe_line("made_for");
    let exploded = row.flag("exploded");
    let making = making(row);
    let at_finisher = at_finisher(row);
    let substituted = substituted(row);
    Some(Some(RestoredLine {
        number,
        stage: String::new(),
        part: Ref::Uid(uuid::Uuid::nil()),
        quantity: Quantity::ZERO,
        issued: Quantity::ZERO,
        kit_line: kit_line?.unwrap_or(0),
        made_for: made_for?.unwrap_or(0),
        exploded: exploded?,
        customer_supplied: false,
        making: making?,
        at_finisher: at_finisher?,
        substituted: substituted?,
    }))
}

#[allow(clippy::option_option)]
fn making(row: &mut Cursor<'_>) -> Option<Option<RestoredMaking>> {
    let how = row.made();
    let quantity = row.maybe_quantity("making_quantity");
    let done = row.some_or_none("making_done");
    let out = row.some_or_none("making_out");
    let sent_on = row.date("sent_on");
    let back_on = row.date("back_on");
    let promised = dates(row, "promised_back");
    let Some(quantity) = quantity? else {
        let columns = ["making_done", "making_out", "made_in_shop_days", "finished_by", "sent_on"];
        if let Some(column) = columns.into_iter().find(|c| !row.cells.get(c).is_empty()) {
            let message = format!("is needed where {column} is given");
            row.read.fault("making_quantity", Reason::FieldMissing, message);
            return None;
        }
        return Some(None);
    };
    Some(Some(RestoredMaking {
        how: how?,
        quantity,
        done: done?,
        out: out?,
        sent_on: sent_on?,
        back_on: back_on?,
        promises: promised?,
    }))
}

/// Dates in the order in which they became known.
fn dates(row: &mut Cursor<'_>, column: &'static str) -> Option<Vec<Promise>> {
    let mut dates: Vec<Promise> = promises(row, column)?
        .into_iter()
        .map(|(promised_on, known_on)| Promise { promised_on, known_on })
        .collect();
    dates.sort_by_key(|promise| promise.known_on);
    Some(dates)
}

/// `2`, or by lots `1@L7|1@L8`.
fn at_finisher(row: &mut Cursor<'_>) -> Option<Vec<(String, Quantity)>> {
    let column = "at_finisher";
    let mut out = Vec::new();
    for text in row.cells.get(column).split('|').map(str::trim).filter(|text| !text.is_empty()) {
        let (quantity, lot) = text.split_once('@').unwrap_or((text, ""));
        let quantity = row.read.take(column, scalar::quantity(quantity))?;
        out.push((lot.trim().to_owned(), quantity));
    }
    Some(out)
}

#[allow(clippy::option_option)]
fn substituted(row: &mut Cursor<'_>) -> Option<Option<RestoredSubstitution>> {
    let instead_of = row.maybe_number("instead_of");
    let approved_by = row.text("approved_by");
    let reason = row.text("substitution_reason");
    let on = row.date("substituted_on");
    let Some(instead_of) = instead_of? else { return Some(None) };
    let instead_of = Ref::Number(instead_of);
    let (approved_by, reason, on) = (approved_by?, reason?, on?);
    Some(Some(RestoredSubstitution { instead_of, approved_by, reason, on }))
}

fn kind(row: &mut Cursor<'_>) -> Option<AwaitedKind> {
    let text = row.need_text("kind")?;
    let kind = match text.to_lowercase().replace(['_', '-'], " ").as_str() {
        "vehicle" => AwaitedKind::Vehicle,
        "customer part" | "customer's part" => AwaitedKind::CustomerPart,
        "paper" => AwaitedKind::Paper,
        _ => {
            let message =
                format!("\"{}\" is none of: vehicle, customer part, paper", scalar::shown(&text));
            row.read.fault("kind", Reason::ValueInvalid, message);
            return None;
        }
    };
    Some(kind)
}

pub(super) fn awaited(row: &mut Cursor<'_>) -> Option<RestoredAwaited> {
    let number = row.maybe_line("item");
    let kind = kind(row);
    let name = row.need_text("name");
    let identification = row.text("identification");
    let source = row.text("source");
    let stage = row.text("stage");
    let line = row.maybe_line("line");
    let asked_on = row.date("asked_on");
    let quoted_days = row.whole("usual_days");
    let expected_on = row.date("expected_on");
    let known_on = row.date("expected_known_on");
    let earlier = dates(row, "earlier_dates");
    let received_on = row.date("received_on");
    let dropped_on = row.date("dropped_on");
    let asked_on = asked_on?;
    let mut promises = earlier?;
    if let Some(promised_on) = expected_on? {
        let Some(known_on) = known_on?.or(asked_on) else {
            let message = "the day on which the date became known is needed, or asked_on";
            row.read.fault("expected_known_on", Reason::FieldMissing, message);
            return None;
        };
        promises.push(Promise { promised_on, known_on });
        promises.sort_by_key(|promise| promise.known_on);
    }
    Some(RestoredAwaited {
        number: number?,
        kind: kind?,
        name: name?,
        identification: identification?,
        source: source?,
        stage: Some(stage?).filter(|stage| !stage.is_empty()),
        line: line?,
        asked_on,
        quoted_days: quoted_days?,
        promises,
        received_on: received_on?,
        dropped_on: dropped_on?,
    })
}

pub(super) fn binding(row: &mut Cursor<'_>, build: &Number) -> Option<RestoredBinding> {
    let line = row.maybe_line("line");
    if line == Some(None) {
        row.read.fault("line", Reason::FieldMissing, "is needed");
    }
    let quantity = row.quantity("quantity");
    let lot = row.text("lot");
    let order = row.maybe_number("order");
    let order_line = row.maybe_line("order_line");
    let kept = row.flag("kept");
    let (lot, kept) = (lot?, kept?);
    let what = match (order?, order_line?) {
        (None, None) => RestoredSource::Stock { lot },
        (Some(order), Some(line)) => {
            RestoredSource::OrderLine { order: Ref::Number(order), line, kept }
        }
        _ => {
            let message = "order and order_line are given together, or neither";
            row.read.fault("order_line", Reason::FieldMissing, message);
            return None;
        }
    };
    let build = Ref::Number(build.clone());
    Some(RestoredBinding { build, line: line??, quantity: quantity?, what })
}
