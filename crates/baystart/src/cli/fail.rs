//! How a command fails: its exit code, and what people and tools read of it.

use super::field::in_words;
use baystart_core::text::{escaped, escaped_json, escaped_lines};
use serde_json::{Value, json};
use std::io::{self, Write};
use thiserror::Error;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// What can go wrong in a command.
#[derive(Debug, Error)]
pub enum Failure {
    /// The command line says something that cannot be meant.
    #[error("{0}")]
    Usage(String),
    /// A file that was named cannot be used as it is.
    #[error("{0}")]
    Input(String),
    /// Something must be set up before the command can run.
    #[error("{0}")]
    Configuration(String),
    /// Nobody answers at the server's address.
    #[error("no server answers at {server}: {reason}\nIs the server running? baystart serve")]
    Unreachable {
        /// The address that was tried.
        server: String,
        /// What the network said.
        reason: String,
    },
    /// Nobody answers at the database's address.
    #[error("{0}")]
    NoDatabase(String),
    /// Somebody was in the way; the same command may succeed later.
    #[error("{0}")]
    TryAgain(String),
    /// The server refused.
    #[error("{}", .0.message())]
    Refused(Box<Status>),
    /// Something that should not happen.
    #[error("{0}")]
    Internal(String),
    /// The answer could not be written.
    #[error("the answer could not be written: {0}")]
    Output(#[from] io::Error),
    /// All was said already; only the exit code is left.
    #[error("")]
    Said(i32),
}

impl From<Status> for Failure {
    fn from(status: Status) -> Self {
        Self::Refused(Box::new(status))
    }
}

/// Exit codes, after the BSD convention (sysexits.h) from 64 on.
pub mod exit {
    /// Done.
    pub const DONE: i32 = 0;
    /// Refused by a rule of the trade.
    pub const REFUSED: i32 = 1;
    /// The command line is wrong.
    pub const USAGE: i32 = 64;
    /// The input is wrong.
    pub const INPUT: i32 = 65;
    /// No server answers.
    pub const UNREACHABLE: i32 = 69;
    /// A fault of the program.
    pub const INTERNAL: i32 = 70;
    /// The same command may succeed later.
    pub const TRY_AGAIN: i32 = 75;
    /// The token may not do this.
    pub const PERMISSION: i32 = 77;
    /// Something is not set up.
    pub const CONFIGURATION: i32 = 78;
}

impl Failure {
    /// The process's exit code.
    #[must_use]
    pub fn exit_code(&self) -> i32 {
        match self {
            Self::Usage(_) => exit::USAGE,
            Self::Input(_) => exit::INPUT,
            Self::Configuration(_) => exit::CONFIGURATION,
            Self::Unreachable { .. } | Self::NoDatabase(_) => exit::UNREACHABLE,
            Self::TryAgain(_) => exit::TRY_AGAIN,
            Self::Refused(status) if broken_off(status) => exit::TRY_AGAIN,
            Self::Refused(status) => code_of(status.code()),
            Self::Internal(_) => exit::INTERNAL,
            // A reader that has seen enough, as `head` does, is no failure.
            Self::Output(error) if error.kind() == io::ErrorKind::BrokenPipe => exit::DONE,
            Self::Output(_) => exit::INTERNAL,
            Self::Said(code) => *code,
        }
    }

