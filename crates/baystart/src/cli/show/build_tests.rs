use super::*;

fn decimal(value: &str) -> Option<v1::Decimal> {
    Some(v1::Decimal { value: value.into() })
}

fn date(day: i32) -> Option<v1::Date> {
    Some(v1::Date { year: 2026, month: 10, day })
}

fn line(line_number: i32, part: &str) -> v1::BuildLine {
    v1::BuildLine {
        line_number,
        stage_name: "Front".into(),
        part_number: part.into(),
        part_description: "Part".into(),
        unit_code: "C62".into(),
        required: decimal("2"),
        gates: true,
        ..Default::default()
    }
}

fn making(way: &str, done: &str, out: &str) -> Option<v1::Making> {
    Some(v1::Making {
        way: way.into(),
        quantity: decimal("2"),
        done: decimal(done),
        out: decimal(out),
        sent_on: date(1),
        promised_back_on: date(12),
        ..Default::default()
    })
}

#[test]
fn lines_of_every_kind_explain_themselves() {
    let lines = vec![
        v1::BuildLine {
            making: making("made in the shop, 2 working days", "1", "0"),
            ..line(1, "LOOM")
        },
        v1::BuildLine { making: making("finished by BEINN", "0", "2"), ..line(2, "BK-RED") },
        v1::BuildLine { customer_supplied: true, short: decimal("2"), ..line(3, "STRAP") },
        v1::BuildLine {
            substituted: Some(v1::Substitution {
                instead_of_part_number: "WN-1".into(),
                approved_by: "Una Baird".into(),
                reason: "WN-1 is no longer made".into(),
                on: date(2),
            }),
            safety_related: true,
            ..line(4, "WN-3")
        },
        v1::BuildLine { made_for_line_number: 1, issued: decimal("3"), ..line(5, "WIRE") },
        v1::BuildLine { made_for_line_number: 2, pegged: decimal("2"), ..line(6, "BK") },
        v1::BuildLine { exploded: true, ..line(7, "KIT") },
        v1::BuildLine { kit_line_number: 7, ..line(8, "BOLT") },
    ];
    let expected = "\
line  stage  part    description  required  issued  reserved  pegged  short  note
--------------------------------------------------------------------------------------------------------------------------------------------------
1     Front  LOOM    Part            2 pcs                                   made in the shop, 2 working days: 1 to do
5     Front    WIRE  Part            2 pcs       3                           for line 1; 1 more than required
2     Front  BK-RED  Part            2 pcs                                   finished by BEINN: 2 there since 2026-10-01, promised back 2026-10-12
6     Front    BK    Part            2 pcs                         2         for line 2
3     Front  STRAP   Part            2 pcs                                2  the customer brings it
4     Front  WN-3    Part            2 pcs                                   instead of WN-1
7     Front  KIT     Part            2 pcs                                   kit, see its components
8     Front    BOLT  Part            2 pcs                                   of kit line 7
";
    let shown = super::lines(Console::default(), &lines);
    assert_eq!(shown, expected, "{shown}");

    let warning = v1::LineWarning { line_number: 2, text: "BK-RED calls for TP-1".into() };
    let whole = v1::Build {
        number: "B-1042".into(),
        for_stock: true,
        staging_bin_code: "S-3".into(),
        stages: vec![v1::Stage {
            name: "Wrap".into(),
            planned_days: 4,
            off_site_code: "SKYE".into(),
            ..Default::default()
        }],
        lines,
        warnings: vec![warning],
        ..Default::default()
    };
    let shown = build(Console::default(), Some(&whole));
    for told in [
        "makes          stock, not a vehicle\n",
        "staging bin    S-3\n",
        "4 days at SKYE",
        "\nLine 4: WN-3 instead of WN-1, accepted by Una Baird on 2026-10-02: WN-1 is no longer made\n",
        "\nLine 2: BK-RED calls for TP-1\n",
        "\nSafety related: line 4. Fitment, mass and approval follow the local codes and a licensed \
         engineer or certifier; Baystart decides dates, not fitness.\n",
    ] {
        assert!(shown.contains(told), "{told}\nin\n{shown}");
    }
}

#[test]
fn what_no_order_brings() {
    let item = |item_number, kind: v1::AwaitedKind, name: &str| v1::AwaitedItem {
        item_number,
        kind: kind.into(),
        name: name.into(),
        ..Default::default()
    };
    let given = |day, known| v1::ExpectedDate { expected_on: date(day), known_on: date(known) };
    let items = vec![
        v1::AwaitedItem {
            stage_name: "Front".into(),
            identification: "VF7ABC".into(),
            expected: vec![given(6, 1), given(9, 3)],
            ..item(1, v1::AwaitedKind::Vehicle, "Carrier")
        },
        v1::AwaitedItem {
            stage_name: "Front".into(),
            line_number: 3,
            received_on: date(5),
            ..item(2, v1::AwaitedKind::CustomerPart, "Strap")
        },
        v1::AwaitedItem {
            source: "Glen council".into(),
            usual_days: Some(20),
            dropped_on: date(2),
            ..item(3, v1::AwaitedKind::Paper, "Approval")
        },
    ];
    let build_ = v1::Build { awaited: items, ..Default::default() };
    let shown = build(Console::default(), Some(&build_));
    let rows: Vec<Vec<&str>> = shown
        .lines()
        .filter(|line| line.starts_with(|c: char| c.is_ascii_digit()))
        .map(|line| line.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect())
        .collect();
    let expected: [&[&str]; 3] = [
        &["1", "vehicle", "Carrier", "VF7ABC", "Front", "2026-10-09"],
        &["2", "customer's part", "Strap", "Front, line 3", "2026-10-05"],
        &["3", "paper", "Approval", "Glen council", "handover", "given up 2026-10-02"],
    ];
    assert_eq!(rows, expected, "{shown}");
    let moved =
        "\nItem 1: expected 2026-10-06 (known 2026-10-01), then 2026-10-09 (known 2026-10-03)\n";
    assert!(shown.contains(moved), "{shown}");
    let open = v1::AwaitedItem { expected: vec![], ..build_.awaited[0].clone() };
    let shown =
        build(Console::default(), Some(&v1::Build { awaited: vec![open], ..Default::default() }));
    assert!(shown.contains("  no date\n"), "{shown}");
}
