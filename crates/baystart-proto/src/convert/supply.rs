//! Requests of BuildService that concern what is bound to a build, what leaves
//! to it and what comes back.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::command::{BindCommand, Command, LineQuantity};
use baystart_core::refusal::nth;

fn lines(read: &mut Reader, wire: &[v1::LineQuantity], needed: bool) -> Option<Vec<LineQuantity>> {
    if !read.list("lines", wire, needed) {
        return None;
    }
    let mut out = Vec::new();
    for (i, line) in wire.iter().enumerate() {
        let at = |field: &'static str| nth("lines", i).then(field);
        let number = read.line_number(at("line_number"), line.line_number);
        let quantity = read.maybe_quantity(at("quantity"), line.quantity.as_ref());
        let lot = read.text(at("lot"), &line.lot);
        let bin = match &line.bin {
            None => Some(None),
            Some(bin) => read.bin(at("bin"), Some(bin)).map(Some),
        };
        let (Some(number), Some(quantity)) = (number, quantity) else { continue };
        let (Some(lot), Some(bin)) = (lot, bin) else { continue };
        let lot = Some(lot).filter(|lot| !lot.is_empty());
        out.push(LineQuantity { line: number, quantity, lot, bin });
    }
    Some(out)
}

/// Reads lines to reserve stock for.
///
/// # Errors
/// Every field that does not read.
pub fn reserve_stock(request: &v1::ReserveStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let lines = lines(&mut read, &request.lines, false);
    read.write(id, || Some(Command::Bind(BindCommand::Reserve { build: build?, lines: lines? })))
}

/// Reads lines whose reserved stock is given back.
///
/// # Errors
/// Every field that does not read.
pub fn release_stock(request: &v1::ReleaseStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let lines = lines(&mut read, &request.lines, true);
    read.write(id, || Some(Command::Bind(BindCommand::Release { build: build?, lines: lines? })))
}

/// Reads a peg.
///
/// # Errors
/// Every field that does not read.
pub fn peg_line(request: &v1::PegLineRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let order_line = read.order_line("order_line", request.order_line.as_ref());
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    read.write(id, || {
        let ((build, line), (order, order_line)) = (line?, order_line?);
        let quantity = quantity?;
        Some(Command::Bind(BindCommand::Peg { build, line, order, order_line, quantity }))
    })
}

/// Reads a peg to take off.
///
/// # Errors
/// Every field that does not read.
pub fn unpeg_line(request: &v1::UnpegLineRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let order_line = read.order_line("order_line", request.order_line.as_ref());
    read.write(id, || {
        let ((build, line), (order, order_line)) = (line?, order_line?);
        Some(Command::Bind(BindCommand::Unpeg { build, line, order, order_line }))
    })
}

/// Reads stock that leaves to a build.
///
/// # Errors
/// Every field that does not read.
pub fn issue_stock(request: &v1::IssueStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let lines = lines(&mut read, &request.lines, false);
    let stage = read.text("stage_name", &request.stage_name);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, lines, occurred_on) = (build?, lines?, occurred_on?);
        let stage = Some(stage?).filter(|stage| !stage.is_empty());
        Some(Command::Bind(BindCommand::Issue { build, lines, stage, occurred_on }))
    })
}

/// Reads stock that comes back from a build.
///
/// # Errors
/// Every field that does not read.
pub fn return_to_stock(request: &v1::ReturnToStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let lines = lines(&mut read, &request.lines, true);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, lines, occurred_on) = (build?, lines?, occurred_on?);
        Some(Command::Bind(BindCommand::Return { build, lines, occurred_on }))
    })
}
