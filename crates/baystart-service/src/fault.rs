//! The only place that makes a gRPC status: refusals, store faults and the
//! server's own refusals, as google.rpc.Status with ErrorInfo and BadRequest.

use baystart_core::refusal::{Fault, FieldPath, Reason, Refusal, RefusalKind};
use baystart_store::StoreError;
use std::collections::HashMap;
use std::time::Duration;
use tonic::{Code, Status};
use tonic_types::{ErrorDetails, FieldViolation, StatusExt};

/// Domain of every reason.
pub(crate) const DOMAIN: &str = "baystart";
/// Most bytes of field errors: encoded in base64 and with the message, the
/// trailers stay under 7 KiB, and so under the 8 KiB that clients take.
const FAULT_BYTES_MAX: usize = 3800;
/// Most characters of a status message, of a field's message and of a value.
const TEXT_CHARS_MAX: usize = 400;
/// Most characters of one value for programs.
const VALUE_CHARS_MAX: usize = 120;
/// When to try again after a lost race or a busy database.
const RETRY_AFTER: Duration = Duration::from_millis(200);

fn cut(text: &str, chars_max: usize) -> String {
    if text.chars().count() <= chars_max {
        return text.to_owned();
    }
    let mut out: String = text.chars().take(chars_max).collect();
    out.push_str(" ...");
    out
}

const fn code(kind: RefusalKind) -> Code {
    match kind {
        RefusalKind::Invalid => Code::InvalidArgument,
        RefusalKind::NotFound => Code::NotFound,
        RefusalKind::Exists => Code::AlreadyExists,
        RefusalKind::Precondition => Code::FailedPrecondition,
        RefusalKind::Lost => Code::Aborted,
        RefusalKind::Denied => Code::PermissionDenied,
        RefusalKind::Internal => Code::Internal,
    }
}

/// A refused command or request as a status.
pub(crate) fn refused(refusal: &Refusal) -> Status {
    if refusal.kind() == RefusalKind::Internal {
        return internal(refusal);
    }
    let mut values: HashMap<String, String> = refusal
        .values
        .iter()
        .map(|(name, value)| ((*name).to_owned(), cut(value, VALUE_CHARS_MAX)))
        .collect();
    values.insert("remedy".to_owned(), refusal.reason.remedy().to_owned());
    let (violations, left_out) = violations(&refusal.faults);
    if left_out > 0 {
        values.insert("faults_left_out".to_owned(), left_out.to_string());
    }
    let mut details = ErrorDetails::with_error_info(refusal.reason.text(), DOMAIN, values);
    if !violations.is_empty() {
        details.set_bad_request(violations);
    }
    if refusal.kind() == RefusalKind::Lost {
        details.set_retry_info(Some(RETRY_AFTER));
    }
    let message = cut(&refusal.message, TEXT_CHARS_MAX);
    Status::with_error_details(code(refusal.kind()), message, details)
}

/// The field errors that fit, and how many do not.
fn violations(faults: &[Fault]) -> (Vec<FieldViolation>, usize) {
    let mut out = Vec::new();
    let mut bytes = 0;
    for (i, fault) in faults.iter().enumerate() {
        let description = cut(&fault.message, TEXT_CHARS_MAX);
        let field = fault.field.to_string();
        bytes += field.len() + description.len() + fault.reason.text().len() + 8;
        if bytes > FAULT_BYTES_MAX {
            let left_out = faults.len() - i;
            let text = format!("{left_out} more fields are wrong; mend these first");
            out.push(FieldViolation::new("...", text));
            return (out, left_out);
        }
        let mut violation = FieldViolation::new(field, description);
        violation.reason = fault.reason.text().to_owned();
        out.push(violation);
    }
    (out, 0)
}

/// A fault under one field.
pub(crate) fn field(
    field: impl Into<FieldPath>,
    reason: Reason,
    message: impl Into<String>,
) -> Status {
    let mut faults = baystart_core::refusal::Faults::new();
    faults.push(field, reason, message);
    match faults.check() {
        Err(refusal) => refused(&refusal),
        Ok(()) => internal("a fault was not kept"),
    }
}

/// What the store could not do, as a status. What a caller must not see is
/// logged here, once.
pub(crate) fn store(error: &StoreError) -> Status {
    match error {
        StoreError::Refused(refusal) => refused(refusal),
        StoreError::Busy(text) => retry(Code::Aborted, "TRY_AGAIN", text),
        StoreError::Unavailable(text) => {
            tracing::error!(error = %text, "the database cannot be used");
            let text = "the database cannot be used now: try again with the same request id";
            retry(Code::Unavailable, "DATABASE_UNAVAILABLE", text)
        }
        other => internal(other),
    }
}

/// A fault of the server itself: logged here, told without its cause.
pub(crate) fn internal(cause: impl std::fmt::Display) -> Status {
    tracing::error!(error = %cause, "a call failed inside the server");
    let text = "the server failed; nothing was half done";
    own(Code::Internal, "INTERNAL", text, "Tell who runs the server; its log names the cause.")
}

