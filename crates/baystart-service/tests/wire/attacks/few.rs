//! What there are two places of: exports that nobody reads, imports that never
//! go on, backtests that nobody reads.

use super::peer::{Peer, framed, other_shop, served};
use super::small;
use crate::backtests::imported;
use crate::lead_times::shop;
use crate::stand_with;
use baystart_proto::v1;
use prost::Message as _;
use std::time::Duration;
use tokio::time::timeout;
use tonic::Code;

const EXPORT: &str = "/baystart.v1.ExportService/ExportFiles";
const IMPORT: &str = "/baystart.v1.ImportService/ImportFiles";
const HISTORY: &str = "/baystart.v1.ImportService/ImportHistory";
const BACKTEST: &str = "/baystart.v1.LeadTimeService/RunBacktest";

#[tokio::test(flavor = "multi_thread")]
async fn exports_that_nobody_reads_keep_no_place_from_others() {
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    let mut attacker = Peer::with_window(&stand, 0).await;
    let mut calls = Vec::new();
    for _ in 0..6 {
        calls.push(attacker.ask(EXPORT, Some(&stand.admin)).await);
    }
    tokio::time::sleep(Duration::from_millis(100)).await;
    served(&stand, &other).await;
    let mut peer = Peer::new(&stand).await;
    let export = peer.ask(EXPORT, Some(&other)).await.end();
    let status = timeout(Duration::from_secs(4), export).await.expect("no answer").unwrap();
    assert_eq!(status.code(), Code::Ok, "{status:?}");
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn imports_that_never_go_on_keep_no_place_from_others() {
    let stand = stand_with(small()).await;
    let other = other_shop(&stand).await;
    for path in [IMPORT, HISTORY] {
        let mut attacker = Peer::new(&stand).await;
        let mut calls = Vec::new();
        for _ in 0..6 {
            calls.push(attacker.call(path, Some(&stand.admin)).await);
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
        served(&stand, &other).await;
        let mut peer = Peer::new(&stand).await;
        let mut import = peer.call(path, Some(&other)).await;
        import.body.send_data(Default::default(), true).unwrap();
        let status = timeout(Duration::from_secs(4), import.end()).await.expect("no answer");
        let status = status.unwrap();
        assert_eq!(status.code(), Code::InvalidArgument, "it had its turn: {status:?}");
    }
    stand.handle.stop().await.unwrap();
}

/// A few bytes every now and then, for as long as it is let.
#[tokio::test(flavor = "multi_thread")]
async fn imports_that_trickle_are_let_go() {
    let stand = stand_with(small()).await;
    for path in [IMPORT, HISTORY] {
        let mut attacker = Peer::new(&stand).await;
        let mut call = attacker.call(path, Some(&stand.admin)).await;
        let mut sent = 0;
        let trickles = async {
            // The beginning of a message that is as long as it may be.
            let mut bytes = vec![0, 0, 0, 0x40, 0];
            while call.body.send_data(bytes.into(), false).is_ok() {
                sent += 1;
                tokio::time::sleep(Duration::from_millis(100)).await;
                bytes = vec![0];
            }
        };
        timeout(Duration::from_secs(5), trickles).await.expect("it trickles on");
        assert!(sent > 3, "it was let go after {sent} pieces");
    }
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn backtests_that_nobody_reads_keep_no_place_from_others() {
    let stand = stand_with(small()).await;
    shop(&stand).await;
    imported(&stand, 600).await;
    let long = v1::RunBacktestRequest {
        step_days: Some(1),
        horizon_days: Some(30),
        ..v1::RunBacktestRequest::default()
    };
    let other = other_shop(&stand).await;
    let mut attacker = Peer::with_window(&stand, 0).await;
    let mut calls = Vec::new();
    for _ in 0..6 {
        let mut call = attacker.call(BACKTEST, Some(&stand.admin)).await;
        call.body.send_data(framed(&long.encode_to_vec()), true).unwrap();
        calls.push(call);
    }
    tokio::time::sleep(Duration::from_millis(100)).await;
    served(&stand, &other).await;
    let mut peer = Peer::new(&stand).await;
    let backtest = peer.ask(BACKTEST, Some(&other)).await.end();
    let status = timeout(Duration::from_secs(5), backtest).await.expect("no answer").unwrap();
    assert_ne!(status.code(), Code::ResourceExhausted, "{status:?}");
    stand.handle.stop().await.unwrap();
}
