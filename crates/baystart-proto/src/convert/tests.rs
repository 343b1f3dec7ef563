//! What requests read as, and that every fault of one comes at once.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::v1;
use baystart_core::command::{BuildCommand, Command, OrderCommand};
use baystart_core::refs::{Ref, RefKind};

fn faults<T: std::fmt::Debug>(result: Result<T, Unread>) -> Vec<(String, &'static str)> {
    let unread = result.unwrap_err();
    let faults = unread.faults.list().iter();
    faults.map(|fault| (fault.field.to_string(), fault.reason.text())).collect()
}

fn want(pairs: &[(&str, &'static str)]) -> Vec<(String, &'static str)> {
    pairs.iter().map(|(field, reason)| ((*field).to_owned(), *reason)).collect()
}

fn decimal(text: &str) -> Option<v1::Decimal> {
    Some(v1::Decimal { value: text.to_owned() })
}

fn part(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

const ID: &str = "01997f2e-7a2b-7c3d-8e4f-0123456789ab";

#[test]
fn an_empty_write_asks_for_its_request_id_and_for_more() {
    macro_rules! empty {
        ($($read:ident $request:ident),* $(,)?) => {$(
            let got = faults($read(&v1::$request::default()));
            assert_eq!(got[0], ("request_id".to_owned(), "FIELD_MISSING"), stringify!($read));
            assert!(got.len() > 1, "{}: {got:?}", stringify!($read));
        )*};
    }
    empty!(
        update_shop UpdateShopRequest, add_closures AddClosuresRequest,
        remove_closures RemoveClosuresRequest, create_part CreatePartRequest,
        update_part UpdatePartRequest, create_supplier CreateSupplierRequest,
        update_supplier UpdateSupplierRequest, put_offer PutOfferRequest,
        create_bin CreateBinRequest, adjust_stock AdjustStockRequest,
        move_stock MoveStockRequest, scrap_stock ScrapStockRequest,
        quarantine_stock QuarantineStockRequest, release_quarantine ReleaseQuarantineRequest,
        record_found RecordFoundRequest, create_build CreateBuildRequest,
        update_build UpdateBuildRequest, add_build_lines AddBuildLinesRequest,
        change_build_line ChangeBuildLineRequest, open_build OpenBuildRequest,
        hold_build HoldBuildRequest, resume_build ResumeBuildRequest,
        put_in_bay PutInBayRequest, begin_stage BeginStageRequest,
        finish_stage FinishStageRequest, mark_ready_for_handover MarkReadyForHandoverRequest,
        deliver_build DeliverBuildRequest, cancel_build CancelBuildRequest,
        reserve_stock ReserveStockRequest, release_stock ReleaseStockRequest,
        peg_line PegLineRequest, unpeg_line UnpegLineRequest, issue_stock IssueStockRequest,
        return_to_stock ReturnToStockRequest, create_order CreateOrderRequest,
        place_order PlaceOrderRequest, record_acknowledgement RecordAcknowledgementRequest,
        take_back_promise TakeBackPromiseRequest,
        record_despatch RecordDespatchRequest, record_contact RecordContactRequest,
        receive_order ReceiveOrderRequest, receive_stock ReceiveStockRequest,
        cancel_order_lines CancelOrderLinesRequest, issue_token IssueTokenRequest,
        revoke_token RevokeTokenRequest,
    );
}

#[test]
fn faults_carry_the_path_of_their_field() {
    let line = |part: Option<v1::PartRef>, quantity: &str, unit: &str| v1::NewOrderLine {
        part,
        quantity: decimal(quantity),
        unit_code: unit.to_owned(),
        ..v1::NewOrderLine::default()
    };
    let bad_uid = v1::PartRef { r#ref: Some(v1::part_ref::Ref::Uid("7".to_owned())) };
    let request = v1::CreateOrderRequest {
        request_id: ID.to_owned(),
        number: "  ".to_owned(),
        lines: vec![
            line(part("EL-1"), "1.5", "MTR"),
            line(Some(bad_uid), "0", "DOZEN"),
            v1::NewOrderLine {
                price: Some(v1::Money { currency_code: "GBP".to_owned(), units: 1, nanos: 1 }),
                for_line: Some(v1::BuildLineRef { build: None, line_number: -1 }),
                ..line(None, "1.0001", "")
            },
        ],
        placed_on: Some(v1::Date { year: 2026, month: 2, day: 30 }),
        ..v1::CreateOrderRequest::default()
    };
    let got = faults(create_order(&request));
    let expected = want(&[
        ("number", "FIELD_MISSING"),
        ("supplier", "FIELD_MISSING"),
        ("placed_on", "DATE_INVALID"),
        ("lines[1].part", "VALUE_INVALID"),
        ("lines[1].quantity", "QUANTITY_INVALID"),
        ("lines[1].unit_code", "VALUE_INVALID"),
        ("lines[2].part", "FIELD_MISSING"),
        ("lines[2].quantity", "QUANTITY_INVALID"),
        ("lines[2].price", "MONEY_INVALID"),
        ("lines[2].for_line.build", "FIELD_MISSING"),
        ("lines[2].for_line.line_number", "VALUE_INVALID"),
    ]);
    assert_eq!(got, expected);
    let named = create_order(&request).unwrap_err().named;
    assert_eq!(named.len(), 1);
    assert_eq!(
        (named[0].field.to_string().as_str(), named[0].kind),
        ("lines[0].part", RefKind::Part)
    );
}

#[test]
fn a_good_request_becomes_its_command() {
    let uid = v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Uid(ID.to_owned())) };
    let request = v1::HoldBuildRequest {
        request_id: ID.to_uppercase(),
        build: Some(uid),
        reason: " waits for the customer ".to_owned(),
        occurred_on: Some(v1::Date { year: 2026, month: 9, day: 14 }),
    };
    let write = hold_build(&request).unwrap();
    assert_eq!(write.request_id.to_string(), ID);
    let command = Command::Build(BuildCommand::Hold {
        build: Ref::Uid(ID.parse().unwrap()),
        reason: "waits for the customer".to_owned(),
        occurred_on: Some(jiff::civil::date(2026, 9, 14)),
    });
    assert_eq!(write.command, command);
}

#[test]
fn a_part_of_a_line_can_be_cancelled_of_one_line_only() {
    let order = v1::OrderRef { r#ref: Some(v1::order_ref::Ref::Number("p-1".to_owned())) };
    let mut request = v1::CancelOrderLinesRequest {
        request_id: ID.to_owned(),
        order: Some(order),
        line_numbers: vec![1, 2],
        quantity: decimal("1"),
        cancelled_by: v1::CancelledBy::Supplier.into(),
        ..v1::CancelOrderLinesRequest::default()
    };
    assert_eq!(faults(cancel_order_lines(&request)), want(&[("quantity", "VALUE_INVALID")]));
    request.line_numbers = vec![2];
    let command = cancel_order_lines(&request).unwrap().command;
    assert!(matches!(command, Command::Order(OrderCommand::Cancel { .. })));
    request.cancelled_by = 77;
    assert_eq!(faults(cancel_order_lines(&request)), want(&[("cancelled_by", "FIELD_MISSING")]));
}

#[test]
fn lists_are_bounded() {
    let request = v1::ReserveStockRequest {
        request_id: ID.to_owned(),
        build: Some(v1::BuildRef { r#ref: Some(v1::build_ref::Ref::Number("B-1".to_owned())) }),
        lines: vec![v1::LineQuantity::default(); 2001],
    };
    assert_eq!(faults(reserve_stock(&request)), want(&[("lines", "TOO_MANY")]));
}
