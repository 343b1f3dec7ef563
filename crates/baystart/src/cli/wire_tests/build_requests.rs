//! What the commands on builds ask of the server, and what they print of its
//! answer.

use super::recorder::{Recorder, canned};
use super::requests::{asked, check, code, day, number, quantity};
use baystart_proto::v1;
use serde_json::{Value, json};

#[tokio::test]
async fn builds() {
    let build = v1::Build {
        number: "B-1".into(),
        vehicle: "Carrier".into(),
        priority: 5,
        etag: "e9".into(),
        planned_start: Some(v1::Date { year: 2026, month: 10, day: 5 }),
        ..Default::default()
    };
    let recorder =
        Recorder::answering(&[("GetBuild", canned(&v1::GetBuildResponse { build: Some(build) }))]);
    let line = |line| json!({"build": number("B-1"), "lineNumber": line});
    let order_line = json!({"order": number("P-1"), "lineNumber": 2});
    let build = || number("B-1");
    let table = vec![
        (
            "build new B-1 Carrier --stage Strip=2 --line HD-1=2@Strip --priority 5 --required-by 2026-10-09",
            "CreateBuild",
            json!({"number": "B-1", "vehicle": "Carrier", "priority": 5, "requiredBy": day(9),
                "stages": [{"name": "Strip", "plannedDays": 2}],
                "lines": [{"stageName": "Strip", "part": number("HD-1"), "quantity": quantity("2")}]}),
        ),
        (
            "build change B-1 --planned-start none --required-by 2026-10-09",
            "UpdateBuild",
            json!({"build": build(), "vehicle": "Carrier", "priority": 5, "requiredBy": day(9), "etag": "e9"}),
        ),
        (
            "build add B-1 --line HD-1=2@Strip",
            "AddBuildLines",
            json!({"build": build(),
            "lines": [{"stageName": "Strip", "part": number("HD-1"), "quantity": quantity("2")}]}),
        ),
        (
            "build line B-1 3 --quantity 0",
            "ChangeBuildLine",
            json!({"line": line(3), "quantity": quantity("0")}),
        ),
        (
            "build open B-1 --on 2026-10-05",
            "OpenBuild",
            json!({"build": build(), "occurredOn": day(5)}),
        ),
        ("build hold B-1 --reason wait", "HoldBuild", json!({"build": build(), "reason": "wait"})),
        ("build resume B-1", "ResumeBuild", json!({"build": build()})),
        ("build bay B-1", "PutInBay", json!({"build": build()})),
        (
            "build begin B-1 Body_work",
            "BeginStage",
            json!({"build": build(), "stageName": "Body work"}),
        ),
        ("build done B-1 Strip", "FinishStage", json!({"build": build(), "stageName": "Strip"})),
        ("build handover B-1", "MarkReadyForHandover", json!({"build": build()})),
        ("build deliver B-1", "DeliverBuild", json!({"build": build()})),
        (
            "build cancel B-1 --reason sold",
            "CancelBuild",
            json!({"build": build(), "reason": "sold"}),
        ),
        ("build list", "ListBuilds", json!({"pageSize": 200})),
        ("reserve B-1", "ReserveStock", json!({"build": build()})),
        (
            "reserve B-1 3=2 --lot L1",
            "ReserveStock",
            json!({"build": build(), "lines": [{"lineNumber": 3, "quantity": quantity("2"), "lot": "L1"}]}),
        ),
        ("release B-1 3", "ReleaseStock", json!({"build": build(), "lines": [{"lineNumber": 3}]})),
        (
            "peg B-1 3 P-1 2 1.5",
            "PegLine",
            json!({"line": line(3), "orderLine": order_line, "quantity": quantity("1.5")}),
        ),
        (
            "lend B-1 3 B-2 4 --json",
            "PreviewLending",
            json!({"from": line(3), "to": {"build": {"number": "B-2"}, "lineNumber": 4}}),
        ),
        (
            "lend B-1 3 B-2 4 --quantity 1.5 --reason late --shown 17",
            "LendToBuild",
            json!({
                "from": line(3),
                "to": {"build": {"number": "B-2"}, "lineNumber": 4},
                "quantity": quantity("1.5"),
                "reason": "late",
                "shownRevision": "17",
            }),
        ),
        ("unpeg B-1 3 P-1 2", "UnpegLine", json!({"line": line(3), "orderLine": order_line})),
        (
            "issue B-1 --stage Strip --on 2026-10-05",
            "IssueStock",
            json!({"build": build(), "stageName": "Strip", "occurredOn": day(5)}),
        ),
        (
            "issue B-1 3=1 --bin A1",
            "IssueStock",
            json!({"build": build(), "lines": [{"lineNumber": 3, "quantity": quantity("1"), "bin": code("A1")}]}),
        ),
        (
            "return B-1 3=1 --bin A1",
            "ReturnToStock",
            json!({"build": build(), "lines": [{"lineNumber": 3, "quantity": quantity("1"), "bin": code("A1")}]}),
        ),
        ("ready B-1 --as-of 2026-10-05", "GetReadiness", json!({"build": build(), "asOf": day(5)})),
        (
            "forecast B-1 --as-of 2026-10-05 --start 2026-10-09",
            "ForecastBuild",
            json!({"build": build(), "asOf": day(5), "startOn": day(9)}),
        ),
        ("board --as-of 2026-10-05", "StreamBoard", json!({"asOf": day(5)})),
        (
            "board --as-of 2026-10-09 --since 2026-10-05",
            "StreamBoard",
            json!({"asOf": day(9), "sinceOn": day(5)}),
        ),
        ("board --since-revision 17", "StreamBoard", json!({"sinceRevision": "17"})),
        (
            "forecast B-1 --if-later P-1=7 --if-later P-1:2=-3 --if-here HD-1=1.5 --if-first B-1 --if-bays -1",
            "ForecastBuild",
            json!({"build": build(), "suppose": [
                {"orderLater": {"order": {"number": "P-1"}, "days": 7}},
                {"orderLater": {"order": {"number": "P-1"}, "lineNumber": 2, "days": -3}},
                {"partHere": {"part": {"number": "HD-1"}, "quantity": quantity("1.5")}},
                {"buildFirst": {"build": build()}},
                {"moreBays": {"bays": -1}},
            ]}),
        ),
    ];
    check(&recorder, table).await;
}

#[tokio::test]
async fn effects_then_the_next_command() {
    let effect = |text: &str, build: &str| v1::Effect {
        text: text.into(),
        build_number: build.into(),
        ..Default::default()
    };
    let effects = vec![
        effect("Received 2 of HD-1 into A1", ""),
        effect("Reserved 2 of HD-1 for build B-1", "B-1"),
    ];
    let commit = v1::Commit { revision: 7, recorded_at: None, effects };
    let recorder = Recorder::answering(&[(
        "ReceiveStock",
        canned(&v1::ReceiveStockResponse { commit: Some(commit) }),
    )]);
    let (_, _, out) = asked(&recorder, "receive 2 --part HD-1 --bin A1").await;
    assert_eq!(
        out,
        "Received 2 of HD-1 into A1\nReserved 2 of HD-1 for build B-1\nnext: baystart ready B-1\n"
    );
    let (_, _, out) = asked(&recorder, "receive 2 --part HD-1 --bin A1 --json").await;
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["commit"]["revision"], "7");
    let (_, _, out) = asked(&Recorder::default(), "release B-1 3").await;
    assert_eq!(out, "Nothing changed.\n");
}
