//! Requests of LedgerService.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::command::{BinQuantity, Command, StockCommand};
use baystart_core::refusal::Reason;

/// Reads a new bin.
///
/// # Errors
/// Every field that does not read.
pub fn create_bin(request: &v1::CreateBinRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let Some(bin) = &request.bin else {
        read.fault("bin", Reason::FieldMissing, "is needed");
        return read.write(id, || None);
    };
    let code = read.number("bin.code", &bin.code);
    let description = read.text("bin.description", &bin.description);
    read.write(id, || Some(Command::CreateBin { code: code?, description: description? }))
}

/// Part, bin, lot and a positive quantity, under the names that most bookings
/// have for them.
pub(super) fn at(
    read: &mut Reader,
    part: Option<&v1::PartRef>,
    bin: (&'static str, Option<&v1::BinRef>),
    lot: &str,
    quantity: Option<&v1::Decimal>,
) -> Option<BinQuantity> {
    let part = read.part("part", part);
    let bin = read.bin(bin.0, bin.1);
    let lot = read.text("lot", lot);
    let quantity = read.quantity("quantity", quantity);
    Some(BinQuantity { part: part?, bin: bin?, lot: lot?, quantity: quantity? })
}

/// Reads a correction up or down.
///
/// # Errors
/// Every field that does not read.
pub fn adjust_stock(request: &v1::AdjustStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let part = read.part("part", request.part.as_ref());
    let bin = read.bin("bin", request.bin.as_ref());
    let lot = read.text("lot", &request.lot);
    let change = read.signed("change", request.change.as_ref());
    if change.is_some_and(|change| change.is_zero()) {
        read.fault("change", Reason::QuantityInvalid, "0 changes nothing");
    }
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    let expires_on = read.date("expires_on", request.expires_on.as_ref());
    read.write(id, || {
        Some(Command::Stock(StockCommand::Adjust {
            at: BinQuantity { part: part?, bin: bin?, lot: lot?, quantity: change? },
            reason: reason?,
            expires_on: expires_on?,
            opening: false,
            quarantined: false,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads a move between bins.
///
/// # Errors
/// Every field that does not read.
pub fn move_stock(request: &v1::MoveStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let from = ("from", request.from.as_ref());
    let at = at(&mut read, request.part.as_ref(), from, &request.lot, request.quantity.as_ref());
    let to = read.bin("to", request.to.as_ref());
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Stock(StockCommand::Move { at: at?, to: to?, occurred_on: occurred_on? }))
    })
}

/// Reads a write-off.
///
/// # Errors
/// Every field that does not read.
pub fn scrap_stock(request: &v1::ScrapStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let bin = ("bin", request.bin.as_ref());
    let at = at(&mut read, request.part.as_ref(), bin, &request.lot, request.quantity.as_ref());
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    let from_quarantine = request.from_quarantine;
    read.write(id, || {
        let (at, reason, occurred_on) = (at?, reason?, occurred_on?);
        Some(Command::Stock(StockCommand::Scrap { at, reason, from_quarantine, occurred_on }))
    })
}

/// Reads stock to quarantine.
///
/// # Errors
/// Every field that does not read.
pub fn quarantine_stock(request: &v1::QuarantineStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let bin = ("bin", request.bin.as_ref());
    let at = at(&mut read, request.part.as_ref(), bin, &request.lot, request.quantity.as_ref());
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (at, reason, occurred_on) = (at?, reason?, occurred_on?);
        Some(Command::Stock(StockCommand::Quarantine { at, reason, occurred_on }))
    })
}

/// Reads quarantined stock to release.
///
/// # Errors
/// Every field that does not read.
pub fn release_quarantine(request: &v1::ReleaseQuarantineRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let bin = ("bin", request.bin.as_ref());
    let at = at(&mut read, request.part.as_ref(), bin, &request.lot, request.quantity.as_ref());
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (at, reason, occurred_on) = (at?, reason?, occurred_on?);
        Some(Command::Stock(StockCommand::ReleaseQuarantine { at, reason, occurred_on }))
    })
}

/// Reads a found part.
///
/// # Errors
/// Every field that does not read.
pub fn record_found(request: &v1::RecordFoundRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let line = read.build_line("line", request.line.as_ref());
    let quantity = read.quantity("quantity", request.quantity.as_ref());
    let lot = read.text("lot", &request.lot);
    let reason = read.text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (build, line) = line?;
        Some(Command::Stock(StockCommand::Found {
            build,
            line,
            quantity: quantity?,
            lot: lot?,
            reason: reason?,
            occurred_on: occurred_on?,
        }))
    })
}
