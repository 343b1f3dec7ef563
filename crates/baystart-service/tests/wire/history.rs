//! Imports of past order lines over the wire: a file in many chunks, bad rows,
//! repeats, dry runs, and callers that go away.

use crate::{Stand, fields, id, reason, stand, stand_with};
use baystart_proto::v1;
use baystart_service::Limits;
use std::fmt::Write as _;
use std::time::Duration;
use tonic::{Code, Status};
use v1::import_history_request::Step;
use v1::import_history_response::Event;
use v1::import_service_client::ImportServiceClient;

const HEADER: &str = "supplier,part,order,line,quantity,placed_on,promises,received_on\n";

fn lines(count: usize) -> String {
    let mut text = HEADER.to_owned();
    for at in 0..count {
        let day = 1 + at % 28;
        writeln!(
            text,
            "CORRIE,EL-{},P-{at},1,2,2026-02-{day:02},2026-03-{day:02}@2026-02-28,2026-04-{day:02}",
            at % 40
        )
        .unwrap();
    }
    text
}

#[derive(Debug)]
struct Outcome {
    bad: Vec<String>,
    progress: Vec<v1::ImportProgress>,
    end: Result<v1::ImportHistoryReport, Status>,
}

fn start(request_id: &str) -> Step {
    let name = "history.csv".to_owned();
    Step::Start(v1::ImportHistoryStart {
        request_id: request_id.to_owned(),
        name,
        ..Default::default()
    })
}

fn finish(dry_run: bool) -> Step {
    Step::Finish(v1::ImportFinish { dry_run })
}

async fn import_as(stand: &Stand, text: &str, request_id: &str, dry_run: bool) -> Outcome {
    let mut steps = vec![start(request_id)];
    steps.extend(text.as_bytes().chunks(10_000).map(|chunk| Step::Chunk(chunk.to_vec())));
    steps.push(finish(dry_run));
    send(stand, steps).await
}

async fn import(stand: &Stand, text: &str) -> Outcome {
    import_as(stand, text, &id(), false).await
}

async fn send(stand: &Stand, steps: Vec<Step>) -> Outcome {
    let steps = steps.into_iter().map(|step| v1::ImportHistoryRequest { step: Some(step) });
    let mut client = ImportServiceClient::new(stand.as_admin());
    let mut answers = client.import_history(tokio_stream::iter(steps)).await.unwrap().into_inner();
    let end = Err(Status::unknown("no report came"));
    let mut out = Outcome { bad: Vec::new(), progress: Vec::new(), end };
    loop {
        match answers.message().await {
            Err(status) => {
                out.end = Err(status);
                return out;
            }
            Ok(None) => return out,
            Ok(Some(message)) => match message.event.unwrap() {
                Event::Progress(progress) => out.progress.push(progress),
                Event::BadRow(b) => {
                    out.bad.push(format!("{}:{} {} {}", b.file, b.line, b.field, b.reason));
                }
                Event::Report(report) => out.end = Ok(report),
            },
        }
    }
}

/// How many past lines there are, and the shop's revision.
async fn kept(stand: &Stand) -> (usize, i64) {
    let shop = stand.store.shops().await.unwrap()[0].0;
    let history = stand.store.history(shop).await.unwrap();
    (history.history.lines.len(), history.revision)
}

async fn stand_with_supplier(limits: Limits) -> Stand {
    let stand = stand_with(limits).await;
    let mut client = v1::catalogue_service_client::CatalogueServiceClient::new(stand.as_admin());
    let supplier = v1::Supplier {
        code: "CORRIE".to_owned(),
        name: "Corrie Electrics".to_owned(),
        ..v1::Supplier::default()
    };
    let request = v1::CreateSupplierRequest { request_id: id(), supplier: Some(supplier) };
    client.create_supplier(request).await.unwrap();
    stand
}

