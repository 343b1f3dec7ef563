//! Requests that concern what is made, awaited, substituted or picked.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::book::model::AwaitedKind;
use baystart_core::command::{
    BindCommand, BuildCommand, Command, MakeCommand, NewAwaited, PickedLine,
};
use baystart_core::refusal::{Reason, nth};

/// Reads another part for one line.
///
/// # Errors
/// Every field that does not read.
pub fn substitute_part(request: &v1::SubstitutePartRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let part = read.part("part", request.part.as_ref());
    let approved_by = read.need_text("approved_by", &request.approved_by);
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, line) = line?;
        Some(Command::Build(BuildCommand::Substitute {
            build,
            line,
            part: part?,
            approved_by: approved_by?,
            reason: reason?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads things that a build awaits.
///
/// # Errors
/// Every field that does not read.
pub fn add_awaited(request: &v1::AddAwaitedRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let mut items = Vec::new();
    if read.list("items", &request.items, true) {
        for (i, item) in request.items.iter().enumerate() {
            items.extend(awaited(&mut read, i, item));
        }
    }
    read.write(id, || Some(Command::Build(BuildCommand::AddAwaited { build: build?, items })))
}

fn awaited(read: &mut Reader, i: usize, item: &v1::NewAwaitedItem) -> Option<NewAwaited> {
    let at = |field: &'static str| nth("items", i).then(field);
    let kind = match item.kind() {
        v1::AwaitedKind::Vehicle => Some(AwaitedKind::Vehicle),
        v1::AwaitedKind::CustomerPart => Some(AwaitedKind::CustomerPart),
        v1::AwaitedKind::Paper => Some(AwaitedKind::Paper),
        v1::AwaitedKind::Unspecified => {
            read.fault(at("kind"), Reason::FieldMissing, "is needed");
            None
        }
    };
    let name = read.need_text(at("name"), &item.name);
    let identification = read.text(at("identification"), &item.identification);
    let source = read.text(at("source"), &item.source);
    let stage = read.text(at("stage_name"), &item.stage_name);
    let line = match item.line_number {
        0 => Some(None),
        number => read.line_number(at("line_number"), number).map(Some),
    };
    let asked_on = read.date(at("asked_on"), item.asked_on.as_ref());
    let quoted_days = match item.usual_days {
        None => Some(None),
        Some(days) => read.whole(at("usual_days"), days).map(Some),
    };
    let expected_on = read.date(at("expected_on"), item.expected_on.as_ref());
    Some(NewAwaited {
        kind: kind?,
        name: name?,
        identification: identification?,
        source: source?,
        stage: Some(stage?).filter(|stage| !stage.is_empty()),
        line: line?,
        asked_on: asked_on?,
        quoted_days: quoted_days?,
        expected_on: expected_on?,
    })
}

/// Reads news of an awaited thing.
///
/// # Errors
/// Every field that does not read.
pub fn record_awaited_news(request: &v1::RecordAwaitedNewsRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let item = read.line_number("item_number", request.item_number);
    let expected_on = read.date("expected_on", request.expected_on.as_ref());
    let identification = match &request.identification {
        None => Some(None),
        Some(text) => read.text("identification", text).map(Some),
    };
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Build(BuildCommand::ExpectAwaited {
            build: build?,
            item: item?,
            expected_on: expected_on?,
            identification: identification?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads that an awaited thing came.
///
/// # Errors
/// Every field that does not read.
pub fn receive_awaited(request: &v1::ReceiveAwaitedRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let item = read.line_number("item_number", request.item_number);
    let bin = match &request.bin {
        None => Some(None),
        Some(bin) => read.bin("bin", Some(bin)).map(Some),
    };
    let lot = read.text("lot", &request.lot);
    let identification = match &request.identification {
        None => Some(None),
        Some(text) => read.text("identification", text).map(Some),
    };
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Build(BuildCommand::ReceiveAwaited {
            build: build?,
            item: item?,
            bin: bin?,
            lot: lot?,
            identification: identification?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads that an awaited thing is no longer needed.
///
/// # Errors
/// Every field that does not read.
pub fn drop_awaited(request: &v1::DropAwaitedRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let item = read.line_number("item_number", request.item_number);
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Build(BuildCommand::DropAwaited {
            build: build?,
            item: item?,
            reason: reason?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads what was made in the shop.
///
/// # Errors
/// Every field that does not read.
pub fn record_made(request: &v1::RecordMadeRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    let bin = read.bin("bin", request.bin.as_ref());
    let lot = read.text("lot", &request.lot);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, line) = line?;
        let (quantity, bin, lot, occurred_on) = (quantity?, bin?, lot?, occurred_on?);
        Some(Command::Make(MakeCommand::RecordMade {
            build,
            line,
            quantity,
            bin,
            lot,
            occurred_on,
        }))
    })
}

/// Reads what leaves to a finisher.
///
/// # Errors
/// Every field that does not read.
pub fn send_out(request: &v1::SendOutRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    let promised_on = read.date("promised_back_on", request.promised_back_on.as_ref());
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, line) = line?;
        let (quantity, promised_on, occurred_on) = (quantity?, promised_on?, occurred_on?);
        Some(Command::Make(MakeCommand::SendOut {
            build,
            line,
            quantity,
            promised_on,
            occurred_on,
        }))
    })
}

/// Reads a finisher's date.
///
/// # Errors
/// Every field that does not read.
pub fn record_finisher_promise(
    request: &v1::RecordFinisherPromiseRequest,
) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let promised_on = read.need_date("promised_back_on", request.promised_back_on.as_ref());
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, line) = line?;
        let (promised_on, occurred_on) = (Some(promised_on?), occurred_on?);
        Some(Command::Make(MakeCommand::PromiseBack { build, line, promised_on, occurred_on }))
    })
}

/// Reads what came back finished.
///
/// # Errors
/// Every field that does not read.
pub fn record_came_back(request: &v1::RecordCameBackRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    let bin = read.bin("bin", request.bin.as_ref());
    let lot = read.text("lot", &request.lot);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, line) = line?;
        let (quantity, bin, lot, occurred_on) = (quantity?, bin?, lot?, occurred_on?);
        Some(Command::Make(MakeCommand::CameBack { build, line, quantity, bin, lot, occurred_on }))
    })
}

/// Reads what was picked.
///
/// # Errors
/// Every field that does not read.
pub fn confirm_pick(request: &v1::ConfirmPickRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let mut lines = Vec::new();
    if read.list("lines", &request.lines, true) {
        for (i, line) in request.lines.iter().enumerate() {
            let at = |field: &'static str| nth("lines", i).then(field);
            let number = read.line_number(at("line_number"), line.line_number);
            let bin = read.bin(at("bin"), line.bin.as_ref());
            let lot = read.text(at("lot"), &line.lot);
            let mut none_or = |field: &'static str, wire: Option<&v1::Decimal>| match wire {
                None => Some(baystart_core::quantity::Quantity::ZERO),
                Some(_) => read.signed(at(field), wire),
            };
            let picked = none_or("picked", line.picked.as_ref());
            let missing = none_or("missing", line.missing.as_ref());
            let (Some(line), Some(bin), Some(lot)) = (number, bin, lot) else { continue };
            let (Some(picked), Some(missing)) = (picked, missing) else { continue };
            lines.push(PickedLine { line, bin, lot, picked, missing });
        }
    }
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, occurred_on) = (build?, occurred_on?);
        Some(Command::Bind(BindCommand::Pick { build, lines, occurred_on }))
    })
}
