//! Requests of order suggestions.

use super::{Reader, Unread, Write};
use crate::v1;
use baystart_core::command::{Command, OrderCommand};
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use jiff::civil::Date;

/// Which suggestions are asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct SuggestAsked {
    /// None: every supplier's.
    pub supplier: Option<Ref>,
    /// In (0, 1); None: the shop's.
    pub confidence: Option<f64>,
    /// None: today.
    pub as_of: Option<Date>,
}

fn maybe_supplier(read: &mut Reader, supplier: Option<&v1::SupplierRef>) -> Option<Option<Ref>> {
    match supplier {
        None => Some(None),
        supplier => read.supplier("supplier", supplier).map(Some),
    }
}

/// Reads `SuggestOrders`.
///
/// # Errors
/// Every fault of the request.
pub fn suggest_orders(request: &v1::SuggestOrdersRequest) -> Result<SuggestAsked, Unread> {
    let mut read = Reader::new();
    let supplier = maybe_supplier(&mut read, request.supplier.as_ref());
    let as_of = read.date("as_of", request.as_of.as_ref());
    let confidence = request.confidence;
    if let Some(confidence) = confidence.filter(|value| !(*value > 0.0 && *value < 1.0)) {
        let message = format!("{confidence} is not between 0 and 1");
        read.fault("confidence", Reason::ValueInvalid, message);
    }
    let asked = supplier.zip(as_of);
    read.finish(asked.map(|(supplier, as_of)| SuggestAsked { supplier, confidence, as_of }))
}

/// Reads `DraftSuggestedOrders`.
///
/// # Errors
/// Every fault of the request.
pub fn draft_suggested_orders(request: &v1::DraftSuggestedOrdersRequest) -> Result<Write, Unread> {
    let mut read = Reader::new();
    let id = read.request_id(&request.request_id);
    let supplier = maybe_supplier(&mut read, request.supplier.as_ref());
    read.write(id, || Some(Command::Order(OrderCommand::DraftSuggested { supplier: supplier? })))
}
