//! Messages of the API: decoded, read into commands, decided on a small shop.

use super::files::{context, later_ids, shop, sound};
use baystart_core::decide::decide;
use baystart_core::refusal::{Fault, Reason};
use baystart_proto::convert::{self, Unread, Write};
use baystart_proto::{DESCRIPTORS, METHOD_ROLES, v1};
use prost::Message;
use prost_reflect::{DescriptorPool, DynamicMessage, Kind, MessageDescriptor, Value};
use std::sync::LazyLock;

/// Most characters of one fault.
const SAID_CHARS_MAX: usize = 1_500;

type Reading = fn(&[u8]) -> Option<Result<Option<Write>, Unread>>;

macro_rules! writes {
    ($($read:ident: $message:ident,)*) => {
        /// Every write, by its message.
        const WRITES: &[(&str, Reading)] = &[$((stringify!($message), |bytes| {
            let message = v1::$message::decode(bytes).ok()?;
            Some(convert::$read(&message).map(Some))
        }),)*];
    };
}

macro_rules! reads {
    ($($read:ident: $message:ident,)*) => {
        /// Every question that is read by a function of its own.
        const READS: &[(&str, Reading)] = &[$((stringify!($message), |bytes| {
            let message = v1::$message::decode(bytes).ok()?;
            Some(convert::$read(&message).map(|_| None))
        }),)*];
    };
}

writes! {
    add_awaited: AddAwaitedRequest,
    add_build_lines: AddBuildLinesRequest,
    add_closures: AddClosuresRequest,
    adjust_stock: AdjustStockRequest,
    begin_stage: BeginStageRequest,
    cancel_build: CancelBuildRequest,
    cancel_order_lines: CancelOrderLinesRequest,
    change_build_line: ChangeBuildLineRequest,
    confirm_pick: ConfirmPickRequest,
    create_bin: CreateBinRequest,
    create_build: CreateBuildRequest,
    create_order: CreateOrderRequest,
    create_part: CreatePartRequest,
    create_supplier: CreateSupplierRequest,
    deliver_build: DeliverBuildRequest,
    draft_suggested_orders: DraftSuggestedOrdersRequest,
    drop_awaited: DropAwaitedRequest,
    finish_stage: FinishStageRequest,
    hold_build: HoldBuildRequest,
    issue_stock: IssueStockRequest,
    issue_token: IssueTokenRequest,
    lend_to_build: LendToBuildRequest,
    mark_ready_for_handover: MarkReadyForHandoverRequest,
    move_stock: MoveStockRequest,
    open_build: OpenBuildRequest,
    peg_line: PegLineRequest,
    place_order: PlaceOrderRequest,
    promise_delivery: PromiseDeliveryRequest,
    put_in_bay: PutInBayRequest,
    put_offer: PutOfferRequest,
    quarantine_stock: QuarantineStockRequest,
    receive_awaited: ReceiveAwaitedRequest,
    receive_order: ReceiveOrderRequest,
    receive_stock: ReceiveStockRequest,
    record_acknowledgement: RecordAcknowledgementRequest,
    take_back_promise: TakeBackPromiseRequest,
    record_awaited_news: RecordAwaitedNewsRequest,
    record_came_back: RecordCameBackRequest,
    record_contact: RecordContactRequest,
    record_despatch: RecordDespatchRequest,
    record_finisher_promise: RecordFinisherPromiseRequest,
    record_found: RecordFoundRequest,
    record_made: RecordMadeRequest,
    reject_goods: RejectGoodsRequest,
    release_quarantine: ReleaseQuarantineRequest,
    release_stock: ReleaseStockRequest,
    remove_closures: RemoveClosuresRequest,
    reserve_stock: ReserveStockRequest,
    resume_build: ResumeBuildRequest,
    return_to_stock: ReturnToStockRequest,
    return_to_supplier: ReturnToSupplierRequest,
    revoke_token: RevokeTokenRequest,
    scrap_stock: ScrapStockRequest,
    send_out: SendOutRequest,
    substitute_part: SubstitutePartRequest,
    unpeg_line: UnpegLineRequest,
    update_build: UpdateBuildRequest,
    update_part: UpdatePartRequest,
    update_shop: UpdateShopRequest,
    update_supplier: UpdateSupplierRequest,
}

reads! {
    get_lead_time_profile: GetLeadTimeProfileRequest,
    preview_lending: PreviewLendingRequest,
    quote_build: QuoteBuildRequest,
    run_backtest: RunBacktestRequest,
    suggest_orders: SuggestOrdersRequest,
}

/// The request message of every method, in the order of their paths.
pub(super) static MESSAGES: LazyLock<Vec<MessageDescriptor>> = LazyLock::new(|| {
    let pool = DescriptorPool::decode(DESCRIPTORS).unwrap();
    let mut paths: Vec<&str> = METHOD_ROLES.iter().map(|(path, _)| *path).collect();
    paths.sort_unstable();
    let method = |path: &str| {
        let (service, name) = path.trim_start_matches('/').split_once('/').unwrap();
        let service = pool.get_service_by_name(service).unwrap();
        service.methods().find(|method| method.name() == name).unwrap().input()
    };
    paths.into_iter().map(method).collect()
});

