//! Reads the rows of each file.

use super::cursor::Cursor;
use super::dates::{customer_promises, promises, taken_back};
use super::stood;
use super::{
    Awaited, Bin, Binding, Build, Kit, Line, Offer, OrderLine, Part, Stage, Stock, Supplier,
};
use crate::import::columns::Kind;
use crate::import::{Cells, Row, Sheets};
use baystart_core::book::model::BuildState;
use baystart_core::command::{BuildFields, NewClosure};
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_core::restore::RestoredLine;
use baystart_proto::convert::{Reader, scalar};

/// Priority of a build that names none.
const PRIORITY_DEFAULT: i32 = 100;

/// Reads one row into its list, or notes what is wrong with it.
pub(crate) fn read(sheets: &mut Sheets, kind: Kind, cells: Cells) {
    macro_rules! keep {
        ($list:ident, $read:ident) => {{
            let mut cursor = Cursor { cells: &cells, read: Reader::new() };
            let value = $read(&mut cursor);
            match cursor.read.finish(value) {
                Ok(value) => sheets.$list.push(Row { cells, value }),
                Err(unread) => {
                    for fault in unread.faults.list() {
                        sheets.bad.push(cells.bad_at(fault));
                    }
                    sheets.doubtful.add(kind, &cells);
                }
            }
        }};
    }
    match kind {
        Kind::Suppliers => keep!(suppliers, supplier),
        Kind::Parts => keep!(parts, part),
        Kind::Kits => keep!(kits, kit),
        Kind::Offers => keep!(offers, offer),
        Kind::Bins => keep!(bins, bin),
        Kind::OpeningStock => keep!(stock, stock),
        Kind::Builds => keep!(builds, build),
        Kind::Stages => keep!(stages, stage),
        Kind::BuildLines => keep!(lines, line),
        Kind::OpenOrders => keep!(orders, order_line),
        Kind::Awaited => keep!(awaited, awaited),
        Kind::Bindings => keep!(bindings, binding),
        Kind::ClosedDays | Kind::ClosedDaysIcs => keep!(closed_days, closed_day),
    }
}

fn supplier(row: &mut Cursor<'_>) -> Option<Supplier> {
    let code = row.number("code");
    let name = row.need_text("name");
    Some(Supplier { code: code?, name: name? })
}

fn part(row: &mut Cursor<'_>) -> Option<Part> {
    let number = row.number("part");
    let description = row.need_text("description");
    let unit = row.read.unit("unit", row.cells.get("unit"));
    let flags = ["consumable", "safety_related", "lot_tracked"].map(|column| row.flag(column));
    let gtin = row.text("gtin");
    let handling_note = row.text("handling_note");
    let made = row.made();
    let family = row.text("family");
    let finish = row.text("finish");
    let made_to_order = row.flag("made_to_order");
    let superseded_by = row.maybe_number("superseded_by");
    let companions = row.numbers("companions");
    let stocked = row.stocked();
    let [consumable, safety_related, lot_tracked] = flags;
    Some(Part {
        number: number?,
        description: description?,
        unit: unit?,
        consumable: consumable?,
        safety_related: safety_related?,
        lot_tracked: lot_tracked?,
        gtin: gtin?,
        handling_note: handling_note?,
        made: made?.unwrap_or_default(),
        family: family?,
        finish: finish?,
        made_to_order: made_to_order?,
        superseded_by: superseded_by?,
        companions: companions?,
        stocked: stocked?,
    })
}

fn kit(row: &mut Cursor<'_>) -> Option<Kit> {
    let kit = row.number("kit");
    let component = row.number("component");
    let quantity = row.quantity("quantity");
    Some(Kit { kit: kit?, component: component?, quantity: quantity? })
}

fn offer(row: &mut Cursor<'_>) -> Option<Offer> {
    let supplier = row.number("supplier");
    let part = row.number("part");
    let item_number = row.text("item_number");
    let price = row.price();
    let pack_size = row.maybe_quantity("pack_size");
    let minimum_quantity = row.maybe_quantity("minimum_quantity");
    let quoted_days = row.whole("quoted_lead_time_days");
    let preferred = row.flag("preferred");
    Some(Offer {
        supplier: supplier?,
        part: part?,
        item_number: item_number?,
        price: price?,
        pack_size: pack_size?,
        minimum_quantity: minimum_quantity?,
        quoted_days: quoted_days?,
        preferred: preferred?,
    })
}

fn bin(row: &mut Cursor<'_>) -> Option<Bin> {
    let code = row.number("bin");
    let description = row.text("description");
    Some(Bin { code: code?, description: description? })
}

