//! What each command asks of the server, field by field.

use super::recorder::{Recorder, canned};
use super::{Folder, run};
use baystart_proto::v1;
use serde_json::{Value, json};
use tokio_stream::wrappers::TcpListenerStream;

/// Runs a command against the recorder: its exit code, answer and messages.
pub async fn ran(recorder: &Recorder, words: &str) -> (i32, String, String) {
    let folder = Folder::new();
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    let server = tonic::transport::Server::builder().add_routes(recorder.routes());
    let server = tokio::spawn(server.serve_with_incoming(TcpListenerStream::new(listener)));
    let mut args: Vec<String> = words.split(' ').map(|word| word.replace('_', " ")).collect();
    let token_file = folder.file("token", "sesame");
    args.extend(["--server".to_owned(), address, "--token-file".to_owned(), token_file]);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(args, &mut out, &mut err).await;
    server.abort();
    (code, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

/// Runs a command that is answered; the last call, its request id checked and
/// taken out, and the answer.
pub async fn asked(recorder: &Recorder, words: &str) -> (String, Value, String) {
    let (code, out, err) = ran(recorder, words).await;
    assert_eq!((code, err.as_str()), (0, ""), "{words}");
    let calls = std::mem::take(&mut *recorder.calls.lock().unwrap());
    let (method, mut request) = calls.last().cloned().unwrap();
    if let Some(id) = request.as_object_mut().unwrap().remove("requestId") {
        assert!(uuid::Uuid::try_parse(id.as_str().unwrap()).is_ok(), "{words}: {id}");
    } else {
        assert!(
            ["Get", "List", "Forecast", "Preview", "Propose", "Stream", "Run"]
                .iter()
                .any(|read| method.starts_with(read)),
            "{method}"
        );
    }
    (method, request, out)
}

pub fn day(day: i32) -> Value {
    json!({"year": 2026, "month": 10, "day": day})
}

pub fn number(number: &str) -> Value {
    json!({"number": number})
}

pub fn code(code: &str) -> Value {
    json!({"code": code})
}

pub fn quantity(value: &str) -> Value {
    json!({"value": value})
}

pub async fn check(recorder: &Recorder, table: Vec<(&str, &str, Value)>) {
    for (words, method, request) in table {
        let (called, sent, _) = asked(recorder, words).await;
        assert_eq!((called.as_str(), &sent), (method, &request), "{words}");
    }
}

#[tokio::test]
async fn stock() {
    let table = vec![
        (
            "bin add A1 Left_rack",
            "CreateBin",
            json!({"bin": {"code": "A1", "description": "Left rack"}}),
        ),
        (
            "stock adjust HD-1 --bin A1 --by +3 --reason recount --lot L1 --expires 2026-10-09 --on 2026-10-05",
            "AdjustStock",
            json!({"part": number("HD-1"), "bin": code("A1"), "lot": "L1", "change": quantity("3"), "reason": "recount",
                "occurredOn": day(5), "expiresOn": day(9)}),
        ),
        (
            "stock move HD-1 2.5 --from A1 --to B2",
            "MoveStock",
            json!({"part": number("HD-1"), "from": code("A1"), "to": code("B2"), "quantity": quantity("2.5")}),
        ),
        (
            "stock scrap HD-1 1 --bin A1 --reason bent --from-quarantine",
            "ScrapStock",
            json!({"part": number("HD-1"), "bin": code("A1"), "quantity": quantity("1"), "reason": "bent", "fromQuarantine": true}),
        ),
        (
            "stock quarantine HD-1 1 --bin A1 --reason bent --on 2026-10-05",
            "QuarantineStock",
            json!({"part": number("HD-1"), "bin": code("A1"), "quantity": quantity("1"), "reason": "bent", "occurredOn": day(5)}),
        ),
        (
            "stock release HD-1 1 --bin A1 --reason good --lot L1",
            "ReleaseQuarantine",
            json!({"part": number("HD-1"), "bin": code("A1"), "lot": "L1", "quantity": quantity("1"), "reason": "good"}),
        ),
        (
            "stock found B-1 3 1",
            "RecordFound",
            json!({"line": {"build": number("B-1"), "lineNumber": 3}, "quantity": quantity("1")}),
        ),
        ("stock list --short", "ListOnHand", json!({"pageSize": 200, "onlyShort": true})),
        ("stock history HD-1", "ListMovements", json!({"pageSize": 200, "part": number("HD-1")})),
        ("stock show HD-1", "GetOnHand", json!({"part": number("HD-1")})),
    ];
    check(&Recorder::default(), table).await;
}

#[tokio::test]
async fn catalogue() {
    let offer = v1::Offer {
        supplier: crate::cli::parse::supplier("CORRIE"),
        part: crate::cli::parse::part("HD-1"),
        price: Some(v1::Money { currency_code: "NOK".into(), units: 5, nanos: 0 }),
        quoted_lead_time_days: Some(0),
        etag: "e7".into(),
        ..Default::default()
    };
    let shop = v1::Shop {
        currency_code: "GBP".into(),
        name: "Glen".into(),
        etag: "e1".into(),
        ..Default::default()
    };
    let part = v1::Part {
        number: "HD-1".into(),
        consumable: true,
        gtin: "1".into(),
        etag: "e3".into(),
        ..Default::default()
    };
    let known = Recorder::answering(&[
        (
            "ListOffers",
            canned(&v1::ListOffersResponse { offers: vec![offer], ..Default::default() }),
        ),
        ("GetShop", canned(&v1::GetShopResponse { shop: Some(shop.clone()), today: None })),
        ("GetPart", canned(&v1::GetPartResponse { part: Some(part) })),
    ]);
    let table = vec![
        (
            "offer set CORRIE HD-1 --price 12.50 --lead-days none",
            "PutOffer",
            json!({"offer": {
            "supplier": code("CORRIE"), "part": number("HD-1"), "etag": "e7",
            "price": {"currencyCode": "NOK", "units": "12", "nanos": 500_000_000}}}),
        ),
        (
            "part change HD-1 --service 97.5% --least 4",
            "UpdatePart",
            json!({"part": {
            "number": "HD-1", "consumable": true, "gtin": "1", "etag": "e3",
            "stocked": {"serviceLevel": 0.975, "least": quantity("4")}}}),
        ),
        (
            "part change HD-1 --consumable=no --kit A=1,B=2.5",
            "UpdatePart",
            json!({"part": {
            "number": "HD-1", "gtin": "1", "etag": "e3", "components": [
                {"part": number("A"), "quantity": quantity("1")}, {"part": number("B"), "quantity": quantity("2.5")}]}}),
        ),
        (
            "shop set --working-days mon-wed --stall-tolerance 5%",
            "UpdateShop",
            json!({"shop": {
            "name": "Glen", "currencyCode": "GBP", "etag": "e1", "stallTolerance": 0.05,
            "workingDays": {"monday": true, "tuesday": true, "wednesday": true}}}),
        ),
        (
            "shop close 2026-10-05 2026-10-09 --supplier CORRIE --name Games",
            "AddClosures",
            json!({"closures": [
            {"firstDay": day(5), "lastDay": day(9), "name": "Games", "supplier": code("CORRIE")}]}),
        ),
        (
            "shop reopen 2026-10-05",
            "RemoveClosures",
            json!({"closures": [{"firstDay": day(5), "lastDay": day(5)}]}),
        ),
    ];
    check(&known, table).await;
    let (method, _, out) = asked(&known, "part change HD-1 --consumable").await;
    assert_eq!((method.as_str(), out.as_str()), ("GetPart", "Nothing changed.\n"));
    let unknown = Recorder::answering(&[(
        "GetShop",
        canned(&v1::GetShopResponse { shop: Some(shop), today: None }),
    )]);
    let table = vec![
        (
            "offer set CORRIE HD-1 --price 3 --pack 10 --lead-days 0 --preferred",
            "PutOffer",
            json!({"offer": {
            "supplier": code("CORRIE"), "part": number("HD-1"), "price": {"currencyCode": "GBP", "units": "3"},
            "packSize": quantity("10"), "quotedLeadTimeDays": 0, "preferred": true}}),
        ),
        (
            "part add HD-1 Rail --unit MTR --safety-related",
            "CreatePart",
            json!({"part": {
            "number": "HD-1", "description": "Rail", "unitCode": "MTR", "safetyRelated": true}}),
        ),
        (
            "supplier add CORRIE Corrie_Winches",
            "CreateSupplier",
            json!({"supplier": {"code": "CORRIE", "name": "Corrie Winches"}}),
        ),
        (
            "token issue bay --role workshop --role read-only",
            "IssueToken",
            json!({"name": "bay", "roles": ["ROLE_WORKSHOP", "ROLE_READ_ONLY"]}),
        ),
    ];
    check(&unknown, table).await;
}

#[tokio::test]
async fn orders() {
    let line = |line_number, state: v1::OrderLineState| v1::OrderLine {
        line_number,
        state: state.into(),
        ..Default::default()
    };
    let lines = vec![line(1, v1::OrderLineState::Received), line(2, v1::OrderLineState::Placed)];
    let order = v1::Order { number: "P-1".into(), lines, ..Default::default() };
    let shop = v1::Shop { currency_code: "GBP".into(), ..Default::default() };
    let recorder = Recorder::answering(&[
        ("GetOrder", canned(&v1::GetOrderResponse { order: Some(order) })),
        ("GetShop", canned(&v1::GetShopResponse { shop: Some(shop), today: None })),
    ]);
    let table = vec![
        (
            "order new P-1 CORRIE --line HD-1=2@12.50>B-1:3 --line HD-2=1 --placed 2026-10-05",
            "CreateOrder",
            json!({"number": "P-1", "supplier": code("CORRIE"), "placedOn": day(5), "lines": [
            {"part": number("HD-1"), "quantity": quantity("2"), "price": {"currencyCode": "GBP", "units": "12", "nanos": 500_000_000},
             "forLine": {"build": number("B-1"), "lineNumber": 3}},
            {"part": number("HD-2"), "quantity": quantity("1")}]}),
        ),
        (
            "order place P-1 --on 2026-10-05",
            "PlaceOrder",
            json!({"order": number("P-1"), "occurredOn": day(5)}),
        ),
        (
            "order answer P-1 --reference X9 --promise 1=2026-10-09 --promise 2",
            "RecordAcknowledgement",
            json!({"order": number("P-1"), "supplierReference": "X9", "promises": [
            {"lineNumber": 1, "promisedOn": day(9)}, {"lineNumber": 2}]}),
        ),
        (
            "order answer P-1 --all 2026-10-09",
            "RecordAcknowledgement",
            json!({"order": number("P-1"), "promises": [{"lineNumber": 2, "promisedOn": day(9)}]}),
        ),
        (
            "order despatched P-1 2",
            "RecordDespatch",
            json!({"order": number("P-1"), "lineNumbers": [2]}),
        ),
        (
            "order asked P-1 --note next_week",
            "RecordContact",
            json!({"order": number("P-1"), "note": "next week"}),
        ),
        (
            "order cancel P-1 2 --by supplier --reason gone --quantity 1",
            "CancelOrderLines",
            json!({"order": number("P-1"), "lineNumbers": [2], "quantity": quantity("1"),
                "cancelledBy": "CANCELLED_BY_SUPPLIER", "reason": "gone"}),
        ),
        (
            "order list --open --supplier CORRIE",
            "ListOrders",
            json!({"pageSize": 200, "onlyOpen": true, "supplier": code("CORRIE")}),
        ),
        (
            "receive P-1 --bin A1 --lot L1 --on 2026-10-05",
            "ReceiveOrder",
            json!({"order": number("P-1"), "occurredOn": day(5), "lines": [{"lineNumber": 2, "bin": code("A1"), "lot": "L1"}]}),
        ),
        (
            "receive P-1 1=2 2 --bin A1 --accept-over Una",
            "ReceiveOrder",
            json!({"order": number("P-1"), "lines": [
            {"lineNumber": 1, "quantity": quantity("2"), "bin": code("A1"), "overDeliveryAcceptedBy": "Una"},
            {"lineNumber": 2, "bin": code("A1"), "overDeliveryAcceptedBy": "Una"}]}),
        ),
        (
            "receive 4 --part HD-1 --bin A1 --supplier CORRIE --reason sample",
            "ReceiveStock",
            json!({"part": number("HD-1"), "quantity": quantity("4"), "bin": code("A1"), "supplier": code("CORRIE"), "reason": "sample"}),
        ),
    ];
    check(&recorder, table).await;
}
