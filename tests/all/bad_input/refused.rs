//! Requests that a rule refuses: code, reason, every field, and the whole shop
//! as it was.

use super::{new_order, receipt, reserve, small_shop};
use crate::wire::{
    Stand, adjust, bin, both, build, day, decimal, fields, id, line, need, new_build, new_part,
    order, part, told,
};
use baystart_core::book::Book;
use baystart_proto::v1;
use baystart_testkit::store::Backend;
use std::fmt::Debug;
use tonic::{Code, Response, Status};
use v1::{BuildLineRef, OrderLineRef};

/// A shop as it was before anything was refused.
struct Untouched {
    stand: Stand,
    before: (i64, Book),
    /// What was not as it should be; told together at the end.
    wrong: Vec<String>,
}

impl Untouched {
    /// Refused so, field by field, and nothing has changed.
    async fn by<T: Debug>(
        &mut self,
        what: &str,
        answer: Result<Response<T>, Status>,
        code: Code,
        reason: &str,
        wrong: &[(&str, &str)],
    ) {
        let status = answer.expect_err(what);
        let mut wanted: Vec<_> = wrong
            .iter()
            .map(|(field, reason)| ((*field).to_owned(), (*reason).to_owned()))
            .collect();
        wanted.sort();
        let (wanted, got) = ((code, reason.to_owned(), wanted), full(&status));
        if got != wanted || status.message().is_empty() {
            let text = status.message();
            self.wrong.push(format!("{what}: {got:?}, not {wanted:?}: {text}"));
        }
        if self.stand.state().await != self.before {
            self.wrong.push(format!("{what} left something behind"));
        }
    }

    async fn end(self) {
        assert!(self.wrong.is_empty(), "{}", self.wrong.join("\n"));
        self.stand.sound().await;
        self.stand.stop().await;
    }
}

fn full(status: &Status) -> (Code, String, Vec<(String, String)>) {
    let (code, reason) = told(status);
    (code, reason, fields(status))
}

async fn untouched(backend: Backend) -> Untouched {
    let stand = Stand::on(backend).await;
    small_shop(&mut stand.client().await).await;
    let before = stand.state().await;
    Untouched { stand, before, wrong: Vec::new() }
}

const INVALID: Code = Code::InvalidArgument;
const STATE: Code = Code::FailedPrecondition;

both!(quantities_units_and_dates, super::quantities_units_and_dates_on);
async fn quantities_units_and_dates_on(backend: Backend) {
    let mut shop = untouched(backend).await;
    let mut c = shop.stand.client().await;

    let mut request = adjust("NOPE", "1");
    let answer = c.ledger.adjust_stock(request.clone()).await;
    let wrong = [("part", "PART_UNKNOWN")];
    shop.by("an unknown part", answer, Code::NotFound, "PART_UNKNOWN", &wrong).await;

    for bad in ["1.0005", "", "one", "NaN", "1e3", "99999999999999999999", "٣", "1,5"] {
        request = adjust("WH-1", bad);
        let answer = c.ledger.adjust_stock(request).await;
        let wrong = [("change", "QUANTITY_INVALID")];
        shop.by(bad, answer, INVALID, "QUANTITY_INVALID", &wrong).await;
    }
    for bad in ["-1", "0"] {
        let answer = c.builds.reserve_stock(reserve("B-1", 1, bad)).await;
        let wrong = [("lines[0].quantity", "QUANTITY_INVALID")];
        shop.by("not a positive quantity", answer, INVALID, "QUANTITY_INVALID", &wrong).await;
    }
    let answer = c.ledger.adjust_stock(adjust("WH-1", "-10")).await;
    shop.by("more than is there", answer, STATE, "STOCK_SHORT", &[]).await;

    let metres = v1::NewBuildLine { unit_code: "MTR".to_owned(), ..need("Body", "WH-1", "1") };
    let answer = c.builds.create_build(new_build("B-2", vec![metres])).await;
    let wrong = [("lines[0].unit_code", "UNIT_MISMATCH")];
    shop.by("a wrong unit", answer, INVALID, "UNIT_MISMATCH", &wrong).await;
    let odd = v1::NewBuildLine { unit_code: "XYZ".to_owned(), ..need("Body", "WH-1", "1") };
    let answer = c.builds.create_build(new_build("B-2", vec![odd])).await;
    let wrong = [("lines[0].unit_code", "VALUE_INVALID")];
    shop.by("an unknown unit", answer, INVALID, "VALUE_INVALID", &wrong).await;

    let impossible =
        [(2026, 2, 30), (2026, 13, 1), (2026, 0, 1), (2026, 9, 0), (0, 9, 14), (i32::MIN, 1, 1)];
    for (year, month, of_month) in impossible {
        let mut request = adjust("WH-1", "1");
        request.occurred_on = day(year, month, of_month);
        let answer = c.ledger.adjust_stock(request).await;
        let wrong = [("occurred_on", "DATE_INVALID")];
        shop.by("an impossible or partial date", answer, INVALID, "DATE_INVALID", &wrong).await;
    }
    let mut request = adjust("WH-1", "1");
    request.occurred_on = day(2026, 9, 15);
    let answer = c.ledger.adjust_stock(request).await;
    let wrong = [("occurred_on", "DATE_IN_FUTURE")];
    shop.by("tomorrow's fact", answer, INVALID, "DATE_IN_FUTURE", &wrong).await;
    shop.end().await;
}

