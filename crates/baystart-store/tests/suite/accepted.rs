//! Accepted builds as they stood on a morning.

use crate::both;
use crate::day::{build, open};
use crate::place::{Backend, fresh_shop};
use crate::support::{adjust, bin, named, part, submission};
use baystart_core::command::{BindCommand, BuildCommand, Command, NewLine};
use baystart_core::ids::ShopId;
use baystart_core::plan::AcceptedPart;
use baystart_store::{AcceptedBuilds, Store};
use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use uuid::Uuid;

fn on(day: i8) -> Date {
    date(2026, 9, day)
}

/// At 23:30 in London, which is 22:30 in UTC.
async fn done(store: &Store, shop: ShopId, day: i8, command: Command) {
    let said = format!("{command:?}");
    let mut submission = submission(shop, Uuid::now_v7(), command);
    submission.now = format!("2026-09-{day:02}T22:30:00Z").parse().unwrap();
    store.submit(submission).await.unwrap_or_else(|error| panic!("{said}: {error:?}"));
}

async fn morning(store: &Store, shop: ShopId, day: i8) -> AcceptedBuilds {
    let zone = TimeZone::get("Europe/London").unwrap();
    let first = zone.to_timestamp(on(day).at(0, 0, 0, 0)).unwrap();
    let revision = store.revision_before(shop, first, i64::MAX).await.unwrap();
    store.accepted_builds(shop, (0, revision), &zone).await.unwrap()
}

fn lines() -> Vec<NewLine> {
    vec![NewLine::from(("rail-1", "Strip-out", 2)), NewLine::from(("relay-1", "Électrical", 1))]
}

/// By hand: B-1 is accepted on the 7th, finds its rails on the 8th and its relay on the 10th, and loses the
/// relay to B-2 on the 15th. It begins on the 16th. B-3 is cancelled, B-4 is only quoted.
async fn a_fortnight(store: &Store, shop: ShopId) {
    let bay = |text: &str| {
        Command::Build(BuildCommand::PutInBay { build: named(text), occurred_on: None })
    };
    let begin = |text: &str| {
        Command::Build(BuildCommand::BeginStage {
            build: named(text),
            stage: "Strip-out".to_owned(),
            occurred_on: None,
        })
    };
    let cancel =
        BuildCommand::Cancel { build: named("B-3"), reason: "sold".to_owned(), occurred_on: None };
    let lend = BindCommand::Lend {
        build: named("B-1"),
        line: 2,
        to_build: named("B-2"),
        to_line: 2,
        quantity: None,
        reason: "goes out first".to_owned(),
        shown: None,
    };
    let commands = [
        (7, part("rail-1")),
        (7, part("relay-1")),
        (7, bin("A1")),
        (7, build("b-1", lines())),
        (7, open("B-1")),
        (8, adjust("rail-1", "A1", 2)),
        (9, build("b-2", lines())),
        (9, build("b-3", lines())),
        (9, build("b-4", lines())),
        (10, adjust("relay-1", "A1", 1)),
        (11, open("B-2")),
        (11, open("B-3")),
        (14, Command::Build(cancel)),
        (15, Command::Bind(lend)),
        (16, bay("B-1")),
        (16, begin("B-1")),
    ];
    let mut early = None;
    for (day, command) in commands {
        if day == 11 && early.is_none() {
            early = Some(morning(store, shop, 11).await);
        }
        done(store, shop, day, command).await;
    }
    // What is entered on the day and later moves nothing of its morning.
    assert_eq!(early, Some(morning(store, shop, 11).await));
}

both!(
    /// What was here on each morning, and nothing that was entered on the day itself.
    accepted_builds_by_hand,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        assert_eq!(morning(&store, shop, 7).await, AcceptedBuilds::default());
        a_fortnight(&store, shop).await;
        assert_eq!(morning(&store, shop, 7).await, AcceptedBuilds::default());
        let part = |stage, here: Option<i8>| AcceptedPart { stage, here_on: here.map(on) };
        let parts = |found: &AcceptedBuilds, at: usize| {
            let mut parts = found.builds[at].parts.clone();
            parts.sort_by_key(|part| part.stage);
            parts
        };
        for (day, rails, relay) in
            [(8, None, None), (10, Some(8), None), (11, Some(8), Some(10)), (17, Some(8), None)]
        {
            let found = morning(&store, shop, day).await;
            assert_eq!(found.since, Some(on(7)));
            assert_eq!(parts(&found, 0), [part(0, rails), part(1, relay)], "on the {day}th");
            assert_eq!(found.builds[0].accepted_on, on(7));
        }
        let count = |found: AcceptedBuilds| found.builds.len();
        assert_eq!(count(morning(&store, shop, 11).await), 1);
        assert_eq!(count(morning(&store, shop, 12).await), 3);
        let last = morning(&store, shop, 17).await;
        assert_eq!(last.builds.len(), 2, "{last:?}");
        assert_eq!(parts(&last, 1), [part(0, None), part(1, Some(15))]);
        assert_eq!(last.builds[1].accepted_on, on(11));
        let first = &last.builds[0];
        assert_eq!((first.stages[0].begun_on, first.stages[0].done_on), (Some(on(16)), None));
        assert_eq!([0, 1].map(|at| first.stages[at].planned_days), [2, 5]);
        assert_eq!((first.booked_on, first.taken_over), (Some(date(2026, 10, 5)), false));
        assert_eq!(morning(&store, shop, 16).await.builds[0].stages[0].begun_on, None);
    }
);
