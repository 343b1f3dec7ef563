//! The backtest over the wire: its report, its refusals, and that it ends with its
//! caller.

use crate::lead_times::{TODAY, day, lead_times, ordered, received, shop};
use crate::{Stand, fields, reason, stand, stand_with};
use baystart_core::command::Scope;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_proto::v1;
use baystart_service::Limits;
use baystart_store::{HistoryImport, HistoryStep, PastRow};
use std::time::Duration;
use tonic::Code;
use v1::run_backtest_response::Event;

/// A past that was imported: its facts count as known from their own days, as a backtest needs
/// it. One part of one supplier, quoted at 10 days, that took 8 to 18.
pub async fn imported(stand: &Stand, lines: i32) {
    let shop = stand.store.shops().await.unwrap()[0].0;
    let scope = Scope { all: true, ..Scope::default() };
    let book = stand.store.read(shop, &scope).await.unwrap().book;
    let number = |text: &str| Number::parse(text).unwrap();
    let supplier = book.find_supplier(&Ref::Number(number("CORRIE"))).unwrap().id;
    let date = |n: i32| TODAY.saturating_add(jiff::Span::new().days(n));
    let row = |n: i32| {
        let placed = -1000 + n * 900 / lines;
        PastRow {
            file_line: u64::try_from(n).unwrap() + 1,
            supplier,
            order: number(&format!("A-{n}")),
            line: 1,
            part: number("HD-1"),
            quantity: Quantity::whole(1),
            quoted_days: Some(10),
            placed_on: date(placed),
            promises: Vec::new(),
            despatched_on: None,
            received_on: Some(date(placed + 8 + n * 7 % 11)),
            cancelled: None,
            last_known_open_on: None,
            recorded_on: None,
            entered: baystart_store::Entered::default(),
            rejected: baystart_core::quantity::Quantity::ZERO,
        }
    };
    let (sender, steps) = tokio::sync::mpsc::channel(2);
    sender.send(HistoryStep::Rows((0..lines).map(row).collect())).await.unwrap();
    let finish = HistoryStep::Finish { digest: [3; 32], dry_run: false, refused: false };
    sender.send(finish).await.unwrap();
    let import = HistoryImport {
        shop,
        actor: "parts desk".into(),
        request_id: uuid::Uuid::now_v7(),
        now: "2026-09-14T07:00:00Z".parse().unwrap(),
        steps,
        told: Box::new(|_| {}),
        answer: Box::new(|_| Vec::new()),
    };
    stand.store.import_history(import).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_backtest_reports_progress_and_then_how_dates_were_kept() {
    let stand = stand().await;
    shop(&stand).await;
    imported(&stand, 150).await;
    // Entered today: a backtest must not know of it before.
    ordered(&stand, "P-1", "CORRIE", "HD-1", -500).await;
    received(&stand, "P-1", -480).await;
    let request = v1::RunBacktestRequest {
        step_days: Some(30),
        horizon_days: Some(60),
        ..v1::RunBacktestRequest::default()
    };
    let mut events = lead_times(&stand).run_backtest(request).await.unwrap().into_inner();
    let (mut progress, mut report) = (Vec::new(), None);
    while let Some(message) = events.message().await.unwrap() {
        match message.event.unwrap() {
            Event::Progress(done) => progress.push((done.days_done, done.days_total)),
            Event::Report(found) => report = Some(found),
        }
    }
    let report = report.unwrap();
    assert!(progress.len() > 5 && progress.is_sorted(), "{progress:?}");
    let (done, total) = *progress.last().unwrap();
    assert!(done <= total && total == 29, "{progress:?}");
    assert_eq!(report.first, Some(day(-910)), "90 days after the first order");
    assert_eq!(report.last, Some(day(-70)));
    assert_eq!((report.lines, report.step_days, report.horizon_days), (151, 30, 60));
    let kept = report.kept.unwrap();
    assert!(kept.orders > 30 && kept.by_50 <= kept.by_80 && kept.by_80 <= kept.by_90, "{kept:?}");
    assert!(f64::from(kept.by_80) > 0.6 * f64::from(kept.orders), "{kept:?}");
    assert!(kept.said_80 >= 0.8 * f64::from(kept.orders));
    assert_eq!(report.were_here, 0, "the order entered today was not known");
    let methods: std::collections::BTreeSet<i32> =
        report.rows.iter().map(|row| row.method).collect();
    assert_eq!(methods.len(), 6, "{methods:?}");
    let all = report
        .rows
        .iter()
        .find(|row| {
            row.method() == v1::BacktestMethod::Learned
                && row.slice == Some(v1::backtest_row::Slice::All(true))
        })
        .unwrap();
    let scores = all.scores.as_ref().unwrap();
    assert_eq!(scores.levels.iter().map(|l| l.level).collect::<Vec<_>>(), [0.5, 0.8, 0.9]);
    assert!(scores.forecasts >= kept.orders && (scores.pit.iter().sum::<f64>() - 1.0).abs() < 1e-9);
    assert!(report.rows.iter().any(|row| {
        row.slice == Some(v1::backtest_row::Slice::SupplierCode("CORRIE".to_owned()))
    }));
    assert_eq!(report.correlation, 0.15);
    // Brief: the learned forecasts alone.
    let request = v1::RunBacktestRequest { brief: true, ..request };
    let mut events = lead_times(&stand).run_backtest(request).await.unwrap().into_inner();
    let mut brief = None;
    while let Some(message) = events.message().await.unwrap() {
        if let Some(Event::Report(found)) = message.event {
            brief = Some(found);
        }
    }
    let brief = brief.unwrap();
    assert!(brief.builds.is_empty() && brief.kept == report.kept);
    assert!(brief.rows.iter().all(|row| row.method() == v1::BacktestMethod::Learned));
    let wrong = v1::RunBacktestRequest { end: Some(day(1)), ..v1::RunBacktestRequest::default() };
    let status = lead_times(&stand).run_backtest(wrong).await.unwrap_err();
    assert_eq!(fields(&status), [("end".to_owned(), "DATE_INVALID".to_owned())]);
    let wrong = v1::RunBacktestRequest {
        step_days: Some(0),
        horizon_days: Some(5),
        ..v1::RunBacktestRequest::default()
    };
    let status = lead_times(&stand).run_backtest(wrong).await.unwrap_err();
    assert_eq!(fields(&status).len(), 2, "all faults at once");
    stand.handle.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_backtest_ends_with_its_caller() {
    let stand = stand_with(Limits {
        backtests_max: 1,
        heavy_wait_max: Duration::from_millis(100),
        ..Limits::default()
    })
    .await;
    shop(&stand).await;
    imported(&stand, 600).await;
    let long = v1::RunBacktestRequest {
        step_days: Some(1),
        horizon_days: Some(30),
        ..v1::RunBacktestRequest::default()
    };
    let mut events = lead_times(&stand).run_backtest(long).await.unwrap().into_inner();
    let Some(Event::Progress(first)) = events.message().await.unwrap().unwrap().event else {
        panic!("no progress first");
    };
    assert!(first.days_total > 700 && first.days_done < 100, "{first:?}");
    let status = lead_times(&stand).run_backtest(long).await.unwrap_err();
    assert_eq!((status.code(), reason(&status).as_str()), (Code::ResourceExhausted, "SERVER_BUSY"));
    drop(events);
    let brief = v1::RunBacktestRequest {
        first: Some(day(-50)),
        horizon_days: Some(30),
        brief: true,
        ..v1::RunBacktestRequest::default()
    };
    let mut admitted = false;
    for _ in 0..50 {
        tokio::time::sleep(Duration::from_millis(100)).await;
        if let Ok(events) = lead_times(&stand).run_backtest(brief).await {
            admitted = events.into_inner().message().await.unwrap().is_some();
            break;
        }
    }
    assert!(admitted, "the place of a backtest that nobody reads is not given back");
    stand.handle.stop().await.unwrap();
}
