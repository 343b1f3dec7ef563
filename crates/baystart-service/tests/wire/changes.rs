//! Who did what, and every change as it happens.

use crate::workshop::{Clients, bin, build, much, part};
use crate::{Authed, Bearer, Stand, id, reason, stand};
use baystart_proto::v1;
use std::time::Duration;
use tonic::service::interceptor::InterceptedService;
use tonic::{Code, Streaming};
use v1::change_service_client::ChangeServiceClient;
use v1::list_changes_request::Of;

fn changes(authed: Authed) -> ChangeServiceClient<Authed> {
    ChangeServiceClient::new(authed)
}

/// So many corrections of a part that the open build waits for, each a revision.
async fn correct(by: &Authed, count: usize) {
    let mut ledger = v1::ledger_service_client::LedgerServiceClient::new(by.clone());
    for n in 0..count {
        let request = v1::AdjustStockRequest {
            request_id: id(),
            part: part("OLD"),
            bin: bin("A1"),
            change: much("1"),
            reason: format!("counted {n}"),
            ..Default::default()
        };
        ledger.adjust_stock(request).await.unwrap();
    }
}

async fn list(stand: &Stand, request: v1::ListChangesRequest) -> Vec<v1::Change> {
    let mut client = changes(stand.as_admin());
    let (mut all, mut page_token) = (Vec::new(), String::new());
    loop {
        let request = v1::ListChangesRequest { page_size: 3, page_token, ..request.clone() };
        let page = client.list_changes(request).await.unwrap().into_inner();
        all.extend(page.changes);
        page_token = page.next_page_token;
        if page_token.is_empty() {
            return all;
        }
    }
}

fn said(changes: &[v1::Change]) -> Vec<(i64, &str)> {
    changes.iter().map(|change| (change.revision, change.command.as_str())).collect()
}

/// What each shows: the whole shop by pages, newest first; a build with what is bound to its lines; a part with
/// what moved of it; one token's; from a day on.
#[tokio::test(flavor = "multi_thread")]
async fn who_did_what() {
    let stand = stand().await;
    Clients::workshop(&stand).await;
    let parts = stand.token(&[v1::Role::Parts]).await;
    correct(&stand.with(&parts), 2).await;
    let all = list(&stand, v1::ListChangesRequest::default()).await;
    let revisions: Vec<i64> = all.iter().map(|change| change.revision).collect();
    let newest = revisions[0];
    let counted: Vec<i64> = (newest - all.len() as i64 + 1..=newest).rev().collect();
    assert_eq!(revisions, counted, "newest first, without a gap");
    let of = |of| v1::ListChangesRequest { of: Some(of), ..Default::default() };
    let mine = list(
        &stand,
        v1::ListChangesRequest { recorded_by: "[Parts]".to_owned(), ..Default::default() },
    );
    let mine = mine.await;
    assert_eq!(said(&mine), [(newest, "Stock.Adjust"), (newest - 1, "Stock.Adjust")]);
    assert!(
        !mine[0].token_uid.is_empty()
            && mine[0].movements[0].entries.iter().any(|e| e.part_number == "OLD"),
        "{mine:?}"
    );
    // The corrections bound the part to the build's line.
    let of_build = list(&stand, of(Of::Build(build("B-1").unwrap()))).await;
    let commands: Vec<&str> = of_build.iter().map(|change| change.command.as_str()).collect();
    let told = |change: &v1::Change| change.effects.join("; ");
    assert!(told(&of_build[0]).contains("Reserved"), "{:?}", of_build[0]);
    assert!(commands.contains(&"Build.Create") && commands.contains(&"Build.Open"), "{commands:?}");
    let of_part = list(&stand, of(Of::Part(part("OLD").unwrap()))).await;
    assert!(said(&of_part).contains(&(newest, "Stock.Adjust")), "{of_part:?}");
    assert!(of_part.iter().any(|change| change.command == "CreatePart"));
    assert!(!of_part.iter().any(|change| change.command == "Build.Open"), "{of_part:?}");
    let since = Some(v1::Date { year: 2026, month: 9, day: 15 });
    let later = list(&stand, v1::ListChangesRequest { since, ..Default::default() }).await;
    assert_eq!(later, []);
    let mut client = changes(stand.as_admin());
    let unknown = client.list_changes(of(Of::Build(build("B-9").unwrap()))).await.unwrap_err();
    assert_eq!(unknown.code(), Code::NotFound);
    stand.handle.stop().await.unwrap();
}

