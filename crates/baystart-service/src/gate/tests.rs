//! The gate before services that panic, dawdle, or are too many.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use crate::limits::Limits;
use std::convert::Infallible;
use std::time::Duration;
use tonic_types::StatusExt;

const PUBLIC: &str = "/grpc.health.v1.Health/Check";

/// The status that a call through the gate is answered with.
async fn through<F, Fut>(limits: Limits, path: &str, timeout: Option<&str>, inner: F) -> Status
where
    F: Fn() -> Fut + Clone + Send + 'static,
    Fut: Future<Output = http::Response<Body>> + Send + 'static,
{
    let shared = Shared::in_memory(limits).await;
    let inner = tower::service_fn(move |_: http::Request<Body>| {
        let answer = inner();
        async move { Ok::<_, Infallible>(answer.await) }
    });
    let mut request = http::Request::new(Body::empty());
    *request.method_mut() = http::Method::POST;
    *request.uri_mut() = path.parse().unwrap();
    if let Some(timeout) = timeout {
        request.headers_mut().insert("grpc-timeout", timeout.parse().unwrap());
    }
    let (sender, answer) = tokio::sync::oneshot::channel();
    let mut gate = Gate::new(inner, shared);
    leash::hold(leash::Leash::new(None), async move {
        sender.send(gate.call(request).await.unwrap()).unwrap();
    })
    .await;
    let response = answer.await.unwrap();
    Status::from_header_map(response.headers()).unwrap_or_else(|| Status::ok(""))
}

fn reason(status: &Status) -> String {
    status.get_error_details().error_info().unwrap().reason.clone()
}

async fn fine() -> http::Response<Body> {
    http::Response::new(Body::empty())
}

#[tokio::test]
async fn a_panic_is_an_internal_error_without_its_text() {
    async fn bad() -> http::Response<Body> {
        panic!("the secret cause")
    }
    let status = through(Limits::default(), PUBLIC, None, bad).await;
    assert_eq!((status.code(), reason(&status).as_str()), (Code::Internal, "INTERNAL"));
    assert!(!format!("{status:?}").contains("secret cause"));
}

#[tokio::test]
async fn a_passed_deadline_is_said_as_such() {
    async fn slow() -> http::Response<Body> {
        tokio::time::sleep(Duration::from_secs(30)).await;
        fine().await
    }
    let status = through(Limits::default(), PUBLIC, Some("20m"), slow).await;
    assert_eq!(status.code(), Code::DeadlineExceeded);
    assert_eq!(through(Limits::default(), PUBLIC, Some("20S"), fine).await.code(), Code::Ok);
}

#[tokio::test]
async fn more_calls_than_there_are_places_are_refused() {
    let limits = Limits { health_watches_max: 0, ..Limits::default() };
    let status = through(limits, "/grpc.health.v1.Health/Watch", None, fine).await;
    assert_eq!((status.code(), reason(&status).as_str()), (Code::ResourceExhausted, "SERVER_BUSY"));
    assert!(status.get_error_details().retry_info().is_some());
}

#[tokio::test]
async fn a_private_path_never_reaches_the_service_without_a_token() {
    async fn never() -> http::Response<Body> {
        panic!("reached")
    }
    for path in ["/baystart.v1.ShopService/GetShop", "/baystart.v1.Other/Method", "/"] {
        let status = through(Limits::default(), path, None, never).await;
        assert!(matches!(status.code(), Code::Unauthenticated | Code::Unimplemented), "{path}");
    }
}
