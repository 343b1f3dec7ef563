//! What each refusal becomes on the wire.
#![allow(clippy::unwrap_used)]

use super::*;
use baystart_core::refusal::{Faults, nth};

#[test]
fn every_kind_has_its_code() {
    for (reason, code) in [
        (Reason::QuantityInvalid, Code::InvalidArgument),
        (Reason::PartUnknown, Code::NotFound),
        (Reason::PartExists, Code::AlreadyExists),
        (Reason::StockShort, Code::FailedPrecondition),
        (Reason::EtagMismatch, Code::Aborted),
    ] {
        let status = refused(&Refusal::new(reason, "said").with("asked", 3));
        assert_eq!(status.code(), code);
        let details = status.get_error_details();
        let info = details.error_info().unwrap();
        assert_eq!((info.reason.as_str(), info.domain.as_str()), (reason.text(), DOMAIN));
        assert_eq!(info.metadata["asked"], "3");
        assert_eq!(info.metadata["remedy"], reason.remedy());
        assert_eq!(details.retry_info().is_some(), code == Code::Aborted);
    }
}

#[test]
fn all_field_errors_come_at_once() {
    let mut faults = Faults::new();
    faults.push(nth("lines", 0).then("part"), Reason::PartUnknown, "no part \"X\"");
    let quantity = nth("lines", 2).then("quantity");
    faults.push(quantity, Reason::QuantityInvalid, "\"-1\" is not above 0");
    let status = refused(&faults.check().unwrap_err());
    assert_eq!(status.code(), Code::InvalidArgument);
    let details = status.get_error_details();
    let violations = &details.bad_request().unwrap().field_violations;
    assert_eq!(violations.len(), 2);
    assert_eq!(violations[1].field, "lines[2].quantity");
    assert_eq!(violations[1].reason, "QUANTITY_INVALID");
}

#[test]
fn two_thousand_faults_still_fit_into_a_header() {
    let mut faults = Faults::new();
    for i in 0..2000 {
        let message = format!("\"{}\" is not a decimal number", "ü".repeat(80));
        faults.push(nth("lines", i).then("quantity"), Reason::QuantityInvalid, message);
    }
    let status = refused(&faults.check().unwrap_err());
    let mut headers = http::HeaderMap::new();
    status.add_header(&mut headers).unwrap();
    let bytes: usize = headers.iter().map(|(k, v)| k.as_str().len() + v.len() + 32).sum();
    assert!(bytes < 7 * 1024, "{bytes} bytes");
    let details = status.get_error_details();
    let shown = details.bad_request().unwrap().field_violations.len() - 1;
    let left_out: usize =
        details.error_info().unwrap().metadata["faults_left_out"].parse().unwrap();
    assert_eq!(shown + left_out, 2000);
}

#[test]
fn inner_causes_are_not_told() {
    let status = store(&StoreError::Corrupt("table entry: secret detail".to_owned()));
    assert_eq!(status.code(), Code::Internal);
    assert!(!status.message().contains("secret"));
    let broken = refused(&Refusal::internal("secret detail"));
    assert_eq!(broken.code(), Code::Internal);
    assert!(!broken.message().contains("secret"));
    assert_eq!(broken.get_error_details().error_info().unwrap().reason, "INTERNAL");
    let busy = store(&StoreError::Busy("the queue is full".to_owned()));
    assert_eq!(busy.code(), Code::Aborted);
    assert!(busy.get_error_details().retry_info().is_some());
    let stopped = store(&StoreError::Unavailable("disk is full".to_owned()));
    assert_eq!(stopped.code(), Code::Unavailable);
}

#[test]
fn the_transports_statuses_get_reasons() {
    let status = dressed(Status::out_of_range("decoded message length too large"));
    assert_eq!(status.get_error_details().error_info().unwrap().reason, "MESSAGE_TOO_LARGE");
    let status = dressed(Status::internal("failed to decode Protobuf message"));
    assert_eq!(status.code(), Code::InvalidArgument);
    let own = role_missing("ROLE_ADMIN", "ROLE_PARTS");
    assert_eq!(dressed(own.clone()).details(), own.details());
}
