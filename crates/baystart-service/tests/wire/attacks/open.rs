//! What needs no token: connections, health and reflection.

use super::peer::{Peer, healthy, other_shop, served};
use super::small;
use crate::{reason, stand, stand_with};
use std::time::Duration;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::TcpStream;
use tokio::time::timeout;
use tonic::Code;

const WATCH: &str = "/grpc.health.v1.Health/Watch";
const CHECK: &str = "/grpc.health.v1.Health/Check";
const REFLECTION: &str = "/grpc.reflection.v1.ServerReflection/ServerReflectionInfo";

/// Whether the server ends the connection in time.
async fn is_ended(stream: &mut TcpStream) -> bool {
    let mut rest = Vec::new();
    timeout(Duration::from_secs(3), stream.read_to_end(&mut rest)).await.is_ok()
}

#[tokio::test(flavor = "multi_thread")]
async fn silent_connections_keep_nobody_out_and_are_ended() {
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    let mut silent = Vec::new();
    for _ in 0..120 {
        silent.push(TcpStream::connect(stand.handle.addr()).await.unwrap());
    }
    // Half of the greeting is silence, too.
    for stream in &mut silent {
        let _ = stream.write_all(b"PRI * HTTP").await;
    }
    served(&stand, &other).await;
    healthy(&stand).await;
    for stream in &mut silent {
        assert!(is_ended(stream).await, "a silent connection stands");
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn connections_that_only_shake_hands_keep_nobody_out_and_are_ended() {
    let stand = stand_with(small()).await;
    let mut idle = Vec::new();
    for _ in 0..120 {
        let mut stream = TcpStream::connect(stand.handle.addr()).await.unwrap();
        let _ = stream.write_all(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0").await;
        idle.push(stream);
    }
    healthy(&stand).await;
    for stream in &mut idle {
        assert!(is_ended(stream).await, "an idle connection stands");
    }
    // One with half of a request's headers.
    let mut stream = TcpStream::connect(stand.handle.addr()).await.unwrap();
    stream.write_all(b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n\0\0\0\x04\0\0\0\0\0").await.unwrap();
    stream.write_all(b"\0\0\x01\x01\0\0\0\0\x01\x83").await.unwrap();
    let mut rest = [0; 512];
    let ended = async { while stream.read(&mut rest).await.is_ok_and(|read| read > 0) {} };
    timeout(Duration::from_secs(8), ended).await.expect("half a request stands for ever");
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn watches_and_reflection_never_make_a_health_check_fail() {
    let stand = stand().await;
    let mut attacker = Peer::new(&stand).await;
    let mut streams = Vec::new();
    for _ in 0..100 {
        streams.push(attacker.ask(WATCH, None).await);
        streams.push(attacker.call(REFLECTION, None).await);
    }
    tokio::time::sleep(Duration::from_millis(100)).await;
    healthy(&stand).await;
    served(&stand, &stand.admin).await;
    // Those beyond their places are refused; the others go on.
    let ends = streams.into_iter().map(|call| timeout(Duration::from_millis(300), call.end()));
    let ends = futures::future::join_all(ends).await;
    let refused = ends.iter().flatten().map(|end| reason(end.as_ref().unwrap()));
    let refused: Vec<String> = refused.collect();
    assert_eq!(refused, vec!["SERVER_BUSY"; 36 + 68]);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn unfinished_and_unread_health_checks_never_make_one_fail() {
    let stand = stand_with(small()).await;
    let mut attackers = Vec::new();
    let mut streams = Vec::new();
    for _ in 0..4 {
        let mut attacker = Peer::with_window(&stand, 0).await;
        for _ in 0..100 {
            streams.push(attacker.call(CHECK, None).await);
            streams.push(attacker.ask(CHECK, None).await);
        }
        attackers.push(attacker);
    }
    healthy(&stand).await;
    tokio::time::sleep(Duration::from_millis(1300)).await;
    healthy(&stand).await;
    for stream in streams {
        timeout(Duration::from_secs(2), stream.end()).await.expect("a health check stands").ok();
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_reflection_that_asks_nothing_more_is_ended() {
    let stand = stand_with(small()).await;
    let mut peer = Peer::new(&stand).await;
    let call = peer.call(REFLECTION, None).await;
    let status = timeout(Duration::from_secs(3), call.end()).await.expect("it stands for ever");
    let status = status.unwrap();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::Aborted, "STREAM_STALLED"));
    // A watch has nothing to say for longer than that, and goes on.
    let watch = peer.ask(WATCH, None).await;
    let (_body, mut events) = watch.head().await;
    assert!(events.data().await.unwrap().is_ok());
    assert!(timeout(Duration::from_millis(1500), events.data()).await.is_err());
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn callers_without_a_token_of_this_server_take_no_place() {
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    let mut attacker = Peer::with_window(&stand, 0).await;
    let mut calls = Vec::new();
    for n in 0..200 {
        let token = format!("{n:064}");
        let token = (n % 2 == 0).then_some(token.as_str());
        calls.push(attacker.call("/baystart.v1.ShopService/GetShop", token).await);
        if n % 50 == 0 {
            served(&stand, &other).await;
        }
    }
    served(&stand, &other).await;
    for call in calls {
        let status = timeout(Duration::from_secs(2), call.end()).await.expect("no answer").unwrap();
        assert!(matches!(status.code(), Code::Unauthenticated | Code::ResourceExhausted));
    }
    stand.handle.stop().await.unwrap();
}
