//! Requests that are wrong, repeated, too large, or too late.

use crate::{Stand, fields, id, reason, stand};
use baystart_proto::v1;
use std::time::Duration;
use tonic::{Code, Request};
use v1::build_service_client::BuildServiceClient;
use v1::catalogue_service_client::CatalogueServiceClient;

fn part(number: &str) -> v1::CreatePartRequest {
    v1::CreatePartRequest {
        request_id: id(),
        part: Some(v1::Part {
            number: number.to_owned(),
            description: "Winch".to_owned(),
            unit_code: "C62".to_owned(),
            ..v1::Part::default()
        }),
    }
}

fn part_ref(number: &str) -> Option<v1::PartRef> {
    Some(v1::PartRef { r#ref: Some(v1::part_ref::Ref::Number(number.to_owned())) })
}

async fn parts(stand: &Stand, numbers: &[&str]) {
    let mut client = CatalogueServiceClient::new(stand.as_admin());
    for number in numbers {
        client.create_part(part(number)).await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn parse_faults_and_unknown_references_come_together() {
    let stand = stand().await;
    parts(&stand, &["WR-1"]).await;
    let decimal = |text: &str| Some(v1::Decimal { value: text.to_owned() });
    let line = |part: &str, quantity: &str| v1::NewBuildLine {
        stage_name: "Body".to_owned(),
        part: part_ref(part),
        quantity: decimal(quantity),
        ..v1::NewBuildLine::default()
    };
    let request = v1::CreateBuildRequest {
        request_id: "not a uuid".to_owned(),
        number: "B-1".to_owned(),
        vehicle: "Rescue 4x4".to_owned(),
        planned_start: Some(v1::Date { year: 2026, month: 9, day: 0 }),
        stages: vec![v1::NewStage {
            name: "Body".to_owned(),
            planned_days: 2,
            ..v1::NewStage::default()
        }],
        lines: vec![line("WR-1", "1"), line("NOPE", "2"), line("WR-1", "0.0001")],
        ..v1::CreateBuildRequest::default()
    };
    let status = BuildServiceClient::new(stand.as_admin()).create_build(request).await.unwrap_err();
    assert_eq!(
        (status.code(), reason(&status).as_str()),
        (Code::InvalidArgument, "FIELDS_INVALID")
    );
    let mut got = fields(&status);
    got.sort();
    let want = [
        ("lines[1].part", "PART_UNKNOWN"),
        ("lines[2].quantity", "QUANTITY_INVALID"),
        ("planned_start", "DATE_INVALID"),
        ("request_id", "REQUEST_ID_INVALID"),
    ];
    assert_eq!(got, want.map(|(f, r)| (f.to_owned(), r.to_owned())));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_repeat_answers_the_same_and_a_reused_id_is_refused() {
    let stand = stand().await;
    let mut client = CatalogueServiceClient::new(stand.as_admin());
    let request = part("WR-1");
    let first = client.create_part(request.clone()).await.unwrap().into_inner();
    let again = client.create_part(request.clone()).await.unwrap().into_inner();
    assert_eq!(first, again);
    assert_eq!(first.commit.unwrap().effects.len(), 1);
    let other = v1::CreatePartRequest { request_id: request.request_id.clone(), ..part("WR-2") };
    let status = client.create_part(other).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::AlreadyExists, "REQUEST_REUSED"));
    let status = client.create_part(part("wr-1")).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::AlreadyExists, "PART_EXISTS"));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_secret_is_shown_once() {
    let stand = stand().await;
    let mut client = v1::access_service_client::AccessServiceClient::new(stand.as_admin());
    let request = v1::IssueTokenRequest {
        request_id: id(),
        name: "quoting tool".to_owned(),
        roles: vec![i32::from(v1::Role::Sales)],
    };
    let first = client.issue_token(request.clone()).await.unwrap().into_inner();
    let again = client.issue_token(request).await.unwrap().into_inner();
    assert!(first.secret.len() > 40);
    assert_eq!(again.secret, "");
    assert_eq!(first.token, again.token);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn pages_follow_each_other_and_their_tokens_are_bound() {
    let stand = stand().await;
    parts(&stand, &["A-1", "A-2", "A-3", "B-1", "b-2"]).await;
    let mut client = CatalogueServiceClient::new(stand.as_admin());
    let mut seen = Vec::new();
    let mut page_token = String::new();
    loop {
        let request = v1::ListPartsRequest { page_size: 2, page_token, ..Default::default() };
        let page = client.list_parts(request).await.unwrap().into_inner();
        assert!(page.parts.len() <= 2);
        seen.extend(page.parts.into_iter().map(|part| part.number));
        page_token = page.next_page_token;
        if page_token.is_empty() {
            break;
        }
        let other = v1::ListPartsRequest {
            page_size: 2,
            page_token: page_token.clone(),
            contains: "A".to_owned(),
        };
        let status = client.list_parts(other).await.unwrap_err();
        let got = (status.code(), reason(&status));
        assert_eq!(got, (Code::InvalidArgument, "PAGE_TOKEN_INVALID".to_owned()));
    }
    assert_eq!(seen, ["A-1", "A-2", "A-3", "B-1", "b-2"]);
    let request = v1::ListPartsRequest { page_size: -1, ..Default::default() };
    assert_eq!(client.list_parts(request).await.unwrap_err().code(), Code::InvalidArgument);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn too_large_a_message_and_too_late_a_deadline() {
    let stand = stand().await;
    let mut client = CatalogueServiceClient::new(stand.as_admin());
    let mut large = part("WR-1");
    large.part.as_mut().unwrap().description = "x".repeat(5 * 1024 * 1024);
    let status = client.create_part(large).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::OutOfRange, "MESSAGE_TOO_LARGE"));

    assert_eq!(raw(&stand, "1n").await, ("4".to_owned(), true));
    assert_eq!(raw(&stand, "20S").await.0, "0");
    let mut request = Request::new(v1::ListPartsRequest::default());
    request.set_timeout(Duration::from_secs(20));
    client.list_parts(request).await.unwrap();
    stand.handle.stop().await.unwrap();
}

/// `grpc-status` of a call with a deadline, and whether details came with it. By
/// plain HTTP/2: the client of the library gives up by itself.
async fn raw(stand: &Stand, timeout: &str) -> (String, bool) {
    let stream = tokio::net::TcpStream::connect(stand.handle.addr()).await.unwrap();
    let (mut client, connection) = h2::client::handshake(stream).await.unwrap();
    tokio::spawn(connection);
    let request = tonic::codegen::http::Request::post(format!(
        "{}/baystart.v1.CatalogueService/ListParts",
        stand.handle.url()
    ))
    .header("content-type", "application/grpc")
    .header("te", "trailers")
    .header("authorization", format!("Bearer {}", stand.admin))
    .header("grpc-timeout", timeout)
    .body(())
    .unwrap();
    let (response, mut body) = client.send_request(request, false).unwrap();
    body.send_data(prost::bytes::Bytes::from_static(&[0; 5]), true).unwrap();
    let (head, mut rest) = response.await.unwrap().into_parts();
    while let Some(data) = rest.data().await {
        let size = data.unwrap().len();
        rest.flow_control().release_capacity(size).unwrap();
    }
    let headers = match rest.trailers().await.unwrap() {
        Some(trailers) => trailers,
        None => head.headers,
    };
    let text = headers.get("grpc-status").unwrap().to_str().unwrap().to_owned();
    (text, headers.contains_key("grpc-status-details-bin"))
}
