//! Requests of CustomerPromiseService.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::command::{BuildCommand, Command};

/// Reads a delivery date that was given to a customer.
///
/// # Errors
/// Every field that does not read.
pub fn promise_delivery(request: &v1::PromiseDeliveryRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let build = read.build("build", request.build.as_ref());
    let delivery_on = read.need_date("delivery_on", request.delivery_on.as_ref());
    let note = read.note("note", &request.note);
    let occurred_on = read.date("occurred_on", request.occurred_on.as_ref());
    read.write(id, || {
        Some(Command::Build(BuildCommand::PromiseDelivery {
            build: build?,
            delivery_on: delivery_on?,
            note: note?,
            occurred_on: occurred_on?,
        }))
    })
}
