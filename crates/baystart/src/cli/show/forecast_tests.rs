use super::*;

fn date(day: i32) -> Option<v1::Date> {
    Some(v1::Date { year: 2026, month: 10, day })
}

fn levels(days: [Option<i32>; 3]) -> Vec<v1::DateAtConfidence> {
    let mut dates = Vec::new();
    for (day, probability) in days.into_iter().zip([0.5, 0.8, 0.95]) {
        dates.push(v1::DateAtConfidence { probability, date: day.and_then(date) });
    }
    dates
}

fn source(part: &str, gating: f64, gained: f64) -> v1::ForecastSource {
    v1::ForecastSource {
        part_number: part.into(),
        part_description: "Part".into(),
        waits_for: "not ordered".into(),
        stage_name: "Front".into(),
        offset_days: 2,
        arrival: levels([Some(8), Some(9), None]),
        gating_probability: gating,
        days_gained: gained,
        ..v1::ForecastSource::default()
    }
}

fn forecast() -> v1::BuildForecast {
    v1::BuildForecast {
        build_number: "B-1042".into(),
        vehicle: "Rescue carrier".into(),
        as_of: date(5),
        start: levels([Some(7), Some(9), None]),
        finish: levels([Some(21), Some(23), None]),
        startable_today: 0.002,
        without_date: 0.03,
        remaining_days: 10,
        sources: vec![source("C", 0.7, 3.0), source("A", 0.25, 1.3), source("B", 0.001, 0.02)],
        undated: vec![v1::UndatedLine {
            line_number: 4,
            part_number: "X".into(),
            part_description: "Plate".into(),
            quantity: Some(v1::Decimal { value: "2".into() }),
            reason: "no supplier quotes it".into(),
        }],
        distribution: vec![
            v1::StartProbability { date: date(7), probability: 0.5 },
            v1::StartProbability { date: date(8), probability: 0.502 },
            v1::StartProbability { date: date(9), probability: 0.8 },
        ],
        stall_at_planned_start: Some(0.4),
        planned_start: date(8),
        stall_at_asked_start: Some(0.999),
        assumptions: vec!["No sickness.".into()],
        ..v1::BuildForecast::default()
    }
}

#[test]
fn a_forecast_that_sales_can_read() {
    let depth = Depth { days: true, all: false, start_on: date(6) };
    let expected = "\
Build B-1042, Rescue carrier
as things stood at the start of Mon 2026-10-05

chance  can start by    work done by
--------------------------------------
  50 %  Wed 2026-10-07  Wed 2026-10-21
  80 %  Fri 2026-10-09  Fri 2026-10-23
  95 %  no date         no date
10 working days of work to do, if it takes its planned days.

Chance that it can start today and not stall: <1 %
Chance of a stall if it starts as planned, Thu 2026-10-08: 40 %
Chance of a stall if it starts on Tue 2026-10-06: >99 %
Chance that some part stays without a date: 3 %

What decides it:
part  description  waits for    80 % in by      needed for        decides  days gained if here
----------------------------------------------------------------------------------------------
C     Part         not ordered  Fri 2026-10-09  Front, 2 days in     70 %                  3.0
A     Part         not ordered  Fri 2026-10-09  Front, 2 days in     25 %                  1.3
1 part hardly matters (--all shows them).

Without any date, and left out of the dates above:
  line 4: 2 of X Plate: no supplier quotes it

The dates take for granted:
  No sickness.

Day by day:
day             can start by
----------------------------
Wed 2026-10-07          50 %
Fri 2026-10-09          80 %
";
    assert_eq!(text(Console::default(), Some(&forecast()), depth), expected);
}

#[test]
fn all_sources_when_asked() {
    let shown =
        text(Console::default(), Some(&forecast()), Depth { all: true, ..Depth::default() });
    assert!(shown.contains("<1 %                  0.0\n") && !shown.contains("hardly"), "{shown}");
    assert!(!shown.contains("Day by day"));
}

#[test]
fn evidence_of_the_parts_that_decide() {
    let mut forecast = forecast();
    for (number, source) in forecast.sources.iter_mut().enumerate() {
        source.evidence = format!("Lead times: {number}.");
    }
    let shown = |all| text(Console::default(), Some(&forecast), Depth { all, ..Depth::default() });
    let few = "\nWhat their dates stand on:\n  C: Lead times: 0.\n  A: Lead times: 1.\n\n";
    assert!(shown(false).contains(few), "{}", shown(false));
    assert!(shown(true).contains("  B: Lead times: 2.\n"), "{}", shown(true));
}

#[test]
fn a_build_in_the_bay_goes_on() {
    let mut forecast = forecast();
    forecast.basis = v1::BuildForecastBasis::FromBay.into();
    forecast.sources.clear();
    forecast.undated.clear();
    forecast.planned_start = date(4);
    forecast.remaining_days = 0;
    let shown = text(Console::default(), Some(&forecast), Depth::default());
    assert!(shown.contains("can go on by") && shown.contains("No part is waited for."), "{shown}");
    assert!(!shown.contains("as planned") && shown.contains("No work is left to do."), "{shown}");
}

#[test]
fn handover_stands_beside_the_work_where_it_is_later() {
    let mut forecast = forecast();
    forecast.handover = forecast.finish.clone();
    let shown = |forecast: &_| text(Console::default(), Some(forecast), Depth::default());
    assert!(!shown(&forecast).contains("handover"), "{}", shown(&forecast));
    forecast.handover = levels([Some(21), Some(28), None]);
    forecast.last_papers = vec![v1::ForecastSource {
        part_description: "Type approval".into(),
        waits_for: "paper from Glen council, expected Mon 2026-10-26".into(),
        arrival: levels([Some(26), Some(28), None]),
        ..v1::ForecastSource::default()
    }];
    let told = shown(&forecast);
    for line in [
        "chance  can start by    work done by    handover by\n",
        "  80 %  Fri 2026-10-09  Fri 2026-10-23  Wed 2026-10-28\n",
        "\nNeeded for handover only:\n  Type approval: paper from Glen council, expected Mon 2026-10-26; \
         80 % here by Wed 2026-10-28\n",
    ] {
        assert!(told.contains(line), "{line}\nin\n{told}");
    }
}

#[test]
fn what_is_made_is_needed_before_the_start() {
    let mut forecast = forecast();
    forecast.sources[0].offset_days = -2;
    forecast.sources[1].offset_days = -1;
    forecast.sources[1].part_number.clear();
    forecast.sources[1].part_description = "the vehicle, Carrier".into();
    forecast.sources[1].evidence = "One date slipped.".into();
    forecast.undated.push(v1::UndatedLine {
        part_description: "Permit".into(),
        reason: "no date yet".into(),
        ..v1::UndatedLine::default()
    });
    forecast.warnings =
        vec![v1::LineWarning { line_number: 3, text: "WN-1 was replaced by WN-3".into() }];
    let told = text(Console::default(), Some(&forecast), Depth::default());
    for line in [
        "Front, 2 days before the start",
        "Front, 1 day before the start",
        "\n  the vehicle, Carrier: One date slipped.\n",
        "\n  Permit: no date yet\n",
        "\n  line 3: WN-1 was replaced by WN-3\n",
    ] {
        assert!(told.contains(line), "{line}\nin\n{told}");
    }
}