fn closed_day(row: &mut Cursor<'_>) -> Option<NewClosure> {
    let first_day = row.need_date("first_day");
    let last_day = row.date("last_day");
    let name = row.text("name");
    let supplier = row.maybe_number("supplier");
    let (first_day, last_day) = (first_day?, last_day?.or(first_day)?);
    if last_day < first_day {
        let message = format!("{last_day} is before the first day, {first_day}");
        row.read.fault("last_day", Reason::DateInvalid, message);
    }
    Some(NewClosure { supplier: supplier?.map(Ref::Number), first_day, last_day, name: name? })
}

fn stock(row: &mut Cursor<'_>) -> Option<Stock> {
    let part = row.number("part");
    let bin = row.number("bin");
    // A sheet of stock names the empty places too.
    let quantity = match row.cells.get("quantity") {
        "" => row.quantity("quantity"),
        _ => row.some_or_none("quantity"),
    };
    let lot = row.text("lot");
    let quarantined = row.flag("quarantined");
    let expires_on = row.date("expires_on");
    let counted_on = row.date("counted_on");
    Some(Stock {
        part: part?,
        bin: bin?,
        quantity: quantity?,
        lot: lot?,
        quarantined: quarantined?,
        expires_on: expires_on?,
        counted_on: counted_on?,
    })
}

/// None: the cell is empty.
#[allow(clippy::option_option)]
fn state(row: &mut Cursor<'_>, column: &'static str) -> Option<Option<BuildState>> {
    use BuildState::{Cancelled, Delivered, InBay, OnHold, Open, Quoted, ReadyForHandover};
    let text = row.text(column)?;
    if text.is_empty() {
        return Some(None);
    }
    let states = [Quoted, Open, InBay, OnHold, ReadyForHandover, Delivered, Cancelled];
    let wanted = text.to_lowercase().replace(['_', '-'], " ");
    let found = states.into_iter().find(|state| state.text() == wanted);
    if found.is_none() {
        let names: Vec<_> = states.iter().map(|state| state.text()).collect();
        let message =
            format!("\"{}\" is no state; it may be {}", scalar::shown(&text), names.join(", "));
        row.read.fault(column, Reason::ValueInvalid, message);
        return None;
    }
    Some(found)
}

fn build(row: &mut Cursor<'_>) -> Option<Build> {
    let number = row.number("build");
    let vehicle = row.need_text("vehicle");
    let customer = row.text("customer");
    let priority = row.whole("priority");
    let planned_start = row.date("planned_start");
    let required_by = row.date("required_by");
    let stands = state(row, "state");
    if stands == Some(None) {
        row.read.fault("state", Reason::FieldMissing, "is needed");
    }
    let note = row.text("note");
    let for_stock = row.flag("for_stock");
    let staging_bin = row.maybe_number("staging_bin");
    let held_from = state(row, "held_from");
    let opened_at = row.instant("opened_at");
    let customer_promises = customer_promises(row, "promised");
    let delivered_on = row.date("delivered_on");
    let priority = priority?.and_then(|p| i32::try_from(p).ok());
    let fields = BuildFields {
        vehicle: vehicle?,
        customer: customer?,
        priority: priority.unwrap_or(PRIORITY_DEFAULT),
        planned_start: planned_start?,
        required_by: required_by?,
        staging_bin: staging_bin?.map(Ref::Number),
    };
    Some(Build {
        number: number?,
        fields,
        state: stands??,
        note: note?,
        for_stock: for_stock?,
        held_from: held_from?,
        opened_at: opened_at?,
        customer_promises: customer_promises?,
        delivered_on: delivered_on?,
    })
}

fn stage(row: &mut Cursor<'_>) -> Option<Stage> {
    let build = row.number("build");
    let name = row.number("stage");
    let planned_days = row.whole("planned_days");
    if planned_days == Some(None) {
        row.read.fault("planned_days", Reason::FieldMissing, "is needed");
    }
    let begun_on = row.date("begun_on");
    let done_on = row.date("done_on");
    let off_site = row.maybe_number("off_site");
    if let (Some(None), Some(Some(done))) = (begun_on, done_on) {
        let message = format!("a stage that was done on {done} was begun on some day");
        row.read.fault("begun_on", Reason::FieldMissing, message);
    }
    Some(Stage {
        build: build?,
        name: name?,
        planned_days: planned_days??,
        begun_on: begun_on?,
        done_on: done_on?,
        off_site: off_site?,
    })
}

