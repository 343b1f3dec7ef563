//! What no order brings: the vehicle, papers, work off site.

use super::*;

/// Every part is here, the vehicle is expected on Friday 25, 11 days from now, and vehicles that were
/// dated as early came on the day or two days late, half each: Friday 25 or Sunday 27, which is
/// Monday 28.
#[test]
fn the_vehicle_is_later_than_all_parts() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    shop.await_thing("B-1", AwaitedKind::Vehicle, Some("Body"), date(2026, 9, 25));
    let past = Past::new().slips(AwaitedKind::Vehicle, [0, 2]);
    let forecast = shop.learned_forecast(&past, build);
    assert_chances(
        &forecast,
        &[(date(2026, 9, 24), 0.0), (date(2026, 9, 25), 0.5), (date(2026, 9, 28), 1.0)],
    );
    let source = forecast.sources.first().unwrap();
    assert_eq!(source.waits_for.kind(), SourceKind::Awaited);
    assert_eq!(source.thing.part(), None);
    let ready = readiness(&shop.book, Some(&past.learned(&shop)), build, TODAY).unwrap();
    let text = shop.words().verdict(&ready);
    assert!(text.contains("the customer brings the vehicle"), "{text}");
}

/// A paper gates handover only: the build starts today and its work ends on Friday 18, after five
/// working days. The paper is expected on Monday 28, 14 days from now, and comes on the day or two
/// days late: handover on Monday at 50 %, on Wednesday 30 at 80 and 95 %.
#[test]
fn a_paper_gates_handover_and_not_the_start() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let build = shop.open("B-1", &[("HD-1", "Body", 1)]);
    shop.await_thing("B-1", AwaitedKind::Paper, None, date(2026, 9, 28));
    let past = Past::new().slips(AwaitedKind::Paper, [0, 2]);
    let forecast = shop.learned_forecast(&past, build);
    assert_eq!(forecast.startable_today, 1.0);
    assert!(forecast.finish.iter().all(|at| at.date == Some(date(2026, 9, 18))));
    let days: Vec<_> = forecast.handover.iter().map(|at| at.date.unwrap()).collect();
    assert_eq!(days, [date(2026, 9, 28), date(2026, 9, 30), date(2026, 9, 30)]);
    assert_eq!(forecast.last_papers.len(), 1);
}

/// A stage off site is planned with 5 working days, Monday 14 to Friday 18; vehicles were away 7 or
/// 9 calendar days: back on Monday 21, in time, or Wednesday 23, two working days late. Two days of
/// work follow: the last is Tuesday 22 or Thursday 24.
#[test]
fn work_off_site_takes_as_long_as_it_took_before() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let roof = NewStage { off_site: Some(by("STRATH")), ..stage("Roof", 5) };
    let stages = vec![roof, stage("Body", 2)];
    shop.run(NewBuild { stages, ..NewBuild::of("B-1", &[need("HD-1", 1)]) }.create());
    shop.start("B-1");
    let build = shop.id("B-1");
    let past = Past::new().off_site("STRATH", [7, 9]);
    let forecast = shop.learned_forecast(&past, build);
    let days: Vec<_> = forecast.handover.iter().map(|at| at.date.unwrap()).collect();
    assert_eq!(days, [date(2026, 9, 22), date(2026, 9, 24), date(2026, 9, 24)]);
    assert!(forecast.finish.iter().all(|at| at.date == Some(date(2026, 9, 22))));
}

/// Body is done without its parts, Electrical has its own.
fn body_done(lines: &[(&str, &str, i64)]) -> Shop {
    let mut shop = Shop::new();
    for part in ["HD-1", "HD-2"] {
        shop.part(part);
    }
    shop.stock("HD-2", 1);
    let stages = vec![stage("Body", 2), stage("Electrical", 3)];
    shop.run(NewBuild { stages, ..NewBuild::of("B-1", lines) }.create());
    shop.start("B-1");
    shop.build(BuildCommand::PutInBay { build: by("B-1"), occurred_on: None });
    let (of, stage) = (by("B-1"), "Body".to_owned());
    shop.build(BuildCommand::BeginStage {
        build: of.clone(),
        stage: stage.clone(),
        occurred_on: None,
    });
    shop.build(BuildCommand::FinishStage { build: of, stage, occurred_on: None });
    shop
}

/// Body is done without its part, which is promised for Friday 30 October: it can still be fitted, so the
/// work of the other stage goes on, and the handover waits for the part.
#[test]
fn what_a_finished_stage_lacks_holds_the_handover_up() {
    let mut shop = body_done(&[("HD-1", "Body", 1), ("HD-2", "Electrical", 1)]);
    let build = shop.id("B-1");
    // Nobody sells the part: nothing dates it, and that is said.
    let ask = |shop: &Shop| forecast_build(&shop.book, None, build, TODAY, None).unwrap();
    let forecast = ask(&shop);
    let said: Vec<String> =
        forecast.assumptions.iter().map(|a| shop.words().assumption(a)).collect();
    let text = "Line 1, HD-1, is not complete though its stage is done, and nothing dates it: the delivery \
                does not wait for it.";
    assert!(said.iter().any(|said| said == text), "{said:?}");
    assert!(
        forecast.handover.iter().all(|at| at.date == Some(date(2026, 9, 16))),
        "{:?}",
        forecast.handover
    );
    shop.order("P-1", "STRATH", &[("HD-1", 1, Some(date(2026, 10, 30)))]);
    let forecast = ask(&shop);
    assert_eq!(forecast.startable_today, 1.0);
    assert!(forecast.finish.iter().all(|at| at.date == Some(date(2026, 9, 16))));
    assert!(
        forecast.handover.iter().all(|at| at.date.unwrap() >= date(2026, 10, 12)),
        "{:?}",
        forecast.handover
    );
    assert_eq!(forecast.last_papers.first().map(|row| row.lines.clone()), Some(vec![1]));
    assert!(forecast.delivery.at_80() >= Some(date(2026, 10, 12)), "{:?}", forecast.delivery);
}

/// Two lines of a finished stage on one order line are one arrival: they are late together.
#[test]
fn what_a_finished_stage_lacks_of_one_order_line_is_one_arrival() {
    let handover = |lines: &[(&str, &str, i64)], ordered| {
        let mut shop = body_done(lines);
        shop.order("P-1", "STRATH", &[("HD-1", ordered, Some(date(2026, 10, 30)))]);
        let forecast = forecast_build(&shop.book, None, shop.id("B-1"), TODAY, None).unwrap();
        (forecast.handover, forecast.delivery.levels.map(|at| at.parts_date))
    };
    let one = [("HD-1", "Body", 1), ("HD-2", "Electrical", 1)];
    let two = [one[0], one[1], one[0]];
    assert_eq!(handover(&two, 2), handover(&one, 1));
}