both!(every_fault_at_once, super::every_fault_at_once_on);
async fn every_fault_at_once_on(backend: Backend) {
    let mut shop = untouched(backend).await;
    let mut c = shop.stand.client().await;
    let request = v1::AdjustStockRequest {
        request_id: "7".to_owned(),
        part: part("NOPE"),
        bin: bin("Z9"),
        change: decimal("0.0001"),
        occurred_on: day(2026, 2, 30),
        ..v1::AdjustStockRequest::default()
    };
    let answer = c.ledger.adjust_stock(request).await;
    let wrong = [
        ("request_id", "REQUEST_ID_INVALID"),
        ("part", "PART_UNKNOWN"),
        ("bin", "BIN_UNKNOWN"),
        ("change", "QUANTITY_INVALID"),
        ("occurred_on", "DATE_INVALID"),
        ("reason", "FIELD_MISSING"),
    ];
    shop.by("six faults", answer, INVALID, "FIELDS_INVALID", &wrong).await;

    let answer = c.builds.create_build(v1::CreateBuildRequest::default()).await;
    let wrong = ["request_id", "number", "vehicle", "stages"].map(|field| (field, "FIELD_MISSING"));
    shop.by("an empty request", answer, INVALID, "FIELD_MISSING", &wrong).await;

    let mut lines = vec![line(9, "1"), line(1, "0.0004"), line(2, "-3")];
    lines[0].bin = bin("Z9");
    let request = v1::ReturnToStockRequest {
        request_id: id(),
        build: build("B-9"),
        lines,
        occurred_on: day(2026, 4, 31),
    };
    let answer = c.builds.return_to_stock(request).await;
    let wrong = [
        ("build", "BUILD_UNKNOWN"),
        ("lines[0].bin", "BIN_UNKNOWN"),
        ("lines[1].quantity", "QUANTITY_INVALID"),
        ("lines[2].quantity", "QUANTITY_INVALID"),
        ("occurred_on", "DATE_INVALID"),
    ];
    shop.by("faults in lines", answer, INVALID, "FIELDS_INVALID", &wrong).await;
    shop.end().await;
}

both!(what_does_not_exist, super::what_does_not_exist_on);
async fn what_does_not_exist_on(backend: Backend) {
    let mut shop = untouched(backend).await;
    let mut c = shop.stand.client().await;
    let begin = v1::BeginStageRequest {
        request_id: id(),
        build: build("B-1"),
        stage_name: "Paint".to_owned(),
        occurred_on: None,
    };
    let answer = c.builds.begin_stage(begin).await;
    let wrong = [("stage_name", "STAGE_UNKNOWN")];
    shop.by("a stage that is not there", answer, Code::NotFound, "STAGE_UNKNOWN", &wrong).await;
    let request = v1::AddBuildLinesRequest {
        request_id: id(),
        build: build("B-1"),
        lines: vec![need("Body", "WH-1", "1"), need("Paint", "WH-1", "1")],
    };
    let answer = c.builds.add_build_lines(request).await;
    let wrong = [("lines[1].stage_name", "STAGE_UNKNOWN")];
    shop.by("a stage of a line", answer, Code::NotFound, "STAGE_UNKNOWN", &wrong).await;
    let answer = c.builds.reserve_stock(reserve("B-1", 9, "1")).await;
    let wrong = [("lines[0].line_number", "LINE_UNKNOWN")];
    shop.by("a line that is not there", answer, Code::NotFound, "LINE_UNKNOWN", &wrong).await;
    let peg = v1::PegLineRequest {
        request_id: id(),
        line: Some(BuildLineRef { build: build("B-1"), line_number: 1 }),
        order_line: Some(OrderLineRef { order: order("P-9"), line_number: 1 }),
        quantity: None,
    };
    let answer = c.builds.peg_line(peg).await;
    let wrong = [("order_line.order", "ORDER_UNKNOWN")];
    shop.by("an order that is not there", answer, Code::NotFound, "ORDER_UNKNOWN", &wrong).await;
    shop.end().await;
}

