//! Requests of PurchasingService.

use super::{Reader, Unread, Write, ledger};
use crate::v1;
use baystart_core::command::{
    BinQuantity, CancelledBy, Command, NewOrderLine, OrderCommand, ReceiptLine, Rejection,
    Settlement, StockCommand,
};
use baystart_core::refusal::{Reason, nth};

/// Reads a new order.
///
/// # Errors
/// Every field that does not read.
pub fn create_order(request: &v1::CreateOrderRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let number = read.number("number", &request.number);
    let supplier = read.supplier("supplier", request.supplier.as_ref());
    let placed_on = read.date("placed_on", request.placed_on.as_ref());
    let mut lines = Vec::new();
    if read.list("lines", &request.lines, true) {
        for (i, line) in request.lines.iter().enumerate() {
            lines.extend(order_line(&mut read, i, line));
        }
    }
    read.write(id, || {
        let (number, supplier, placed_on) = (number?, supplier?, placed_on?);
        Some(Command::Order(OrderCommand::Create { number, supplier, lines, placed_on }))
    })
}

fn order_line(read: &mut Reader, i: usize, line: &v1::NewOrderLine) -> Option<NewOrderLine> {
    let at = |field: &'static str| nth("lines", i).then(field);
    let part = read.part(at("part"), line.part.as_ref());
    let quantity = read.quantity(at("quantity"), line.quantity.as_ref());
    let unit = read.maybe_unit(at("unit_code"), &line.unit_code);
    let price = read.money(at("price"), line.price.as_ref());
    let for_line = match &line.for_line {
        None => Some(None),
        Some(for_line) => read.build_line(at("for_line"), Some(for_line)).map(Some),
    };
    Some(NewOrderLine {
        part: part?,
        quantity: quantity?,
        unit: unit?,
        price: price?,
        for_line: for_line?,
    })
}

/// Reads an order to place.
///
/// # Errors
/// Every field that does not read.
pub fn place_order(request: &v1::PlaceOrderRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (order, occurred_on) = (order?, occurred_on?);
        let unneeded_too = request.unneeded_too;
        Some(Command::Order(OrderCommand::Place { order, occurred_on, unneeded_too }))
    })
}

/// Reads a supplier's answer.
///
/// # Errors
/// Every field that does not read.
pub fn record_acknowledgement(request: &v1::RecordAcknowledgementRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let reference = read.text("supplier_reference", &request.supplier_reference);
    let mut promises = Vec::new();
    if read.list("promises", &request.promises, true) {
        for (i, promise) in request.promises.iter().enumerate() {
            let at = |field: &'static str| nth("promises", i).then(field);
            let line = read.line_number(at("line_number"), promise.line_number);
            let day = read.date(at("promised_on"), promise.promised_on.as_ref());
            promises.extend(line.zip(day));
        }
    }
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Order(OrderCommand::Acknowledge {
            order: order?,
            supplier_reference: reference?,
            promises,
            occurred_on: occurred_on?,
        }))
    })
}

fn line_numbers(read: &mut Reader, wire: &[i32]) -> Vec<i32> {
    let mut out = Vec::new();
    if read.list("line_numbers", wire, false) {
        for (i, number) in wire.iter().enumerate() {
            out.extend(read.line_number(nth("line_numbers", i), *number));
        }
    }
    out
}

/// Reads the lines whose promise was a mistake.
///
/// # Errors
/// Every field that does not read.
pub fn take_back_promise(request: &v1::TakeBackPromiseRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let lines = line_numbers(&mut read, &request.line_numbers);
    let reason = read.text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Order(OrderCommand::TakeBack {
            order: order?,
            lines,
            reason: reason?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads a despatch notice.
///
/// # Errors
/// Every field that does not read.
pub fn record_despatch(request: &v1::RecordDespatchRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let lines = line_numbers(&mut read, &request.line_numbers);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (order, occurred_on) = (order?, occurred_on?);
        Some(Command::Order(OrderCommand::Despatch { order, lines, occurred_on }))
    })
}

/// Reads a contact with the supplier.
///
/// # Errors
/// Every field that does not read.
pub fn record_contact(request: &v1::RecordContactRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let lines = line_numbers(&mut read, &request.line_numbers);
    let note = read.text("note", &request.note);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (order, note, occurred_on) = (order?, note?, occurred_on?);
        Some(Command::Order(OrderCommand::Contact { order, lines, note, occurred_on }))
    })
}

/// Reads what came of an order.
///
/// # Errors
/// Every field that does not read.
pub fn receive_order(request: &v1::ReceiveOrderRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let mut lines = Vec::new();
    if read.list("lines", &request.lines, true) {
        for (i, line) in request.lines.iter().enumerate() {
            lines.extend(receipt_line(&mut read, i, line));
        }
    }
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let (order, occurred_on) = (order?, occurred_on?);
        Some(Command::Order(OrderCommand::Receive { order, lines, occurred_on }))
    })
}

