//! A server that is asked to stop while peers hold on to it: running calls
//! end, and the rest is cut in a bounded time.

use super::small_shop;
use crate::wire::{Bearer, Lock, Stand, adjust, both, day, id, told};
use baystart_proto::v1;
use baystart_service::Limits;
use baystart_store::StoreOptions;
use baystart_testkit::store::{Backend, fresh_place};
use std::time::{Duration, Instant};
use tokio::io::AsyncReadExt;
use tokio::net::TcpStream;
use tokio::sync::mpsc;
use tokio_stream::wrappers::ReceiverStream;
use tonic::Code;
use tonic::service::interceptor::InterceptedService;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;
use v1::import_files_request::Step;
use v1::import_service_client::ImportServiceClient;

const DEADLINE: Duration = Duration::from_secs(1);

async fn quick_stand(backend: Backend) -> Stand {
    let limits = Limits { stop_deadline: DEADLINE, ..Limits::default() };
    let place = fresh_place(backend).await;
    let stand = Stand::with(place, 1, StoreOptions::default(), limits).await;
    small_shop(&mut stand.client().await).await;
    stand
}

async fn stop(stand: &mut Stand) -> Duration {
    let since = Instant::now();
    for handle in stand.servers.drain(..) {
        handle.stop().await.unwrap();
    }
    since.elapsed()
}

both!(peers_that_hold_on, super::peers_that_hold_on_to);
async fn peers_that_hold_on_to(backend: Backend) {
    let mut stand = quick_stand(backend).await;
    let client = stand.client().await;
    let before = stand.state().await;
    // One that says nothing at all.
    let mut silent = TcpStream::connect(stand.servers[0].addr()).await.unwrap();
    // One that watches.
    let mut health = HealthClient::new(client.channel.clone());
    let request = HealthCheckRequest { service: String::new() };
    let mut watch = health.watch(request).await.unwrap().into_inner();
    assert_eq!(watch.message().await.unwrap().unwrap().status, 1);
    // One that does not read the board that it asked for.
    let mut forecast = stand.client().await.forecast;
    let board = v1::StreamBoardRequest { as_of: day(2026, 9, 14), ..Default::default() };
    let board = forecast.stream_board(board).await.unwrap();
    // One that sends half an import.
    let other = stand.client().await.channel;
    let bearer = Bearer(stand.secret.clone());
    let mut import = ImportServiceClient::new(InterceptedService::new(other, bearer));
    let (steps, stream) = mpsc::channel(8);
    let step = |step| v1::ImportFilesRequest { step: Some(step) };
    let header = v1::ImportFileHeader {
        kind: v1::ImportKind::Parts.into(),
        name: "p.csv".into(),
        ..Default::default()
    };
    steps.send(step(Step::RequestId(id()))).await.unwrap();
    steps.send(step(Step::File(header))).await.unwrap();
    steps
        .send(step(Step::Chunk(b"number,description,unit\nNEW-1,Winch,C62\n".to_vec())))
        .await
        .unwrap();
    let importing = tokio::spawn(async move {
        let mut answers = import.import_files(ReceiverStream::new(stream)).await?.into_inner();
        while answers.message().await?.is_some() {}
        Ok::<_, tonic::Status>(())
    });
    tokio::time::sleep(Duration::from_millis(200)).await;

    let took = stop(&mut stand).await;
    assert!(took < DEADLINE + Duration::from_secs(3), "{took:?}");
    let mut rest = Vec::new();
    let cut = tokio::time::timeout(Duration::from_secs(2), silent.read_to_end(&mut rest)).await;
    assert!(cut.is_ok(), "the silent peer's connection stays open");
    let ended = tokio::time::timeout(Duration::from_secs(2), importing).await.unwrap().unwrap();
    assert!(ended.is_err(), "half an import was answered as done");
    loop {
        match watch.message().await {
            Ok(Some(_)) => {}
            Ok(None) => break,
            Err(status) => {
                assert_eq!(told(&status), (Code::Unavailable, "SERVER_STOPPING".to_owned()));
                break;
            }
        }
    }
    drop((board, steps));
    assert_eq!(stand.state().await, before);
    stand.stop().await;
}

both!(a_call_that_runs, super::a_call_that_runs_on);
async fn a_call_that_runs_on(backend: Backend) {
    let mut stand = quick_stand(backend).await;
    let mut client = stand.client().await;
    let lock = Lock::take(backend, &stand.place.url).await;
    let running =
        tokio::spawn(async move { client.ledger.adjust_stock(adjust("WH-1", "3")).await });
    tokio::time::sleep(Duration::from_millis(200)).await;
    let freeing = tokio::spawn(async move {
        tokio::time::sleep(Duration::from_millis(300)).await;
        lock.free().await;
    });
    let took = stop(&mut stand).await;
    assert!(took >= Duration::from_millis(200), "it did not wait: {took:?}");
    assert!(took < DEADLINE + Duration::from_secs(3), "{took:?}");
    freeing.await.unwrap();
    let answer = running.await.unwrap().unwrap().into_inner();
    assert_eq!(answer.commit.unwrap().revision, stand.state().await.0);
    stand.sound().await;
    stand.stop().await;
}
