//! Each way in which a line's parts come to be there, once through a real server: made, finished,
//! brought by the customer, awaited, substituted, picked, rejected.

use crate::workshop::{
    Clients, bin, build, found, line, much, october, order, part, said, supplier, value,
};
use crate::{fields, id, reason, stand};
use baystart_proto::v1;
use tonic::{Code, Status};
use v1::build_service_client::BuildServiceClient;

#[tokio::test(flavor = "multi_thread")]
async fn made_in_the_shop_and_finished_outside() {
    let stand = stand().await;
    let mut c = Clients::workshop(&stand).await;
    let before = c.read().await;
    let (loom, red) = (found(&before, 1), found(&before, 2));
    let making = loom.making.as_ref().unwrap();
    assert_eq!(making.way, "made in the shop, 2 working days");
    assert_eq!(red.making.as_ref().unwrap().finisher_code, "BEINN");
    let under = |number| before.lines.iter().find(|l| l.made_for_line_number == number).unwrap();
    assert_eq!((under(1).part_number.as_str(), under(2).part_number.as_str()), ("WIRE", "BK"));
    assert_eq!(before.stages[1].off_site_code, "BEINN");

    let request = v1::RecordMadeRequest {
        request_id: id(),
        line: line(1),
        bin: bin("A1"),
        ..Default::default()
    };
    let answer = c.builds.record_made(request).await.unwrap().into_inner();
    let told = said(answer.commit.as_ref());
    assert!(told.contains("Used up 3") && told.contains("Made 1"), "{told}");
    let made = answer.build.unwrap();
    assert_eq!(value(found(&made, 1).making.as_ref().unwrap().done.as_ref()), "1");
    assert_eq!(value(found(&made, 1).reserved.as_ref()), "1");

    let request = v1::SendOutRequest {
        request_id: id(),
        line: line(2),
        promised_back_on: october(2),
        ..Default::default()
    };
    let out = c.builds.send_out(request).await.unwrap().into_inner().build.unwrap();
    let making = found(&out, 2).making.clone().unwrap();
    assert_eq!((value(making.out.as_ref()), making.promised_back_on), ("1", october(2)));
    let request = v1::RecordFinisherPromiseRequest {
        request_id: id(),
        line: line(2),
        promised_back_on: october(5),
        occurred_on: None,
    };
    let out = c.builds.record_finisher_promise(request).await.unwrap().into_inner().build.unwrap();
    assert_eq!(found(&out, 2).making.as_ref().unwrap().promised_back_on, october(5));
    let request = v1::RecordCameBackRequest {
        request_id: id(),
        line: line(2),
        bin: bin("A1"),
        ..Default::default()
    };
    let back = c.builds.record_came_back(request).await.unwrap().into_inner().build.unwrap();
    assert_eq!(value(found(&back, 2).reserved.as_ref()), "1");

    let request = v1::ListMovementsRequest { page_size: 100, ..Default::default() };
    let movements = c.ledger.list_movements(request).await.unwrap().into_inner().movements;
    let accounts: Vec<&str> =
        movements.iter().flat_map(|m| &m.entries).map(|entry| entry.account.as_str()).collect();
    assert!(accounts.contains(&"finisher BEINN") && accounts.contains(&"making"), "{accounts:?}");
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn awaited_from_the_first_word_to_the_arrival() {
    let stand = stand().await;
    let mut c = Clients::workshop(&stand).await;
    let item = |kind: v1::AwaitedKind, name: &str| v1::NewAwaitedItem {
        kind: kind.into(),
        name: name.into(),
        ..Default::default()
    };
    let items = vec![
        v1::NewAwaitedItem {
            stage_name: "Body".into(),
            identification: "vf7abc".into(),
            ..item(v1::AwaitedKind::Vehicle, "Carrier")
        },
        v1::NewAwaitedItem {
            line_number: 3,
            expected_on: october(1),
            ..item(v1::AwaitedKind::CustomerPart, "Strap")
        },
        v1::NewAwaitedItem {
            usual_days: Some(20),
            ..item(v1::AwaitedKind::Paper, "Type approval")
        },
    ];
    let request = v1::AddAwaitedRequest { request_id: id(), build: build("B-1"), items };
    let added = c.builds.add_awaited(request).await.unwrap().into_inner().build.unwrap();
    let numbers: Vec<i32> = added.awaited.iter().map(|item| item.item_number).collect();
    assert_eq!(numbers, [1, 2, 3]);
    assert_eq!(added.awaited[0].identification, "VF7ABC");
    assert_eq!(added.awaited[1].stage_name, "Body");
    assert_eq!(added.awaited[2].stage_name, "");

    let request = v1::RecordAwaitedNewsRequest {
        request_id: id(),
        build: build("B-1"),
        item_number: 2,
        expected_on: october(6),
        ..Default::default()
    };
    let news = c.builds.record_awaited_news(request).await.unwrap().into_inner();
    let told = said(news.commit.as_ref());
    assert!(told.contains("moved from 2026-10-01 to 2026-10-06"), "{told}");
    let days: Vec<_> =
        news.build.unwrap().awaited[1].expected.iter().map(|e| e.expected_on).collect();
    assert_eq!(days, [october(1), october(6)]);

    let request = v1::ReceiveAwaitedRequest {
        request_id: id(),
        build: build("B-1"),
        item_number: 2,
        bin: bin("A1"),
        ..Default::default()
    };
    let here = c.builds.receive_awaited(request).await.unwrap().into_inner().build.unwrap();
    assert!(here.awaited[1].received_on.is_some());
    assert_eq!(value(found(&here, 3).reserved.as_ref()), "1");
    let request = v1::DropAwaitedRequest {
        request_id: id(),
        build: build("B-1"),
        item_number: 3,
        reason: "not needed by the new code".into(),
        occurred_on: None,
    };
    let gone = c.builds.drop_awaited(request.clone()).await.unwrap().into_inner().build.unwrap();
    assert!(gone.awaited[2].dropped_on.is_some());
    let again = v1::DropAwaitedRequest { request_id: id(), ..request };
    let status = c.builds.drop_awaited(again).await.unwrap_err();
    let got = (status.code(), reason(&status));
    assert_eq!(got, (Code::FailedPrecondition, "AWAITED_STATE".to_owned()));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn another_part_is_accepted_and_picked() {
    let stand = stand().await;
    let mut c = Clients::workshop(&stand).await;
    let request = v1::SubstitutePartRequest {
        request_id: id(),
        line: line(4),
        part: part("NEW"),
        approved_by: "Una Baird".into(),
        reason: "the old one is no longer made".into(),
        occurred_on: None,
    };
    let answer = c.builds.substitute_part(request).await.unwrap().into_inner();
    let told = said(answer.commit.as_ref());
    assert!(told.contains("Caution") && told.contains("decides dates, not fitness"), "{told}");
    let build_after = answer.build.unwrap();
    let row = found(&build_after, 4).substituted.clone().unwrap();
    assert_eq!(
        (row.instead_of_part_number.as_str(), row.approved_by.as_str()),
        ("OLD", "Una Baird")
    );
    assert_eq!(value(found(&build_after, 4).reserved.as_ref()), "2");

    let list = v1::GetPickListRequest { build: build("B-1"), stage_name: "body".into() };
    let shown = c.builds.get_pick_list(list.clone()).await.unwrap().into_inner();
    assert_eq!(shown.staging_bin_code, "S1");
    let row = shown.lines.iter().find(|line| line.line_number == 4).unwrap();
    assert_eq!((row.bin_code.as_str(), value(row.quantity.as_ref())), ("A1", "2"));
    let picked = v1::PickedLine {
        line_number: 4,
        bin: bin("A1"),
        picked: much("1"),
        missing: much("1"),
        ..Default::default()
    };
    let request = v1::ConfirmPickRequest {
        request_id: id(),
        build: build("B-1"),
        lines: vec![picked],
        occurred_on: None,
    };
    let answer = c.builds.confirm_pick(request).await.unwrap().into_inner();
    let told = said(answer.commit.as_ref());
    assert!(told.contains("not found in bin A1: variance") && told.contains("Picked 1"), "{told}");
    assert_eq!(value(found(&answer.build.unwrap(), 4).short.as_ref()), "1");
    let shown = c.builds.get_pick_list(list).await.unwrap().into_inner();
    assert!(shown.lines.iter().all(|line| line.line_number != 4), "{:?}", shown.lines);
    let unknown = v1::GetPickListRequest { build: build("B-1"), stage_name: "Roof".into() };
    assert_eq!(c.builds.get_pick_list(unknown).await.unwrap_err().code(), Code::NotFound);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn rejected_and_sent_back() {
    let stand = stand().await;
    let mut c = Clients::workshop(&stand).await;
    let ordered = v1::NewOrderLine { part: part("OLD"), quantity: much("2"), ..Default::default() };
    let request = v1::CreateOrderRequest {
        request_id: id(),
        number: "P-1".into(),
        supplier: supplier("CORRIE"),
        lines: vec![ordered],
        placed_on: Some(v1::Date { year: 2026, month: 9, day: 7 }),
    };
    c.purchasing.create_order(request).await.unwrap();
    let request = v1::ReceiveOrderRequest {
        request_id: id(),
        order: order("P-1"),
        lines: vec![v1::ReceiptLine { line_number: 1, bin: bin("A1"), ..Default::default() }],
        occurred_on: None,
    };
    c.purchasing.receive_order(request).await.unwrap();
    let request = v1::RejectGoodsRequest {
        request_id: id(),
        order: order("P-1"),
        line_number: 1,
        quantity: much("1"),
        kind: v1::RejectionKind::SentBack.into(),
        bin: bin("A1"),
        settlement: v1::Settlement::Redelivery.into(),
        reason: "cracked".into(),
        ..Default::default()
    };
    let answer = c.purchasing.reject_goods(request).await.unwrap().into_inner();
    let row = answer.order.unwrap().lines[0].clone();
    assert_eq!((value(row.rejected.as_ref()), value(row.on_order.as_ref())), ("1", "1"));
    assert_eq!(value(row.received.as_ref()), "1");
    let line = found(&c.read().await, 4).clone();
    assert_eq!((value(line.reserved.as_ref()), value(line.pegged.as_ref())), ("1", "1"));
    let request = v1::ReturnToSupplierRequest {
        request_id: id(),
        part: part("NEW"),
        bin: bin("A1"),
        quantity: much("2"),
        supplier: supplier("CORRIE"),
        reason: "ordered twice".into(),
        ..Default::default()
    };
    let answer = c.purchasing.return_to_supplier(request).await.unwrap().into_inner();
    assert!(said(answer.commit.as_ref()).contains("Sent back 2"), "{answer:?}");
    stand.handle.stop().await.unwrap();
}

/// The field errors, sorted.
fn faults(status: &Status) -> Vec<(String, String)> {
    assert_eq!(status.code(), Code::InvalidArgument, "{status:?}");
    let mut faults = fields(status);
    faults.sort();
    faults
}

fn pairs(want: &[(&str, &str)]) -> Vec<(String, String)> {
    want.iter().map(|(field, reason)| ((*field).to_owned(), (*reason).to_owned())).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_field_fault_comes_at_once() {
    let stand = stand().await;
    let mut c = Clients::workshop(&stand).await;
    let items = vec![
        v1::NewAwaitedItem { usual_days: Some(-1), line_number: -2, ..Default::default() },
        v1::NewAwaitedItem {
            kind: v1::AwaitedKind::Vehicle.into(),
            name: "Carrier".into(),
            stage_name: "Roof".into(),
            ..Default::default()
        },
    ];
    let request = v1::AddAwaitedRequest { request_id: "x".into(), build: build("B-1"), items };
    let status = c.builds.add_awaited(request).await.unwrap_err();
    let want = [
        ("items[0].kind", "FIELD_MISSING"),
        ("items[0].line_number", "VALUE_INVALID"),
        ("items[0].name", "FIELD_MISSING"),
        ("items[0].usual_days", "VALUE_INVALID"),
        ("request_id", "REQUEST_ID_INVALID"),
    ];
    assert_eq!(faults(&status), pairs(&want));

    let request = v1::RecordMadeRequest {
        request_id: id(),
        line: line(99),
        bin: bin("NOPE"),
        quantity: much("0"),
        ..Default::default()
    };
    // What reads and what is named come first; the line is looked for in the book.
    let status = c.builds.record_made(request.clone()).await.unwrap_err();
    assert_eq!(faults(&status), pairs(&[("bin", "BIN_UNKNOWN"), ("quantity", "QUANTITY_INVALID")]));
    let request = v1::RecordMadeRequest { bin: bin("A1"), quantity: None, ..request };
    let status = c.builds.record_made(request).await.unwrap_err();
    assert_eq!(fields(&status), pairs(&[("line.line_number", "LINE_UNKNOWN")]), "{status:?}");

    let status = c.builds.substitute_part(v1::SubstitutePartRequest::default()).await.unwrap_err();
    let want = [
        ("approved_by", "FIELD_MISSING"),
        ("line", "FIELD_MISSING"),
        ("part", "FIELD_MISSING"),
        ("reason", "FIELD_MISSING"),
        ("request_id", "FIELD_MISSING"),
    ];
    assert_eq!(faults(&status), pairs(&want));

    let status = c.purchasing.reject_goods(v1::RejectGoodsRequest::default()).await.unwrap_err();
    let named: Vec<String> = faults(&status).into_iter().map(|fault| fault.0).collect();
    for field in ["kind", "line_number", "order", "quantity", "reason", "settlement"] {
        assert!(named.contains(&field.to_owned()), "{field} of {named:?}");
    }
    let empty =
        v1::ConfirmPickRequest { request_id: id(), build: build("B-1"), ..Default::default() };
    let status = c.builds.confirm_pick(empty).await.unwrap_err();
    assert_eq!(faults(&status), pairs(&[("lines", "FIELD_MISSING")]));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn the_workshop_books_what_it_does_and_agrees_to_nothing() {
    let stand = stand().await;
    let mut c = Clients::workshop(&stand).await;
    let token = stand.token(&[v1::Role::Workshop]).await;
    let mut workshop = BuildServiceClient::new(stand.with(&token));
    let request = v1::RecordMadeRequest {
        request_id: id(),
        line: line(1),
        bin: bin("A1"),
        ..Default::default()
    };
    workshop.record_made(request).await.unwrap();
    let request = v1::SubstitutePartRequest {
        request_id: id(),
        line: line(4),
        part: part("NEW"),
        approved_by: "Una Baird".into(),
        reason: "it was at hand".into(),
        occurred_on: None,
    };
    let status = workshop.substitute_part(request).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::PermissionDenied, "ROLE_MISSING"));
    assert!(found(&c.read().await, 4).substituted.is_none());
    stand.handle.stop().await.unwrap();
}
