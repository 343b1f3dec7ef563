//! Requests to lend from one build's line to another one's.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::command::{BindCommand, Command};
use baystart_core::refusal::Reason;

/// Reads a loan that is only looked at.
///
/// # Errors
/// Every field that does not read.
pub fn preview_lending(request: &v1::PreviewLendingRequest) -> Result<BindCommand, Unread> {
    let mut read = Reader::new();
    let from = read.build_line("from", request.from.as_ref());
    let to = read.build_line("to", request.to.as_ref());
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    let loan = from.zip(to).zip(quantity).map(|((from, to), quantity)| BindCommand::Lend {
        build: from.0,
        line: from.1,
        to_build: to.0,
        to_line: to.1,
        quantity,
        reason: String::new(),
        shown: None,
    });
    read.finish(loan)
}

/// Reads a loan that is made; it names the revision at which it was shown.
///
/// # Errors
/// Every field that does not read.
pub fn lend_to_build(request: &v1::LendToBuildRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let from = read.build_line("from", request.from.as_ref());
    let to = read.build_line("to", request.to.as_ref());
    let quantity = read.maybe_quantity("quantity", request.quantity.as_ref());
    let reason = read.need_text("reason", &request.reason);
    let shown = Some(request.shown_revision).filter(|revision| *revision > 0);
    if shown.is_none() {
        let message = "look at both builds' dates first and send the revision that came with them";
        read.fault("shown_revision", Reason::FieldMissing, message);
    }
    read.write(id, || {
        let ((build, line), (to_build, to_line)) = (from?, to?);
        let (quantity, reason) = (quantity?, reason?);
        let loan = BindCommand::Lend { build, line, to_build, to_line, quantity, reason, shown };
        Some(Command::Bind(loan))
    })
}