both!(kits_and_orders, super::kits_and_orders_on);
async fn kits_and_orders_on(backend: Backend) {
    let mut shop = untouched(backend).await;
    let mut c = shop.stand.client().await;
    let read = c.catalogue.get_part(v1::GetPartRequest { part: part("KT-1") }).await.unwrap();
    let mut kit = read.into_inner().part.unwrap();
    kit.components.push(v1::KitComponent { part: part("kt-1"), quantity: decimal("1") });
    let request = v1::UpdatePartRequest { request_id: id(), part: Some(kit) };
    let answer = c.catalogue.update_part(request).await;
    shop.by("a kit that contains itself", answer, STATE, "KIT_CYCLE", &[]).await;
    let own = v1::KitComponent { part: part("KT-2"), quantity: decimal("1") };
    let kit = v1::Part { components: vec![own], ..new_part("KT-2", "C62") };
    let request = v1::CreatePartRequest { request_id: id(), part: Some(kit) };
    let answer = c.catalogue.create_part(request).await;
    shop.by("a new kit that contains itself", answer, STATE, "KIT_CYCLE", &[]).await;

    let answer = c.orders.receive_order(receipt("P-1", 1, "1")).await;
    let wrong = [("lines[0].line_number", "ORDER_LINE_STATE")];
    shop.by("a closed order again", answer, STATE, "ORDER_LINE_STATE", &wrong).await;
    let answer = c.orders.receive_order(receipt("P-2", 1, "4.001")).await;
    let wrong = [("lines[0].quantity", "OVER_RECEIPT")];
    shop.by("more than ordered", answer, STATE, "OVER_RECEIPT", &wrong).await;
    let mut two = receipt("P-2", 1, "1");
    two.lines.extend(receipt("P-2", 2, "1").lines);
    let answer = c.orders.receive_order(two).await;
    let wrong = [("lines[1].line_number", "LINE_UNKNOWN")];
    shop.by("one good line, one bad", answer, Code::NotFound, "LINE_UNKNOWN", &wrong).await;
    let answer = c.orders.create_order(new_order("p-2", "WH-1", "1")).await;
    shop.by("a number in use", answer, Code::AlreadyExists, "ORDER_EXISTS", &[]).await;
    shop.end().await;
}

both!(ids_tokens_and_etags, super::ids_tokens_and_etags_on);
async fn ids_tokens_and_etags_on(backend: Backend) {
    let mut shop = untouched(backend).await;
    let mut c = shop.stand.client().await;
    let first = adjust("WH-1", "3");
    let answer = c.ledger.adjust_stock(first.clone()).await.unwrap().into_inner();
    shop.before = shop.stand.state().await;
    // The same again, in other words: answers as before and does nothing.
    let mut again = first.clone();
    again.change = decimal("3.000");
    again.part = part(" WH-1 ");
    assert_eq!(c.ledger.adjust_stock(again).await.unwrap().into_inner(), answer);
    assert_eq!(shop.stand.state().await, shop.before);
    let mut other = first.clone();
    other.change = decimal("4");
    let answer = c.ledger.adjust_stock(other).await;
    shop.by("another quantity", answer, Code::AlreadyExists, "REQUEST_REUSED", &[]).await;
    let mut other = receipt("P-2", 1, "1");
    other.request_id.clone_from(&first.request_id);
    let answer = c.orders.receive_order(other).await;
    shop.by("another method", answer, Code::AlreadyExists, "REQUEST_REUSED", &[]).await;

    let list = v1::ListPartsRequest { page_size: 1, ..v1::ListPartsRequest::default() };
    let page = c.catalogue.list_parts(list.clone()).await.unwrap().into_inner();
    assert!(!page.next_page_token.is_empty());
    let wrong = [("page_token", "PAGE_TOKEN_INVALID")];
    let token = page.next_page_token.clone();
    let contains = "WH".to_owned();
    let other = v1::ListPartsRequest { page_token: token.clone(), contains, page_size: 1 };
    let answer = c.catalogue.list_parts(other).await;
    shop.by("of another filter", answer, INVALID, "PAGE_TOKEN_INVALID", &wrong).await;
    let other = v1::ListBinsRequest { page_token: token.clone(), page_size: 1 };
    let answer = c.ledger.list_bins(other).await;
    shop.by("of another list", answer, INVALID, "PAGE_TOKEN_INVALID", &wrong).await;
    for bad in ["x", "AAAA", "\u{0}", &token[1..], &"A".repeat(100_000)] {
        let other = v1::ListPartsRequest { page_token: bad.to_owned(), ..list.clone() };
        let answer = c.catalogue.list_parts(other).await;
        shop.by("a made-up token", answer, INVALID, "PAGE_TOKEN_INVALID", &wrong).await;
    }

    let read = c.catalogue.get_part(v1::GetPartRequest { part: part("WH-1") }).await.unwrap();
    let old = read.into_inner().part.unwrap();
    let update =
        |part: &v1::Part| v1::UpdatePartRequest { request_id: id(), part: Some(part.clone()) };
    c.catalogue.update_part(update(&old)).await.unwrap();
    shop.before = shop.stand.state().await;
    let answer = c.catalogue.update_part(update(&old)).await;
    let reason = "ETAG_MISMATCH";
    let status = answer.as_ref().unwrap_err();
    let wrong: Vec<_> = fields(status);
    let wrong: Vec<_> = wrong.iter().map(|(f, r)| (f.as_str(), r.as_str())).collect();
    assert!(wrong.is_empty() || wrong == [("part.etag", reason)], "{wrong:?}");
    shop.by("an old etag", answer, Code::Aborted, reason, &wrong).await;
    shop.end().await;
}