fn counted(report: &v1::ImportHistoryReport) -> (i64, i64, i64, i64, i64) {
    let file = report.file.as_ref().unwrap();
    (file.rows, file.created, file.changed, file.unchanged, report.parts_unknown)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_history_goes_in_once_and_again_changes_nothing() {
    let stand = stand_with_supplier(Limits::default()).await;
    let text = lines(12_000);
    let before = kept(&stand).await;
    let dry = import_as(&stand, &text, &id(), true).await.end.unwrap();
    assert!(dry.dry_run);
    assert_eq!(counted(&dry), (12_000, 12_000, 0, 0, 12_000));
    assert_eq!(kept(&stand).await, before);

    let outcome = import(&stand, &text).await;
    let report = outcome.end.unwrap();
    assert_eq!(counted(&report), (12_000, 12_000, 0, 0, 12_000));
    assert_eq!(report.commit.unwrap().revision, before.1 + 1);
    let first = outcome.progress.first().unwrap();
    assert!(first.rows_booked >= 5_000 && first.rows_read >= first.rows_booked, "{first:?}");
    assert_eq!(first.rows_total, 0);
    assert_eq!(kept(&stand).await, (12_000, before.1 + 1));

    let changed = text.replacen("2026-04-01", "2026-04-02", 1);
    let report = import(&stand, &changed).await.end.unwrap();
    assert_eq!(counted(&report), (12_000, 0, 1, 11_999, 12_000));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn every_bad_row_is_named_and_nothing_is_kept() {
    let limits = Limits { import_bad_rows_max: 5, ..Limits::default() };
    let stand = stand_with_supplier(limits).await;
    let before = kept(&stand).await;
    let mut text = lines(3_000);
    text.push_str("CORRIE,EL-1,P-3,1,2,2026-02-01,,\n"); // 3002: another part of P-3
    text.push_str("CORRIE,EL-3,p-3,1,2,2026-02-01,,\n"); // 3003: P-3 again
    text.push_str("NOBODY,EL-3,P-9001,1,none,2026-02-01,,\n");
    text.push_str("CORRIE,EL-3,P-9002,1,2,2026-02-01,,2026-01-31\n");
    text.push_str("CORRIE,EL-3,P-9003,1,2,2026-10-01,,\n");
    text.push_str("CORRIE,EL-3,P-9004,,2,2026-02-01,,\nCORRIE,EL-3,P-9004,,2,2026-02-01,,\n");
    let outcome = import(&stand, &text).await;
    let want = [
        "history.csv:3003 order line 1, part EL-3, of this order stands further up already, placed on 2026-02-04",
        "history.csv:3004 quantity \"none\" is not a decimal number",
        "history.csv:3004 supplier no supplier \"NOBODY\" in this shop",
        "history.csv:3005 received_on 2026-01-31 is before the day of placing, 2026-02-01",
        "history.csv:3006 placed_on 2026-10-01 is after today, 2026-09-14",
    ];
    assert_eq!(outcome.bad, want);
    let status = outcome.end.unwrap_err();
    assert_eq!(
        (status.code(), reason(&status).as_str()),
        (Code::InvalidArgument, "IMPORT_REFUSED")
    );
    // All are counted, though not all are sent.
    assert_eq!(status.message(), "6 mistakes; nothing was kept");
    assert_eq!(kept(&stand).await, before);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_replay_answers_the_same_and_steps_out_of_order_are_refused() {
    let stand = stand_with_supplier(Limits::default()).await;
    let request_id = id();
    let first = import_as(&stand, &lines(10), &request_id, false).await.end.unwrap();
    let again = import_as(&stand, &lines(10), &request_id, false).await.end.unwrap();
    assert_eq!(first, again);
    let other = import_as(&stand, &lines(11), &request_id, false).await;
    assert_eq!(reason(&other.end.unwrap_err()), "REQUEST_REUSED");
    let before = kept(&stand).await;
    let chunk = |text: &str| Step::Chunk(text.as_bytes().to_vec());
    let good = lines(3_000);
    for (steps, field) in [
        (vec![], "step"),
        (vec![chunk(HEADER)], "step"),
        (vec![start("x")], "request_id"),
        (vec![start(&id()), start(&id())], "step"),
        (vec![start(&id())], "step"),
        (vec![start(&id()), chunk(&good)], "step"),
        (vec![start(&id()), chunk(&good), Step::Chunk(vec![b'x'; 1024 * 1024 + 1])], "chunk"),
    ] {
        let status = send(&stand, steps).await.end.unwrap_err();
        assert_eq!(status.code(), Code::InvalidArgument, "{status:?}");
        assert_eq!(fields(&status)[0].0, field, "{status:?}");
    }
    for (text, want) in
        [("", "history.csv:1  the file has no header line"), ("part\n", "1 order the column is")]
    {
        let outcome = import(&stand, text).await;
        assert!(outcome.bad[0].contains(want), "{outcome:?}");
        assert_eq!(reason(&outcome.end.unwrap_err()), "IMPORT_REFUSED");
    }
    let empty = import(&stand, HEADER).await.end.unwrap();
    assert_eq!(counted(&empty), (0, 0, 0, 0, 0));
    assert_eq!(kept(&stand).await.0, before.0);
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_caller_that_goes_away_leaves_nothing_behind() {
    let stand = stand_with_supplier(Limits::default()).await;
    let before = kept(&stand).await;
    let text = lines(2_000);
    for _ in 0..3 {
        let (sender, receiver) = tokio::sync::mpsc::channel(8);
        let stream = tokio_stream::wrappers::ReceiverStream::new(receiver);
        let mut client = ImportServiceClient::new(stand.as_admin());
        let answers = client.import_history(stream).await.unwrap();
        for step in [start(&id()), Step::Chunk(text.clone().into_bytes())] {
            sender.send(v1::ImportHistoryRequest { step: Some(step) }).await.unwrap();
        }
        // So that rows are written already.
        tokio::time::sleep(Duration::from_millis(300)).await;
        drop(answers);
        drop(sender);
    }
    // The shop's next command does not wait until the three are given up, which
    // would be 30 s, and the places are free again.
    let report =
        tokio::time::timeout(Duration::from_secs(20), import(&stand, &text)).await.unwrap();
    assert_eq!(counted(&report.end.unwrap()).1, 2_000);
    assert_eq!(kept(&stand).await, (2_000, before.1 + 1));
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_caller_without_the_role_is_turned_away() {
    let stand = stand().await;
    let sales = stand.token(&[v1::Role::Sales]).await;
    let mut client = ImportServiceClient::new(stand.with(&sales));
    let steps =
        [start(&id()), finish(false)].map(|step| v1::ImportHistoryRequest { step: Some(step) });
    let status = client.import_history(tokio_stream::iter(steps)).await.unwrap_err();
    assert_eq!(status.code(), Code::PermissionDenied);
    stand.handle.stop().await.unwrap();
}
