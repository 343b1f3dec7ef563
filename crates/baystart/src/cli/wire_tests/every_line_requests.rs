//! What the commands about made, awaited, picked and rejected things ask of the
//! server.

use super::recorder::{Recorder, canned};
use super::requests::{asked, check, code, day, number, quantity, ran};
use baystart_proto::v1;
use serde_json::{Value, json};

fn line(line: i32) -> Value {
    json!({"build": number("B-1"), "lineNumber": line})
}

#[tokio::test]
async fn parts() {
    let part = v1::Part {
        number: "HD-1".into(),
        family: "Rails".into(),
        made: Some(v1::part::Made::MadeInShop(v1::MadeInShop { working_days: 2 })),
        companions: vec![crate::cli::parse::part("TP-1").unwrap()],
        superseded_by: crate::cli::parse::part("HD-2"),
        ..v1::Part::default()
    };
    let other = v1::Part { number: "HD-3".into(), family: "rails".into(), ..v1::Part::default() };
    let plain = v1::Part { number: "HD-4".into(), ..v1::Part::default() };
    let parts = vec![part.clone(), other, plain];
    let recorder = Recorder::answering(&[
        ("GetPart", canned(&v1::GetPartResponse { part: Some(part) })),
        ("ListParts", canned(&v1::ListPartsResponse { parts, ..Default::default() })),
    ]);
    let component =
        |part: &str, much: &str| json!({"part": number(part), "quantity": quantity(much)});
    let table = vec![
        (
            "part add LM-1 Loom --component WR-1=3.5 --component PL-1=2 --made-in-shop 2",
            "CreatePart",
            json!({"part": {"number": "LM-1", "description": "Loom", "unitCode": "C62",
                "components": [component("WR-1", "3.5"), component("PL-1", "2")],
                "madeInShop": {"workingDays": 2}}}),
        ),
        (
            "part add BK-RED Bumper --component BK=1 --finished-by BEINN=12 --family BK --finish red --made-to-order --calls-for TP-1 --calls-for TP-2",
            "CreatePart",
            json!({"part": {"number": "BK-RED", "description": "Bumper", "unitCode": "C62",
                "components": [component("BK", "1")],
                "finishedOutside": {"supplier": code("BEINN"), "quotedLeadTimeDays": 12},
                "family": "BK", "finish": "red", "madeToOrder": true,
                "companions": [number("TP-1"), number("TP-2")]}}),
        ),
        (
            "part change HD-1 --made-in-shop none --replaced-by none --calls-for none",
            "UpdatePart",
            json!({"part": {"number": "HD-1", "family": "Rails"}}),
        ),
        (
            "part change HD-1 --finished-by BEINN --replaced-by HD-9",
            "UpdatePart",
            json!({"part": {"number": "HD-1", "family": "Rails", "companions": [number("TP-1")],
                "finishedOutside": {"supplier": code("BEINN")}, "supersededBy": number("HD-9")}}),
        ),
    ];
    check(&recorder, table).await;
    let (_, _, out) = asked(&recorder, "part list --family RAILS").await;
    assert!(out.contains("HD-1") && out.contains("HD-3") && !out.contains("HD-4"), "{out}");
    for (words, why) in [
        ("part add X Y --made-in-shop 2 --finished-by BEINN", "cannot be used with"),
        ("part add X Y --kit A=1 --component B=1", "cannot be used with"),
        ("part add X Y --made-in-shop soon", "whole number of days"),
    ] {
        let (code, _, err) = ran(&recorder, words).await;
        assert!(code == 64 && err.contains(why), "{words}: {code} {err}");
    }
}