    /// A stable word for tools: the server's reason, or the kind of failure.
    fn reason(&self) -> String {
        let word = match self {
            Self::Refused(status) => {
                return status.get_details_error_info().map(|info| info.reason).unwrap_or_default();
            }
            Self::Usage(_) => "USAGE",
            Self::Input(_) => "BAD_INPUT_FILE",
            Self::Configuration(_) => "CONFIGURATION",
            Self::Unreachable { .. } => "SERVER_UNREACHABLE",
            Self::NoDatabase(_) => "DATABASE_UNREACHABLE",
            Self::TryAgain(_) => "TRY_AGAIN",
            Self::Output(_) => "OUTPUT",
            Self::Internal(_) | Self::Said(_) => "INTERNAL",
        };
        word.to_owned()
    }
}

/// Whether the connection broke before the server had answered: nobody knows what
/// became of the call, so it is to be repeated under the same request id.
fn broken_off(status: &Status) -> bool {
    let internal = matches!(status.code(), Code::Internal | Code::Unknown);
    internal && status.details().is_empty() && std::error::Error::source(status).is_some()
}

/// The exit code of a gRPC status.
#[must_use]
pub fn code_of(code: Code) -> i32 {
    match code {
        Code::Ok => exit::DONE,
        Code::FailedPrecondition | Code::NotFound | Code::AlreadyExists => exit::REFUSED,
        Code::InvalidArgument | Code::OutOfRange => exit::INPUT,
        // A deadline that ends at the server arrives as CANCELLED.
        Code::Aborted
        | Code::Unavailable
        | Code::DeadlineExceeded
        | Code::ResourceExhausted
        | Code::Cancelled => exit::TRY_AGAIN,
        Code::Unauthenticated | Code::PermissionDenied => exit::PERMISSION,
        Code::Unknown | Code::Unimplemented | Code::Internal | Code::DataLoss => exit::INTERNAL,
    }
}

/// Writes what went wrong; `request_id` is named when the write may be
/// repeated under it.
pub fn print(failure: &Failure, as_json: bool, request_id: Option<&str>, err: &mut dyn Write) {
    let said = match failure {
        Failure::Said(_) => true,
        Failure::Output(error) => error.kind() == io::ErrorKind::BrokenPipe,
        _ => false,
    };
    if said {
        return;
    }
    // A message that cannot be written cannot be reported either.
    let _ = if as_json { print_json(failure, err) } else { print_text(failure, request_id, err) };
}

fn print_text(failure: &Failure, request_id: Option<&str>, err: &mut dyn Write) -> io::Result<()> {
    match failure {
        Failure::Refused(status) if status.message().is_empty() => {
            writeln!(err, "error: {}", status.code())?
        }
        // A server's message is one line; our own may have several.
        Failure::Refused(status) => writeln!(err, "error: {}", escaped(&headline(status)))?,
        _ => writeln!(err, "error: {}", escaped_lines(&failure.to_string()))?,
    }
    if let Failure::Refused(status) = failure {
        let details = status.get_error_details();
        if let Some(bad) = details.bad_request() {
            let headline = headline(status);
            for violation in &bad.field_violations {
                let line = format!("{}: {}", in_words(&violation.field), violation.description);
                // A single fault may be the message itself; once is enough.
                if line != headline {
                    writeln!(err, "  {}", escaped(&line))?;
                }
            }
        }
        let remedy = details.error_info().and_then(|info| info.metadata.get("remedy"));
        if status.code() == Code::Unauthenticated {
            writeln!(err, "Name a file with a token of this server: --token-file PATH.")?;
        } else if let Some(remedy) = remedy {
            writeln!(err, "{}", escaped(remedy))?;
        }
        if failure.reason() == "NOT_NEEDED" {
            writeln!(err, "Wanted all the same: the same command with --unneeded-too")?;
        }
    }
    // A change on an old read stays refused however often it is sent.
    let try_again = failure.exit_code() == exit::TRY_AGAIN && failure.reason() != "ETAG_MISMATCH";
    if let (Some(id), true) = (request_id, try_again) {
        writeln!(
            err,
            "To try again and be sure that it happens once: the same command with --request-id {id}"
        )?;
    }
    Ok(())
}

/// The server's message without the names that only programs know.
fn headline(status: &Status) -> String {
    let details = status.get_error_details();
    let faults = details.bad_request().map_or(&[][..], |bad| &bad.field_violations);
    let own = |fault: &tonic_types::FieldViolation| {
        status.message() == format!("{}: {}", fault.field, fault.description)
    };
    match faults {
        [one] if own(one) => format!("{}: {}", in_words(&one.field), one.description),
        [_, _, ..] if status.message().contains("fields are wrong") => {
            format!("{} things are wrong", faults.len())
        }
        _ => status.message().to_owned(),
    }
}

fn print_json(failure: &Failure, err: &mut dyn Write) -> io::Result<()> {
    let (mut metadata, mut violations) = (serde_json::Map::new(), Vec::new());
    let mut code = "CLIENT".to_owned();
    if let Failure::Refused(status) = failure {
        code = code_name(status.code()).to_owned();
        let details = status.get_error_details();
        if let Some(info) = details.error_info() {
            for (key, value) in &info.metadata {
                metadata.insert(key.clone(), Value::String(value.clone()));
            }
        }
        if let Some(bad) = details.bad_request() {
            for violation in &bad.field_violations {
                violations
                    .push(json!({"field": violation.field, "description": violation.description}));
            }
        }
    }
    let object = json!({
        "code": code,
        "reason": failure.reason(),
        "message": failure.to_string(),
        "metadata": metadata,
        "fieldViolations": violations,
    });
    writeln!(err, "{}", escaped_json(&format!("{object:#}")))
}

/// The code's name in the gRPC specification.
fn code_name(code: Code) -> &'static str {
    match code {
        Code::Ok => "OK",
        Code::Cancelled => "CANCELLED",
        Code::Unknown => "UNKNOWN",
        Code::InvalidArgument => "INVALID_ARGUMENT",
        Code::DeadlineExceeded => "DEADLINE_EXCEEDED",
        Code::NotFound => "NOT_FOUND",
        Code::AlreadyExists => "ALREADY_EXISTS",
        Code::PermissionDenied => "PERMISSION_DENIED",
        Code::ResourceExhausted => "RESOURCE_EXHAUSTED",
        Code::FailedPrecondition => "FAILED_PRECONDITION",
        Code::Aborted => "ABORTED",
        Code::OutOfRange => "OUT_OF_RANGE",
        Code::Unimplemented => "UNIMPLEMENTED",
        Code::Internal => "INTERNAL",
        Code::Unavailable => "UNAVAILABLE",
        Code::DataLoss => "DATA_LOSS",
        Code::Unauthenticated => "UNAUTHENTICATED",
    }
}

#[cfg(test)]
#[path = "fail_tests.rs"]
mod tests;
