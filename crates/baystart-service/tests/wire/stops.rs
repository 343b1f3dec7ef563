//! How a server stops: running calls end, endless streams and silent peers do
//! not hold it.

use crate::{stand, stand_with};
use baystart_service::Limits;
use std::time::{Duration, Instant};
use tokio::io::AsyncReadExt;
use tokio::net::TcpStream;
use tonic::Code;
use tonic_health::pb::HealthCheckRequest;
use tonic_health::pb::health_client::HealthClient;

#[tokio::test(flavor = "multi_thread")]
async fn a_health_watch_is_told_and_ended() {
    let stand = stand().await;
    let mut health = HealthClient::new(stand.channel.clone());
    let request = HealthCheckRequest { service: "baystart.v1.BuildService".to_owned() };
    let mut watch = health.watch(request).await.unwrap().into_inner();
    assert_eq!(watch.message().await.unwrap().unwrap().status, 1);
    let started = Instant::now();
    let stop = tokio::spawn(stand.handle.stop());
    let end = loop {
        match watch.message().await {
            Ok(Some(_)) => {}
            Ok(None) => break Code::Ok,
            Err(status) => break status.code(),
        }
    };
    assert_eq!(end, Code::Unavailable);
    stop.await.unwrap().unwrap();
    assert!(started.elapsed() < Duration::from_secs(5), "{:?}", started.elapsed());
}

#[tokio::test(flavor = "multi_thread")]
async fn a_silent_peer_is_cut_at_the_deadline() {
    let limits = Limits { stop_deadline: Duration::from_millis(500), ..Limits::default() };
    let stand = stand_with(limits).await;
    let mut silent = TcpStream::connect(stand.handle.addr()).await.unwrap();
    tokio::time::sleep(Duration::from_millis(100)).await;
    let started = Instant::now();
    stand.handle.stop().await.unwrap();
    assert!(started.elapsed() < Duration::from_secs(4), "{:?}", started.elapsed());
    let mut rest = Vec::new();
    let _ = tokio::time::timeout(Duration::from_secs(2), silent.read_to_end(&mut rest))
        .await
        .expect("the connection stays open");
}
