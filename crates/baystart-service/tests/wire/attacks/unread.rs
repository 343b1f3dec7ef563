//! Calls that hold their places: answers that nobody reads, messages that never
//! come, or come by half.

use super::peer::{Peer, framed, other_shop, served};
use super::small;
use crate::{reason, stand_with};
use futures::future::{join_all, poll_fn};
use std::time::{Duration, Instant};
use tokio::time::timeout;
use tonic::Code;

const GET_SHOP: &str = "/baystart.v1.ShopService/GetShop";

#[tokio::test(flavor = "multi_thread")]
async fn answers_that_nobody_reads_keep_no_place_from_others() {
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    served(&stand, &other).await;
    let mut attacker = Peer::with_window(&stand, 0).await;
    let mut calls = Vec::new();
    for _ in 0..40 {
        calls.push(attacker.ask(GET_SHOP, Some(&stand.admin)).await);
    }
    tokio::time::sleep(Duration::from_millis(100)).await;
    served(&stand, &other).await;
    // The unread ones are ended though nothing was read, and their places are free.
    let began = Instant::now();
    let ends =
        timeout(Duration::from_secs(5), join_all(calls.into_iter().map(super::peer::Call::end)));
    let ends = ends.await.expect("unread answers stand for ever");
    assert!(began.elapsed() < Duration::from_secs(3), "{:?}", began.elapsed());
    let reset = ends.iter().filter(|end| end.is_err()).count();
    assert!(reset >= 12, "{reset} of {} were reset", ends.len());
    for refused in ends.iter().flatten() {
        assert_eq!(refused.code(), Code::ResourceExhausted, "{refused:?}");
    }
    for _ in 0..16 {
        served(&stand, &stand.admin).await;
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn messages_that_never_come_keep_no_place_from_others() {
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    served(&stand, &other).await;
    let mut attacker = Peer::new(&stand).await;
    let mut calls = Vec::new();
    for _ in 0..40 {
        calls.push(attacker.call(GET_SHOP, Some(&stand.admin)).await);
    }
    tokio::time::sleep(Duration::from_millis(100)).await;
    served(&stand, &other).await;
    let ends =
        timeout(Duration::from_secs(3), join_all(calls.into_iter().map(super::peer::Call::end)));
    let ends = ends.await.expect("calls without a message stand for ever");
    let late = ends.iter().flatten().filter(|status| reason(status) == "MESSAGE_UNFINISHED");
    assert!(late.count() >= 12, "{ends:?}");
    served(&stand, &stand.admin).await;
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn unfinished_messages_take_no_more_memory_than_there_is() {
    const MESSAGE: usize = 4 * 1024 * 1024;
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    served(&stand, &other).await;
    // All but the last byte of each, on connections of their own.
    let send = |peer: Peer, token: String| async move {
        let mut peer = peer;
        let mut call = peer.call(GET_SHOP, Some(&token)).await;
        let mut rest = framed(&vec![0; MESSAGE]).slice(..MESSAGE);
        let mut sent = 0;
        while !rest.is_empty() {
            call.body.reserve_capacity(rest.len());
            let room = timeout(Duration::from_millis(300), poll_fn(|c| call.body.poll_capacity(c)));
            let Ok(Some(Ok(room))) = room.await else { break };
            let piece = rest.split_to(room.min(rest.len()));
            sent += piece.len();
            if call.body.send_data(piece, false).is_err() {
                break;
            }
        }
        (sent, call, peer)
    };
    let mut sending = Vec::new();
    for _ in 0..12 {
        let peer = Peer::new(&stand).await;
        sending.push(tokio::spawn(send(peer, stand.admin.clone())));
    }
    // Another shop's message of a megabyte passes meanwhile: an unknown field of
    // as many bytes.
    tokio::time::sleep(Duration::from_millis(150)).await;
    let mut bytes = vec![0xfa, 0x7f, 0x80, 0x80, 0x40];
    bytes.resize(5 + 1024 * 1024, 7);
    let mut peer = Peer::new(&stand).await;
    let mut call = peer.call(GET_SHOP, Some(&other)).await;
    call.body.send_data(framed(&bytes), true).unwrap();
    let status = timeout(Duration::from_millis(1500), call.end()).await.expect("no answer");
    assert_eq!(status.unwrap().code(), Code::Ok);
    let mut taken = 0;
    for one in join_all(sending).await {
        taken += one.unwrap().0;
    }
    // One message in six of the eight megabytes, and what a connection may send unasked.
    assert!(taken < 6 * 1024 * 1024 + 12 * 300 * 1024, "{taken} bytes were taken in");
    stand.handle.stop().await.unwrap();
}