/// The next changes, until so many have come.
async fn next(watch: &mut Streaming<v1::WatchChangesResponse>, count: usize) -> Vec<v1::Change> {
    let mut all = Vec::new();
    while all.len() < count {
        let message = tokio::time::timeout(Duration::from_secs(10), watch.message());
        let message = message.await.expect("told in time").unwrap().expect("not over");
        assert_eq!(message.changes.last().map(|c| c.revision), Some(message.revision));
        assert!(!message.commit_uid.is_empty());
        all.extend(message.changes);
    }
    all
}

/// WT-1: a watch that was cut and asks again after what it had last misses nothing and is told nothing twice, in
/// the order of revisions, whichever server wrote; who asks for now is told from now on.
#[tokio::test(flavor = "multi_thread")]
async fn a_watch_is_resumed_without_a_gap() {
    let stand = stand().await;
    Clients::workshop(&stand).await;
    let mut client = changes(stand.as_admin());
    let ask = |after_revision| v1::WatchChangesRequest { after_revision, ..Default::default() };
    let mut watch = client.watch_changes(ask(None)).await.unwrap().into_inner();
    let first = watch.message().await.unwrap().unwrap();
    assert!(first.changes.is_empty() && first.revision > 5, "{first:?}");
    // A migration renews the shop's commit, so that it would be no change's.
    assert_eq!(first.commit_uid, "", "{first:?}");
    let begun = first.revision;
    correct(&stand.as_admin(), 3).await;
    let mut seen = next(&mut watch, 3).await;
    drop(watch);
    // Nobody watches; then another server writes while one does.
    correct(&stand.as_admin(), 150).await;
    let last = seen.last().unwrap().revision;
    let mut watch = client.watch_changes(ask(Some(last))).await.unwrap().into_inner();
    seen.extend(next(&mut watch, 150).await);
    let (other, channel) = crate::beside(&stand).await;
    let there = InterceptedService::new(channel, Bearer(stand.admin.clone()));
    correct(&there, 2).await;
    seen.extend(next(&mut watch, 2).await);
    let revisions: Vec<i64> = seen.iter().map(|change| change.revision).collect();
    assert_eq!(revisions, (begun + 1..=begun + 155).collect::<Vec<_>>());
    let ahead = client.watch_changes(ask(Some(begun + 1_000))).await.unwrap();
    let status = ahead.into_inner().message().await.unwrap_err();
    assert_eq!((status.code(), reason(&status)), (Code::OutOfRange, "REVISION_AHEAD".to_owned()));
    // Restored, and gone on since: the revision is another commit's now.
    let restored = v1::WatchChangesRequest { after_commit_uid: id(), ..ask(Some(begun)) };
    let restored = client.watch_changes(restored).await.unwrap();
    let status = restored.into_inner().message().await.unwrap_err();
    assert_eq!(reason(&status), "REVISION_ANOTHER");
    let bad = client.watch_changes(ask(Some(-1))).await.unwrap_err();
    assert_eq!(bad.code(), Code::InvalidArgument);
    other.stop().await.unwrap();
    // A stop ends the stream; it is asked for anew elsewhere.
    let stop = tokio::spawn(stand.handle.stop());
    assert!(watch.message().await.is_ok_and(|message| message.is_none()));
    stop.await.unwrap().unwrap();
}

/// Who watches waits in a place of its own: calls go on though as many watch as there are calls at once. And
/// whose token is revoked is told nothing more.
#[tokio::test(flavor = "multi_thread")]
async fn watches_take_no_calls_place_and_end_with_their_token() {
    let limits = baystart_service::Limits { calls_max: 4, ..Default::default() };
    let stand = crate::stand_with(limits).await;
    Clients::workshop(&stand).await;
    let reader = stand.token(&[v1::Role::ReadOnly]).await;
    let mut watches = Vec::new();
    for _ in 0..12 {
        let mut client = changes(stand.with(&reader));
        let asked = client.watch_changes(v1::WatchChangesRequest::default()).await.unwrap();
        let mut watch = asked.into_inner();
        watch.message().await.unwrap().unwrap();
        watches.push(watch);
    }
    correct(&stand.as_admin(), 1).await;
    for watch in &mut watches {
        next(watch, 1).await;
    }
    let mut access = v1::access_service_client::AccessServiceClient::new(stand.as_admin());
    let tokens = access.list_tokens(v1::ListTokensRequest::default()).await.unwrap().into_inner();
    let role = [i32::from(v1::Role::ReadOnly)];
    let uid = tokens.tokens.iter().find(|token| token.roles == role).unwrap().uid.clone();
    access.revoke_token(v1::RevokeTokenRequest { request_id: id(), uid }).await.unwrap();
    for watch in &mut watches {
        let status = watch.message().await.unwrap_err();
        assert_eq!(status.code(), Code::Unauthenticated);
    }
    stand.handle.stop().await.unwrap();
}
