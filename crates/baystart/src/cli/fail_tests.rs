#![allow(clippy::unwrap_used)]
use super::*;
use std::collections::HashMap;
use tonic_types::ErrorDetails;

#[test]
fn exit_codes() {
    for (code, expected) in [
        (Code::Ok, 0),
        (Code::FailedPrecondition, 1),
        (Code::NotFound, 1),
        (Code::AlreadyExists, 1),
        (Code::InvalidArgument, 65),
        (Code::OutOfRange, 65),
        (Code::Internal, 70),
        (Code::Unknown, 70),
        (Code::DataLoss, 70),
        (Code::Unimplemented, 70),
        (Code::Aborted, 75),
        (Code::Unavailable, 75),
        (Code::DeadlineExceeded, 75),
        (Code::ResourceExhausted, 75),
        (Code::Cancelled, 75),
        (Code::Unauthenticated, 77),
        (Code::PermissionDenied, 77),
    ] {
        assert_eq!(code_of(code), expected, "{code:?}");
    }
    assert_eq!(Failure::Usage(String::new()).exit_code(), 64);
    assert_eq!(
        Failure::Unreachable { server: String::new(), reason: String::new() }.exit_code(),
        69
    );
    assert_eq!(Failure::Configuration(String::new()).exit_code(), 78);
    assert_eq!(Failure::Output(io::ErrorKind::BrokenPipe.into()).exit_code(), 0);
}

fn refused() -> Failure {
    let mut details = ErrorDetails::new();
    details.set_error_info(
        "QUANTITY_INVALID",
        "baystart",
        HashMap::from([("remedy".to_owned(), "Round it.".to_owned())]),
    );
    details.add_bad_request_violation("lines[2].quantity", "2.0001 has more than three decimals");
    details.add_bad_request_violation("lines[3].part", "no part HD-9");
    let message =
        "2 fields are wrong; the first: lines[2].quantity: 2.0001 has more than three decimals";
    Status::with_error_details(Code::InvalidArgument, message, details).into()
}

#[test]
fn every_field_error_then_the_remedy() {
    let mut err = Vec::new();
    print(&refused(), false, Some("id"), &mut err);
    let expected = "error: 2 things are wrong\n  3rd line, quantity: 2.0001 has more than three decimals\n  \
                    4th line, part: no part HD-9\nRound it.\n";
    assert_eq!(String::from_utf8(err).unwrap(), expected);
}

#[test]
fn a_single_fault_is_said_once() {
    let mut details = ErrorDetails::new();
    details.add_bad_request_violation("part", "no part HD-9");
    let status = Status::with_error_details(Code::NotFound, "part: no part HD-9", details);
    let mut err = Vec::new();
    print(&status.into(), false, None, &mut err);
    assert_eq!(String::from_utf8(err).unwrap(), "error: part: no part HD-9\n");
}

#[test]
fn a_reader_that_has_seen_enough_is_told_nothing() {
    for as_json in [true, false] {
        let mut err = Vec::new();
        print(&Failure::Output(io::ErrorKind::BrokenPipe.into()), as_json, None, &mut err);
        assert!(err.is_empty());
    }
}

#[test]
fn the_same_for_tools() {
    let mut err = Vec::new();
    print(&refused(), true, None, &mut err);
    let object: Value = serde_json::from_slice(&err).unwrap();
    assert_eq!(object["code"], "INVALID_ARGUMENT");
    assert_eq!(object["reason"], "QUANTITY_INVALID");
    assert_eq!(object["metadata"]["remedy"], "Round it.");
    assert_eq!(object["fieldViolations"][1]["field"], "lines[3].part");
}

#[test]
fn a_lost_race_names_the_request_id() {
    let mut err = Vec::new();
    print(&Status::aborted("somebody was quicker").into(), false, Some("0199"), &mut err);
    assert!(String::from_utf8(err).unwrap().ends_with("--request-id 0199\n"));
}