fn receipt_line(read: &mut Reader, i: usize, line: &v1::ReceiptLine) -> Option<ReceiptLine> {
    let at = |field: &'static str| nth("lines", i).then(field);
    let number = read.line_number(at("line_number"), line.line_number);
    let quantity = read.maybe_quantity(at("quantity"), line.quantity.as_ref());
    let bin = read.bin(at("bin"), line.bin.as_ref());
    let lot = read.text(at("lot"), &line.lot);
    let expires_on = read.date(at("expires_on"), line.expires_on.as_ref());
    let over = read.text(at("over_delivery_accepted_by"), &line.over_delivery_accepted_by);
    Some(ReceiptLine {
        line: number?,
        quantity: quantity?,
        bin: bin?,
        lot: lot?,
        expires_on: expires_on?,
        over_accepted_by: Some(over?).filter(|name| !name.is_empty()),
    })
}

/// Reads goods that came without an order.
///
/// # Errors
/// Every field that does not read.
pub fn receive_stock(request: &v1::ReceiveStockRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let bin = ("bin", request.bin.as_ref());
    let quantity = request.quantity.as_ref();
    let at = ledger::at(&mut read, request.part.as_ref(), bin, &request.lot, quantity);
    let expires_on = read.date("expires_on", request.expires_on.as_ref());
    let supplier = match &request.supplier {
        None => Some(None),
        Some(supplier) => read.supplier("supplier", Some(supplier)).map(Some),
    };
    let reason = read.text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Stock(StockCommand::Receive {
            at: at?,
            supplier: supplier?,
            reason: reason?,
            expires_on: expires_on?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads order lines to cancel.
///
/// # Errors
/// Every field that does not read.
pub fn cancel_order_lines(request: &v1::CancelOrderLinesRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let lines = line_numbers(&mut read, &request.line_numbers);
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    if request.quantity.is_some() && request.line_numbers.len() != 1 {
        let message =
            format!("is only allowed with one line; {} are named", request.line_numbers.len());
        read.fault("quantity", Reason::ValueInvalid, message);
    }
    let by = match request.cancelled_by() {
        v1::CancelledBy::Us => Some(CancelledBy::Us),
        v1::CancelledBy::Supplier => Some(CancelledBy::Supplier),
        v1::CancelledBy::Unspecified => {
            read.fault("cancelled_by", Reason::FieldMissing, "is needed: us or the supplier");
            None
        }
    };
    let reason = read.text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Order(OrderCommand::Cancel {
            order: order?,
            lines,
            quantity: quantity?,
            by: by?,
            reason: reason?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads goods that are not as ordered.
///
/// # Errors
/// Every field that does not read.
pub fn reject_goods(request: &v1::RejectGoodsRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let order = read.order("order", request.order.as_ref());
    let line = read.line_number("line_number", request.line_number);
    let quantity = read.quantity("quantity", request.quantity.as_ref());
    let reason = read.need_text("reason", &request.reason);
    let lot = read.text("lot", &request.lot);
    let settlement = match request.settlement() {
        v1::Settlement::Redelivery => Some(Settlement::Redelivery),
        v1::Settlement::Credit => Some(Settlement::Credit),
        v1::Settlement::Unspecified => {
            read.fault("settlement", Reason::FieldMissing, "is needed");
            None
        }
    };
    let how = match request.kind() {
        v1::RejectionKind::Unspecified => {
            read.fault("kind", Reason::FieldMissing, "is needed");
            None
        }
        v1::RejectionKind::Refused if request.bin.is_some() => {
            let message = "what was refused at the door lies in no bin";
            read.fault("bin", Reason::ValueInvalid, message);
            None
        }
        v1::RejectionKind::Refused => Some(Rejection::Refused),
        kind => {
            let bin = read.bin("bin", request.bin.as_ref());
            bin.zip(lot).map(|(bin, lot)| match kind {
                v1::RejectionKind::Quarantined => Rejection::Quarantined { bin, lot },
                kind => Rejection::SentBack {
                    bin,
                    lot,
                    from_quarantine: kind == v1::RejectionKind::SentBackFromQuarantine,
                },
            })
        }
    };
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Order(OrderCommand::Reject {
            order: order?,
            line: line?,
            quantity: quantity?,
            how: how?,
            settlement: settlement?,
            reason: reason?,
            occurred_on: occurred_on?,
        }))
    })
}

/// Reads stock that goes back without an order line.
///
/// # Errors
/// Every field that does not read.
pub fn return_to_supplier(request: &v1::ReturnToSupplierRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let part = read.part("part", request.part.as_ref());
    let bin = read.bin("bin", request.bin.as_ref());
    let lot = read.text("lot", &request.lot);
    let quantity = read.quantity("quantity", request.quantity.as_ref());
    let supplier = read.supplier("supplier", request.supplier.as_ref());
    let reason = read.need_text("reason", &request.reason);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        let at = BinQuantity { part: part?, bin: bin?, lot: lot?, quantity: quantity? };
        Some(Command::Stock(StockCommand::ReturnToSupplier {
            at,
            supplier: supplier?,
            reason: reason?,
            from_quarantine: request.from_quarantine,
            occurred_on: occurred_on?,
        }))
    })
}