/// A refusal of the server itself, whatever the request.
pub(crate) fn own(code: Code, reason: &str, message: &str, remedy: &str) -> Status {
    let values = HashMap::from([("remedy".to_owned(), remedy.to_owned())]);
    let details = ErrorDetails::with_error_info(reason, DOMAIN, values);
    Status::with_error_details(code, cut(message, TEXT_CHARS_MAX), details)
}

/// A refusal of the server itself that may be gone in a moment.
pub(crate) fn retry(code: Code, reason: &str, message: &str) -> Status {
    let remedy = "Try again in a moment with the same request id.";
    let values = HashMap::from([("remedy".to_owned(), remedy.to_owned())]);
    let mut details = ErrorDetails::with_error_info(reason, DOMAIN, values);
    details.set_retry_info(Some(RETRY_AFTER));
    Status::with_error_details(code, cut(message, TEXT_CHARS_MAX), details)
}

/// A call without a token, or with one that is not known.
pub(crate) fn unauthenticated(reason: &str, message: &str) -> Status {
    let remedy = "Send the header \"authorization: Bearer TOKEN\" with a token of this server.";
    own(Code::Unauthenticated, reason, message, remedy)
}

/// A secret that nobody knows, or that was revoked.
pub(crate) fn token_invalid() -> Status {
    unauthenticated("TOKEN_INVALID", "the access token is not known, or was revoked")
}

/// Why the changes after a revision cannot be told.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Gone {
    /// They are not kept any more.
    TooOld,
    /// The shop is before that revision.
    Ahead,
    /// The revision is another one now.
    Another,
}

/// Changes after a revision that cannot be told; the shop is at `now`.
pub(crate) fn changes_gone(after: i64, now: i64, why: Gone) -> Status {
    let (reason, message) = match why {
        Gone::TooOld => (
            "REVISION_TOO_OLD",
            format!("the changes after revision {after} are not kept any more"),
        ),
        Gone::Ahead => (
            "REVISION_AHEAD",
            format!("the shop is at revision {now}, before {after}: it was restored"),
        ),
        Gone::Another => (
            "REVISION_ANOTHER",
            format!("revision {after} is another one now: the shop was restored, and went on"),
        ),
    };
    let values = HashMap::from([
        ("after_revision".to_owned(), after.to_string()),
        ("revision".to_owned(), now.to_string()),
        ("remedy".to_owned(), format!("Read what you need anew, then ask after revision {now}.")),
    ]);
    let details = ErrorDetails::with_error_info(reason, DOMAIN, values);
    Status::with_error_details(Code::OutOfRange, message, details)
}

/// A token whose roles do not allow the call.
pub(crate) fn role_missing(needed: &str, has: &str) -> Status {
    let values = HashMap::from([
        ("needed".to_owned(), needed.to_owned()),
        ("has".to_owned(), has.to_owned()),
        ("remedy".to_owned(), "Use a token that has such a role.".to_owned()),
    ]);
    let details = ErrorDetails::with_error_info("ROLE_MISSING", DOMAIN, values);
    let plain = |roles: &str| {
        let words = roles.split(' ').map(|role| role.trim_start_matches("ROLE_"));
        words.collect::<Vec<_>>().join(", ").to_lowercase().replace('_', "-")
    };
    let message = match needed.contains(' ') {
        true => format!("this needs one of the roles {}", plain(needed)),
        false => format!("this needs the role {}", plain(needed)),
    };
    let message = format!("{message}; the token has {}", plain(has));
    Status::with_error_details(Code::PermissionDenied, message, details)
}

/// A status that the transport made, with a reason of its own: too large a
/// message, one that does not decode, a method that is not there.
pub(crate) fn dressed(status: Status) -> Status {
    if !status.details().is_empty() {
        return status;
    }
    let message = status.message();
    match status.code() {
        Code::OutOfRange | Code::ResourceExhausted => {
            own(status.code(), "MESSAGE_TOO_LARGE", message, "Send less at once.")
        }
        Code::Internal if message.contains("decode") => {
            let remedy = "Send messages of baystart.v1 as its descriptors say.";
            own(Code::InvalidArgument, "MESSAGE_MALFORMED", message, remedy)
        }
        Code::Internal if message.contains("Missing request message") => {
            let text = "the call came without a message";
            own(Code::InvalidArgument, "MESSAGE_MISSING", text, "Send one message a call.")
        }
        Code::Unimplemented if message.contains("compressed") => {
            own(Code::Unimplemented, "COMPRESSION_UNKNOWN", message, "Send it uncompressed.")
        }
        Code::Unimplemented => {
            let message = "this server has no such method";
            own(Code::Unimplemented, "METHOD_UNKNOWN", message, "Ask reflection for the methods.")
        }
        _ => status,
    }
}

#[cfg(test)]
#[path = "fault_tests.rs"]
mod tests;
