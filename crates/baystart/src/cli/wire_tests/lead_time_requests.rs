//! What the commands on lead times ask of the server, and what becomes of a
//! backtest that ends early.

use super::recorder::{Recorder, canned};
use super::requests::{asked, check, code, day, number};
use super::{Folder, command};
use baystart_proto::v1;
use serde_json::{Value, json};

fn report() -> v1::RunBacktestResponse {
    let report = v1::BacktestReport {
        first: Some(v1::Date { year: 2026, month: 10, day: 5 }),
        kept: Some(v1::BacktestKept {
            orders: 214,
            by_80: 171,
            said_80: 172.4,
            ..Default::default()
        }),
        ..Default::default()
    };
    v1::RunBacktestResponse { event: Some(v1::run_backtest_response::Event::Report(report)) }
}

fn recorder() -> Recorder {
    Recorder::answering(&[("RunBacktest", canned(&report()))])
}

#[tokio::test]
async fn lead_times() {
    let table = vec![
        ("lead-times", "ListLeadTimeProfiles", json!({})),
        ("lead-times --as-of 2026-10-05", "ListLeadTimeProfiles", json!({"asOf": day(5)})),
        (
            "lead-times CORRIE --as-of 2026-10-05",
            "GetLeadTimeProfile",
            json!({"supplier": code("CORRIE"), "asOf": day(5)}),
        ),
        (
            "lead-times CORRIE HD-1",
            "GetLeadTimeProfile",
            json!({"supplier": code("CORRIE"), "part": number("HD-1")}),
        ),
        ("stale --as-of 2026-10-05", "ListStaleOrders", json!({"asOf": day(5)})),
        ("backtest", "RunBacktest", json!({})),
        (
            "backtest --from 2026-10-05 --to 2026-10-09 --step-days 7 --horizon-days 180 --brief",
            "RunBacktest",
            json!({"first": day(5), "end": day(9), "stepDays": 7, "horizonDays": 180, "brief": true}),
        ),
    ];
    check(&recorder(), table).await;
}

#[tokio::test]
async fn the_plain_sentence_comes_first_and_tools_get_the_report() {
    let recorder = recorder();
    let (_, _, out) = asked(&recorder, "backtest --brief").await;
    let sentence = "Of 214 past orders, 171 (80 %) came by the 80 % date; it was said of them that 172 would.\n";
    assert!(out.starts_with(sentence), "{out}");
    let (_, _, out) = asked(&recorder, "backtest --brief --json").await;
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["report"]["kept"]["by80"], 171);
}

#[tokio::test]
async fn a_backtest_without_a_report_is_a_fault() {
    // The recorder answers one message, and without a canned answer it is empty.
    let recorder = Recorder::default();
    let (code, out, err) = super::requests::ran(&recorder, "backtest").await;
    assert_eq!((code, out.as_str()), (70, ""));
    assert!(err.contains("without a report"), "{err}");
}

#[tokio::test]
async fn a_server_that_knows_no_lead_times_says_so() {
    let (folder, fake) = (Folder::new(), super::Fake::default());
    let (code, out, err) = command(&fake, "sesame", &folder, &["stale"]).await;
    assert_eq!((code, out.as_str()), (70, ""));
    assert!(err.starts_with("error: "), "{err}");
}
