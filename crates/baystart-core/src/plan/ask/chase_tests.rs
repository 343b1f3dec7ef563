//! Whom to call first: worth by hand, and what is asked after though nothing hangs on it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::command::{BuildCommand, Command, OrderCommand};
use crate::plan::{Chase, PlannedSource, chases, forecast_build};
use crate::testing::{Shop, TODAY, by};
use jiff::civil::date;

fn rows(shop: &Shop) -> Vec<Chase> {
    chases(&shop.book, None, TODAY, &|| true).unwrap().unwrap()
}

/// worth = 200 / (100 + priority) x gating x days gained, from the build's own forecast.
#[test]
fn worth_is_what_a_call_gains_over_all_builds() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.part("HD-2");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 12)))]);
    shop.order("P-2", "STRATH", &[("HD-2", 1, Some(date(2026, 9, 21)))]);
    let id = shop.open("B-1", &[("HD-1", "Body", 1), ("HD-2", "Body", 1)]);
    shop.book.builds.get_mut(&id).unwrap().priority = 60;
    let forecast = forecast_build(&shop.book, None, id, TODAY, None).unwrap();
    assert_eq!(chases(&shop.book, None, TODAY, &|| false).unwrap(), None, "nobody waits");
    let found = rows(&shop);
    assert_eq!(shop.called(found[0].order_line), "P-1 line 1", "the later one is worth more");
    for row in &found {
        let own = |s: &&PlannedSource| s.waits_for.order_line() == Some(row.order_line);
        let source = forecast.sources.iter().find(own).unwrap();
        let expected = 200.0 / 160.0 * source.gating * source.days_gained;
        assert!((row.worth - expected).abs() < 1e-12, "{row:?}");
    }
    let reason = shop.words().chase_reason(&found[0]);
    assert!(reason.starts_with("It decides B-1 with 9"), "{reason}");
    // A promise to its customer that will hardly hold doubles it.
    shop.build(BuildCommand::PromiseDelivery {
        build: by("B-1"),
        delivery_on: date(2026, 10, 2),
        note: String::new(),
        occurred_on: None,
    });
    let endangered = rows(&shop);
    assert!((endangered[0].worth - 2.0 * found[0].worth).abs() < 1e-12);
    let reason = shop.words().chase_reason(&endangered[0]);
    assert!(reason.contains("promised delivery is in danger"), "{reason}");
}

/// Nobody dates the line, so the build has no date: certain, ten days, weight 1 at priority 100.
#[test]
fn a_line_without_a_date_leaves_its_build_without_one() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, None)]);
    shop.open("B-1", &[("HD-1", "Body", 1)]);
    let found = rows(&shop);
    assert_eq!((found.len(), found[0].worth, found[0].builds[0].undated), (1, 10.0, true));
    let expected = "B-1 has no date without it; no answer since it was ordered, 13 days ago.";
    assert_eq!(shop.words().chase_reason(&found[0]), expected);
}

#[test]
fn what_is_overdue_silent_or_unanswered_is_asked_after() {
    let mut shop = Shop::new();
    for part in ["HD-1", "HD-2", "HD-3", "HD-4"] {
        shop.part(part);
    }
    // For the shelf: no build hangs on them.
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 9, 10)))]);
    shop.order("P-2", "CORRIE", &[("HD-2", 1, None)]);
    shop.order("P-3", "STRATH", &[("HD-3", 1, Some(date(2026, 9, 30)))]);
    shop.order("P-4", "STRATH", &[("HD-4", 1, Some(date(2026, 9, 30)))]);
    shop.run(Command::Order(OrderCommand::Despatch {
        order: by("P-4"),
        lines: vec![],
        occurred_on: Some(date(2026, 9, 4)),
    }));
    let found = rows(&shop);
    let told = |row: &Chase| (shop.called(row.order_line), shop.words().chase_reason(row));
    let told: Vec<_> = found.iter().map(told).collect();
    let told: Vec<_> = told.iter().map(|(order, why)| (order.as_str(), why.as_str())).collect();
    assert_eq!(
        told,
        [
            ("P-1 line 1", "It was promised for 2026-09-10, 4 days ago."),
            ("P-4 line 1", "It was despatched 10 days ago and is not here."),
            ("P-2 line 1", "No answer since it was ordered, 13 days ago."),
        ]
    );
    assert!(found.iter().all(|row| row.worth == 0.0 && row.builds.is_empty()));
    assert_eq!(found[0].last_contact_on, Some(date(2026, 9, 3)));
}

/// Seen in use: the parts of a build on hold stood first.
#[test]
fn nobody_is_called_for_a_build_on_hold() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.part("HD-2");
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 11, 20)))]);
    shop.order("P-2", "STRATH", &[("HD-2", 1, Some(date(2026, 10, 5)))]);
    shop.open("B-1", &[("HD-1", "Body", 1)]);
    shop.open("B-2", &[("HD-2", "Body", 1)]);
    assert_eq!(shop.called(rows(&shop)[0].order_line), "P-1 line 1");
    let reason = "the customer thinks it over".to_owned();
    shop.build(BuildCommand::Hold { build: by("B-1"), reason, occurred_on: None });
    let told: Vec<_> = rows(&shop).iter().map(|row| shop.called(row.order_line)).collect();
    assert_eq!(told, ["P-2 line 1"]);
}
