//! Reads of the demo's shop on SQLite, beside a bare unary echo.

use crate::client::{Authed, authed, build, channel, load, part};
use crate::{AT_ONCE, measure};
use baystart_proto::v1;
use baystart_testkit::server::TestServer;
use baystart_testkit::store::Backend;
use criterion::Criterion;
use jiff::civil::date;
use tokio::net::TcpListener;
use tokio::runtime::Runtime;
use tokio_stream::wrappers::TcpListenerStream;
use tonic::transport::Channel;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;
use v1::forecast_service_client::ForecastServiceClient;
use v1::ledger_service_client::LedgerServiceClient;

/// A build of 53 lines.
const BUILD: &str = "B-1043";
/// A part of the demo that every build wants.
const PART: &str = "HT-7060";

/// A server of the transport alone: health answers from memory.
async fn echo_server() -> String {
    let listener = TcpListener::bind(("127.0.0.1", 0)).await.unwrap();
    let url = format!("http://{}", listener.local_addr().unwrap());
    let (_, health) = tonic_health::server::health_reporter();
    let router = tonic::transport::Server::builder().add_service(health);
    // As Baystart's own connections: without it answers only wait longer.
    let connections = tokio_stream::StreamExt::map(TcpListenerStream::new(listener), |stream| {
        stream.inspect(|stream| stream.set_nodelay(true).unwrap())
    });
    tokio::spawn(router.serve_with_incoming(connections));
    url
}

async fn echo(mut client: HealthClient<Channel>) -> HealthClient<Channel> {
    client.check(HealthCheckRequest::default()).await.unwrap();
    client
}

async fn on_hand(mut client: LedgerServiceClient<Authed>) -> LedgerServiceClient<Authed> {
    client.get_on_hand(v1::GetOnHandRequest { part: part(PART) }).await.unwrap();
    client
}

async fn forecast(mut client: ForecastServiceClient<Authed>) -> ForecastServiceClient<Authed> {
    let request = v1::ForecastBuildRequest {
        build: build(BUILD),
        as_of: None,
        start_on: None,
        suppose: Vec::new(),
    };
    let answer = client.forecast_build(request).await.unwrap().into_inner();
    assert!(answer.forecast.is_some());
    client
}

pub fn bench(criterion: &mut Criterion, runtime: &Runtime) {
    for backend in Backend::ALL {
        let (server, bare, authed) = runtime.block_on(async {
            let server = TestServer::start(backend, date(2026, 9, 14)).await;
            load(&server, concat!(env!("CARGO_MANIFEST_DIR"), "/../baystart/demo")).await;
            let bare = channel(&echo_server().await).await;
            let authed = authed(&server).await;
            (server, bare, authed)
        });
        let group = format!("reads_{backend:?}");
        for callers in AT_ONCE {
            let clients = vec![HealthClient::new(bare.clone()); callers];
            measure(criterion, runtime, (&group, "echo"), clients, echo);
            let clients = vec![LedgerServiceClient::new(authed.clone()); callers];
            measure(criterion, runtime, (&group, "GetOnHand"), clients, on_hand);
            let clients = vec![ForecastServiceClient::new(authed.clone()); callers];
            measure(criterion, runtime, (&group, "ForecastBuild"), clients, forecast);
        }
        runtime.block_on(server.stop());
    }
}