#[tokio::test]
async fn builds_and_what_they_await() {
    let build = v1::Build {
        number: "B-1".into(),
        vehicle: "Carrier".into(),
        staging_bin_code: "S1".into(),
        ..Default::default()
    };
    let recorder =
        Recorder::answering(&[("GetBuild", canned(&v1::GetBuildResponse { build: Some(build) }))]);
    let build = || number("B-1");
    let table = vec![
        (
            "build new B-1 Looms --stage Wrap=4@SKYE --customer-line HD-2=1@Wrap --line HD-1=2@Wrap --for-stock --staging-bin S1",
            "CreateBuild",
            json!({"number": "B-1", "vehicle": "Looms", "forStock": true, "stagingBin": code("S1"),
                "stages": [{"name": "Wrap", "plannedDays": 4, "offSite": code("SKYE")}],
                "lines": [
                    {"stageName": "Wrap", "part": number("HD-1"), "quantity": quantity("2")},
                    {"stageName": "Wrap", "part": number("HD-2"), "quantity": quantity("1"), "customerSupplied": true}]}),
        ),
        (
            "build change B-1 --vehicle Van",
            "UpdateBuild",
            json!({"build": build(), "vehicle": "Van", "stagingBin": code("S1")}),
        ),
        (
            "build change B-1 --staging-bin none",
            "UpdateBuild",
            json!({"build": build(), "vehicle": "Carrier"}),
        ),
        (
            "build substitute B-1 3 WN-3 --approved-by Una_Baird --reason replaced --on 2026-10-05",
            "SubstitutePart",
            json!({"line": line(3), "part": number("WN-3"), "approvedBy": "Una Baird",
                "reason": "replaced", "occurredOn": day(5)}),
        ),
        (
            "build await B-1 vehicle Carrier --stage Strip --identification VF7 --expected 2026-10-09",
            "AddAwaited",
            json!({"build": build(), "items": [{"kind": "AWAITED_KIND_VEHICLE", "name": "Carrier",
                "stageName": "Strip", "identification": "VF7", "expectedOn": day(9)}]}),
        ),
        (
            "build await B-1 part Strap --line 3 --asked 2026-10-05",
            "AddAwaited",
            json!({"build": build(), "items": [{"kind": "AWAITED_KIND_CUSTOMER_PART", "name": "Strap",
                "lineNumber": 3, "askedOn": day(5)}]}),
        ),
        (
            "build await B-1 paper Type_approval --from Glen_council --usual-days 20",
            "AddAwaited",
            json!({"build": build(), "items": [{"kind": "AWAITED_KIND_PAPER", "name": "Type approval",
                "source": "Glen council", "usualDays": 20}]}),
        ),
        (
            "build news B-1 2 --expected 2026-10-09 --on 2026-10-05",
            "RecordAwaitedNews",
            json!({"build": build(), "itemNumber": 2, "expectedOn": day(9), "occurredOn": day(5)}),
        ),
        (
            "build news B-1 1 --identification VF7",
            "RecordAwaitedNews",
            json!({"build": build(), "itemNumber": 1, "identification": "VF7"}),
        ),
        (
            "build arrived B-1 2 --bin A1 --lot L1",
            "ReceiveAwaited",
            json!({"build": build(), "itemNumber": 2, "bin": code("A1"), "lot": "L1"}),
        ),
        (
            "build give-up B-1 3 --reason void",
            "DropAwaited",
            json!({"build": build(), "itemNumber": 3, "reason": "void"}),
        ),
    ];
    check(&recorder, table).await;
    for (words, why) in [
        ("build news B-1 2", "--expected"),
        ("build await B-1 wheel Spare", "vehicle, part, paper"),
        ("build substitute B-1 3 WN-3 --reason replaced", "--by"),
        ("build await B-1 paper Permit --on 2026-10-05", "--on says"),
    ] {
        let (code, _, err) = ran(&recorder, words).await;
        assert!(code == 64 && err.contains(why), "{words}: {code} {err}");
    }
}

#[tokio::test]
async fn made_and_finished() {
    let table = vec![
        (
            "made B-1 3 --bin A1 --quantity 1 --on 2026-10-05",
            "RecordMade",
            json!({"line": line(3), "bin": code("A1"), "quantity": quantity("1"), "occurredOn": day(5)}),
        ),
        (
            "finisher sent B-1 3 --back 2026-10-09",
            "SendOut",
            json!({"line": line(3), "promisedBackOn": day(9)}),
        ),
        (
            "finisher date B-1 3 2026-10-09",
            "RecordFinisherPromise",
            json!({"line": line(3), "promisedBackOn": day(9)}),
        ),
        (
            "finisher back B-1 3 --bin A1 --lot L1",
            "RecordCameBack",
            json!({"line": line(3), "bin": code("A1"), "lot": "L1"}),
        ),
    ];
    check(&Recorder::default(), table).await;
}