fn reading(name: &str) -> Option<Reading> {
    let all = WRITES.iter().chain(READS);
    all.into_iter().find(|(own, _)| *own == name).map(|(_, reading)| *reading)
}

/// The first byte is the method, the rest its message.
pub(super) fn request(bytes: &[u8]) {
    let Some((first, bytes)) = bytes.split_first() else { return };
    let descriptor = &MESSAGES[usize::from(*first) % MESSAGES.len()];
    let Ok(dynamic) = DynamicMessage::decode(descriptor.clone(), bytes) else { return };
    assert_eq!(dynamic.encode_to_vec().len(), dynamic.encoded_len());
    let Some(read) = reading(descriptor.name()).and_then(|reading| reading(bytes)) else { return };
    match read {
        Ok(None) => {}
        Ok(Some(write)) => decided(&write),
        Err(unread) => {
            assert!(!unread.faults.is_empty());
            said(unread.faults.list());
        }
    }
}

fn said(faults: &[Fault]) {
    for Fault { field, message, .. } in faults {
        assert!(field.name().is_some() && !message.is_empty(), "{field}: {message}");
        assert!(message.chars().count() <= SAID_CHARS_MAX, "{message}");
        assert!(!message.chars().any(char::is_control), "{message:?}");
    }
}

/// A refused command changes nothing; one that is taken leaves the rules as they are.
fn decided(write: &Write) {
    let _ = write.command.scope();
    let before = shop();
    let mut book = before.clone();
    let mut ids = later_ids();
    match decide(&mut book, &mut context(&mut ids), &write.command) {
        Ok(_) => sound(&book),
        Err(refusal) => {
            assert!(book == before, "a refused command changed the book");
            assert_ne!(refusal.reason, Reason::Internal, "{refusal}");
            said(&refusal.faults);
            assert!(refusal.message.chars().count() <= 10 * SAID_CHARS_MAX);
        }
    }
}

/// A message with every field filled by what its name suggests, so that chance need not find out what
/// a request looks like; the first byte of an input that gives it to [`request`] before it.
pub fn filled() -> Vec<Vec<u8>> {
    let all = (0_u8..).zip(MESSAGES.iter());
    all.map(|(first, message)| [vec![first], fill(message, 0).encode_to_vec()].concat()).collect()
}

fn fill(descriptor: &MessageDescriptor, depth: usize) -> DynamicMessage {
    let mut message = DynamicMessage::new(descriptor.clone());
    for field in descriptor.fields() {
        let other = field.containing_oneof().is_some_and(|one| {
            one.fields().next().is_none_or(|first| first.number() != field.number())
        });
        if other || depth > 5 {
            continue;
        }
        let value = match field.kind() {
            Kind::Message(inner) => Value::Message(fill(&inner, depth + 1)),
            Kind::Enum(_) => Value::EnumNumber(1),
            Kind::Bool => Value::Bool(true),
            Kind::Double => Value::F64(0.8),
            Kind::Int32 => Value::I32(number(field.name())),
            Kind::Int64 => Value::I64(1),
            Kind::Uint32 => Value::U32(1),
            Kind::Bytes => Value::Bytes(Vec::new().into()),
            Kind::String => Value::String(text(descriptor.name(), field.name()).to_owned()),
            _ => continue,
        };
        let value = if field.is_list() { Value::List(vec![value]) } else { value };
        if field.is_map() {
            continue;
        }
        message.set_field(&field, value);
    }
    message
}

fn number(field: &str) -> i32 {
    match field {
        "year" => 2026,
        "month" => 9,
        "day" => 14,
        "nanos" => 0,
        _ => 1,
    }
}

fn text(message: &str, field: &str) -> &'static str {
    match (message, field) {
        (_, "request_id") => "018f2c50-1d2b-7c3a-9d5e-2b3c4d5e6f70",
        ("PartRef", _) => "P1",
        ("SupplierRef", _) => "S1",
        ("BinRef", _) => "A1",
        ("BuildRef", _) => "B1",
        ("OrderRef", _) => "O1",
        ("Decimal", _) => "2",
        (_, "currency_code") => "GBP",
        (_, "unit_code") => "C62",
        (_, "time_zone") => "Europe/London",
        (_, "etag") => "v1",
        (_, "stage_name") => "Body",
        (_, "page_token" | "gtin" | "lot") => "",
        _ => "N1",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A write that nobody listed would be decoded only.
    #[test]
    fn every_request_that_takes_effect_is_read() {
        for message in MESSAGES.iter() {
            let writes = message.get_field_by_name("request_id").is_some();
            let streams = message.name().starts_with("Import");
            assert!(!writes || streams || reading(message.name()).is_some(), "{}", message.name());
        }
    }
}