fn line(row: &mut Cursor<'_>) -> Option<Line> {
    let build = row.number("build");
    let stage = row.need_text("stage");
    let part = row.number("part");
    let numbered = row.maybe_line("line");
    let quantity = match numbered {
        // A line that was reduced to nothing keeps its number.
        Some(Some(_)) => row.some_or_none("quantity"),
        _ => row.quantity("quantity"),
    };
    let issued = row.some_or_none("issued");
    let customer_supplied = row.flag("customer_supplied");
    let stood = stood::line(row, numbered);
    let (stage, part, quantity, issued) = (stage?, part?, quantity?, issued?);
    let customer_supplied = customer_supplied?;
    let stood = stood?.map(|stood| {
        Box::new(RestoredLine {
            stage: stage.clone(),
            part: Ref::Number(part.clone()),
            quantity,
            issued,
            customer_supplied,
            ..stood
        })
    });
    Some(Line { build: build?, stage, part, quantity, issued, customer_supplied, stood })
}

fn awaited(row: &mut Cursor<'_>) -> Option<Awaited> {
    Some(Awaited { build: row.number("build")?, item: stood::awaited(row)? })
}

fn binding(row: &mut Cursor<'_>) -> Option<Binding> {
    let build = row.number("build")?;
    Some(Binding { binding: stood::binding(row, &build)?, build })
}

fn order_line(row: &mut Cursor<'_>) -> Option<OrderLine> {
    let order = row.number("order");
    let line = row.whole("line");
    let line = line.map(|line| line.and_then(|n| i32::try_from(n).ok()).unwrap_or(0));
    let line = line.and_then(|line| row.read.line_number("line", line));
    let supplier = row.number("supplier");
    let part = row.number("part");
    let quantity = row.quantity("quantity");
    let supplier_reference = row.text("supplier_reference");
    let price = row.price();
    let placed_on = row.date("placed_on");
    let acknowledged_on = row.date("acknowledged_on");
    let promised_on = row.date("promised_on");
    let known_on = row.date("promise_known_on");
    let promises = promises(row, "earlier_promises");
    let despatched_on = row.date("despatched_on");
    let for_build = row.maybe_number("for_build");
    let for_stage = row.text("for_stage");
    let for_line = row.maybe_line("for_line");
    let package_line = row.maybe_line("package_line");
    let rejected = row.some_or_none("rejected");
    let quoted_days = match row.cells.get("quoted_lead_time_days") {
        "" => Some(None),
        "none" => Some(Some(None)),
        _ => row.whole("quoted_lead_time_days").map(Some),
    };
    let last_contact_on = row.date("last_contact_on");
    let taken_over = match row.cells.get("taken_over") {
        "" => Some(None),
        _ => row.flag("taken_over").map(Some),
    };
    let taken_back = taken_back(row, "taken_back");
    let mut promises = promises?;
    if placed_on == Some(None) {
        for column in ["acknowledged_on", "promised_on", "earlier_promises", "despatched_on"] {
            if !row.cells.get(column).is_empty() {
                let message =
                    "the order is a draft (placed_on is empty): the supplier has no part in it";
                row.read.fault(column, Reason::ValueInvalid, message);
            }
        }
    }
    if let (Some(Some(_)), Some(text)) = (&for_build, &for_stage)
        && text.is_empty()
        && for_line == Some(None)
    {
        row.read.fault("for_stage", Reason::FieldMissing, "is needed where for_build is given");
    }
    let (placed_on, acknowledged_on) = (placed_on?, acknowledged_on?);
    if let Some(promised) = promised_on? {
        match known_on?.or(acknowledged_on).or(placed_on) {
            Some(known) => promises.push((promised, known)),
            None => {
                let message = "the day on which the promise became known is needed";
                row.read.fault("promise_known_on", Reason::FieldMissing, message);
            }
        }
    }
    promises.sort_by_key(|(_, known)| *known);
    Some(OrderLine {
        order: order?,
        line: line?,
        supplier: supplier?,
        part: part?,
        quantity: quantity?,
        supplier_reference: supplier_reference?,
        price: price?,
        placed_on,
        acknowledged_on,
        promises,
        despatched_on: despatched_on?,
        for_build: for_build?,
        for_stage: for_stage?,
        for_line: for_line?,
        package_line: package_line?.unwrap_or(0),
        rejected: rejected?,
        quoted_days: quoted_days?,
        last_contact_on: last_contact_on?,
        taken_over: taken_over?,
        taken_back: taken_back?,
    })
}