#[tokio::test]
async fn picked() {
    let row = |line_number, bin: &str, much: &str| v1::PickLine {
        line_number,
        stage_name: "Strip".into(),
        bin_code: bin.into(),
        quantity: Some(v1::Decimal { value: much.into() }),
        ..Default::default()
    };
    let list = v1::GetPickListResponse {
        build_number: "B-1".into(),
        staging_bin_code: "S1".into(),
        lines: vec![row(1, "A1", "4"), row(2, "B2", "1")],
        revision: 7,
    };
    let recorder = Recorder::answering(&[("GetPickList", canned(&list))]);
    let table = vec![
        (
            "pick B-1 --stage Strip",
            "GetPickList",
            json!({"build": number("B-1"), "stageName": "Strip"}),
        ),
        (
            "pick B-1 --all --missing 1=1 --on 2026-10-05",
            "ConfirmPick",
            json!({"build": number("B-1"), "occurredOn": day(5), "lines": [
                {"lineNumber": 1, "bin": code("A1"), "picked": quantity("3"), "missing": quantity("1")},
                {"lineNumber": 2, "bin": code("B2"), "picked": quantity("1")}]}),
        ),
        (
            "pick B-1 1=2@C3 2",
            "ConfirmPick",
            json!({"build": number("B-1"), "lines": [
                {"lineNumber": 1, "bin": code("C3"), "picked": quantity("2")},
                {"lineNumber": 2, "bin": code("B2"), "picked": quantity("1")}]}),
        ),
    ];
    check(&recorder, table).await;
    let (_, _, out) = asked(&recorder, "pick B-1 --json").await;
    let answer: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(answer["lines"][1]["binCode"], "B2");
    let (code, _, err) = ran(&recorder, "pick B-1 --on 2026-10-05").await;
    assert!(code == 64 && err.contains("--on says"), "{code} {err}");
}

#[tokio::test]
async fn rejected() {
    let table = vec![
        (
            "reject P-1 2=1 --refused --redelivery --reason bent",
            "RejectGoods",
            json!({"order": number("P-1"), "lineNumber": 2, "quantity": quantity("1"),
                "kind": "REJECTION_KIND_REFUSED", "settlement": "SETTLEMENT_REDELIVERY", "reason": "bent"}),
        ),
        (
            "reject P-1 2=1 --send-back A1 --credit --reason bent --lot L1 --on 2026-10-05",
            "RejectGoods",
            json!({"order": number("P-1"), "lineNumber": 2, "quantity": quantity("1"),
                "kind": "REJECTION_KIND_SENT_BACK", "bin": code("A1"), "lot": "L1",
                "settlement": "SETTLEMENT_CREDIT", "reason": "bent", "occurredOn": day(5)}),
        ),
        (
            "reject P-1 2=1 --quarantine A1 --credit --reason bent",
            "RejectGoods",
            json!({"order": number("P-1"), "lineNumber": 2, "quantity": quantity("1"),
                "kind": "REJECTION_KIND_QUARANTINED", "bin": code("A1"),
                "settlement": "SETTLEMENT_CREDIT", "reason": "bent"}),
        ),
        (
            "reject P-1 2=1 --send-back-quarantined A1 --credit --reason bent",
            "RejectGoods",
            json!({"order": number("P-1"), "lineNumber": 2, "quantity": quantity("1"),
                "kind": "REJECTION_KIND_SENT_BACK_FROM_QUARANTINE", "bin": code("A1"),
                "settlement": "SETTLEMENT_CREDIT", "reason": "bent"}),
        ),
        (
            "send-back HD-1=2 --bin A1 --supplier CORRIE --reason twice --quarantined",
            "ReturnToSupplier",
            json!({"part": number("HD-1"), "quantity": quantity("2"), "bin": code("A1"),
                "supplier": code("CORRIE"), "reason": "twice", "fromQuarantine": true}),
        ),
    ];
    let recorder = Recorder::default();
    check(&recorder, table).await;
    for words in [
        "reject P-1 2=1 --credit --reason bent",
        "reject P-1 2=1 --refused --reason bent",
        "reject P-1 2=1 --refused --send-back A1 --credit --reason bent",
        "reject P-1 2 --refused --credit --reason bent",
        "reject P-1 2=1 --refused --credit --redelivery --reason bent",
        "reject P-1 2=1 --refused --credit --reason bent --lot L1",
    ] {
        let (code, _, err) = ran(&recorder, words).await;
        assert_eq!(code, 64, "{words}: {err}");
    }
}
