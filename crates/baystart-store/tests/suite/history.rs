//! Histories: what they hold, and that changes bring one up to date.

use crate::both;
use crate::day;
use crate::place::{Backend, TestDatabase, fresh_shop};
use crate::support::{book, done, named, new_part, now, number, sql, submission, units};
use baystart_core::command::{
    CancelledBy, Command, NewOrderLine, OrderCommand, ReceiptLine, Scope,
};
use baystart_core::ids::{PartId, ShopId, SupplierId};
use baystart_core::leadtime::history::{self, Fact, PastLine, PastPromise};
use baystart_store::{HistoryRead, ShopHistory, Store};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use std::collections::BTreeMap;
use uuid::Uuid;

fn fact(on: Date, recorded_on: Date) -> Fact {
    Fact { on, recorded_on }
}

fn order(text: &str, placed_on: Option<Date>, parts: &[&str]) -> Command {
    let line = |part: &&str| NewOrderLine {
        part: named(part),
        quantity: units(2),
        unit: None,
        price: None,
        for_line: None,
    };
    Command::Order(OrderCommand::Create {
        number: number(text),
        supplier: named("CORRIE"),
        lines: parts.iter().map(line).collect(),
        placed_on,
    })
}

fn receive(text: &str, line: i32, count: i64, on: Date) -> Command {
    Command::Order(OrderCommand::Receive {
        order: named(text),
        lines: vec![ReceiptLine {
            line,
            quantity: Some(units(count)),
            bin: named("A1"),
            lot: String::new(),
            expires_on: None,
            over_accepted_by: None,
        }],
        occurred_on: Some(on),
    })
}

fn cancel(text: &str, line: i32, by: CancelledBy, on: Date) -> Command {
    Command::Order(OrderCommand::Cancel {
        order: named(text),
        lines: vec![line],
        quantity: None,
        by,
        reason: "no longer made".to_owned(),
        occurred_on: Some(on),
    })
}

/// Submits so many days after the suite's now.
async fn later(store: &Store, shop: ShopId, days: i64, command: Command) {
    let said = format!("{command:?}");
    let mut submission = submission(shop, Uuid::now_v7(), command);
    submission.now = now() + (24 * days).hours();
    store.submit(submission).await.unwrap_or_else(|error| panic!("{said}: {error:?}"));
}

/// Puts an imported line in, beside the store.
async fn import(
    place: &TestDatabase,
    backend: Backend,
    shop: ShopId,
    supplier: SupplierId,
    row: &str,
) {
    let plain = |id: Uuid| match backend {
        Backend::Sqlite => format!("x'{}'", id.simple()),
        Backend::Postgres => format!("'{id}'"),
    };
    let digest = match backend {
        Backend::Sqlite => "x'00'",
        Backend::Postgres => "'\\x00'",
    };
    let (shop, supplier) = (plain(shop.0), plain(supplier.0));
    let text = format!(
        "INSERT INTO past_line (digest, shop, supplier, order_number, line, part,
         quantity, quoted_days, placed_on, promises, despatched_on, received_on, cancelled_on,
         cancelled_by_supplier, last_known_open_on, recorded_on)
         VALUES ({digest}, {shop}, {supplier}, {row})"
    );
    sql(&place.url, &text).await.unwrap();
}

both!(
    /// A line that was entered late is known from the day it was entered only; for plans every
    /// fact counts from its own day.
    facts_have_the_day_they_were_entered,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in day::catalogue() {
            done(&store, shop, command).await;
        }
        // Entered on Monday the 14th, and on days after it.
        let (placed, today) = (date(2026, 9, 10), date(2026, 9, 14));
        let parts = ["RELAY-1", "RELAY-1", "RELAY-1", "RELAY-1"];
        later(&store, shop, 0, order("po-9", Some(placed), &parts)).await;
        later(&store, shop, 0, order("draft", None, &["RELAY-1"])).await;
        let promised = date(2026, 9, 15);
        let acknowledge = OrderCommand::Acknowledge {
            order: named("PO-9"),
            supplier_reference: String::new(),
            promises: vec![(1, Some(promised))],
            occurred_on: Some(date(2026, 9, 11)),
        };
        later(&store, shop, 0, Command::Order(acknowledge)).await;
        later(&store, shop, 2, receive("PO-9", 1, 1, promised)).await;
        let despatch = OrderCommand::Despatch {
            order: named("PO-9"),
            lines: vec![1],
            occurred_on: Some(date(2026, 9, 12)),
        };
        later(&store, shop, 3, Command::Order(despatch)).await;
        later(&store, shop, 5, receive("PO-9", 1, 1, date(2026, 9, 17))).await;
        later(&store, shop, 5, cancel("PO-9", 2, CancelledBy::Us, date(2026, 9, 16))).await;
        later(&store, shop, 5, cancel("PO-9", 3, CancelledBy::Supplier, date(2026, 9, 18))).await;
        let corrie = book(&store, shop).await.find_supplier(&named("CORRIE")).unwrap().id;
        let rows = [
            "'A-1', 1, 'OLD-1', 1000, 12, '2024-05-01',
             '2024-05-20@2024-05-03 2024-05-27@2024-05-19', '2024-05-24', '2024-05-28', NULL,
             FALSE, NULL, NULL",
            "'A-1', 2, 'RELAY-1', 1000, NULL, '2024-05-01', '', NULL, NULL, '2024-06-01', TRUE,
             NULL, '2024-06-09'",
            "'A-2', 0, 'OLD-1', 1000, 12, '2024-05-02', '', NULL, NULL, NULL, FALSE,
             '2024-07-01', NULL",
            // The shop's own order once more.
            "'PO-9', 1, 'RELAY-1', 2000, 12, '2026-09-10', '', NULL, '2026-09-17', NULL, FALSE,
             NULL, NULL",
        ];
        for row in rows {
            import(&place, backend, shop, corrie, row).await;
        }
        let found = store.history(shop).await.unwrap();
        assert_eq!(found.labels.len(), found.history.lines.len());
        let names: Vec<_> = found
            .labels
            .iter()
            .map(|l| (&*l.supplier_code, l.order.as_str(), l.line, l.part.as_str(), l.imported))
            .collect();
        let own = |line| ("corrie", "po-9", line, "relay-1", false);
        let imported = |order, line, part| ("corrie", order, line, part, true);
        let past = [("A-1", 1, "OLD-1"), ("A-1", 2, "RELAY-1"), ("A-2", 0, "OLD-1")];
        let mut expected: Vec<_> = past.iter().map(|(o, l, p)| imported(*o, *l, *p)).collect();
        expected.extend((1..=4).map(own));
        assert_eq!(names, expected);
        let relay = book(&store, shop).await.find_part(&named("RELAY-1")).unwrap().id;
        let lines = &found.history.lines;
        assert_eq!(found.offers.get(&(corrie, relay)), Some(&lines[1].offer));
        assert_eq!((lines[0].offer, lines[3].offer), (lines[2].offer, lines[1].offer));
        assert_ne!(lines[0].offer, lines[1].offer, "a part that is not in the catalogue");
        assert!(lines.iter().all(|line| Some(&line.supplier) == found.suppliers.get(&corrie)));
        let known = |date, known_on| PastPromise { date, known_on, recorded_on: known_on };
        let moved = known(date(2024, 5, 27), date(2024, 5, 19));
        assert_eq!(lines[0].promises, [known(date(2024, 5, 20), date(2024, 5, 3)), moved]);
        assert_eq!(lines[0].completed, Some(fact(date(2024, 5, 28), date(2024, 5, 28))));
        let june = date(2024, 6, 9);
        assert_eq!(lines[1].placed, fact(date(2024, 5, 1), june));
        let failed = Some((history::CancelledBy::Supplier, fact(date(2024, 6, 1), june)));
        assert_eq!((lines[1].cancelled, lines[1].completed), (failed, None));
        assert_eq!(lines[2].contacts, [fact(date(2024, 7, 1), date(2024, 7, 1))]);
        let line = &lines[3];
        assert_eq!(line.quoted_days, Some(10));
        assert_eq!(line.placed, fact(placed, today));
        let entered = PastPromise { date: promised, known_on: date(2026, 9, 11), recorded_on: today };
        assert_eq!(line.promises, [entered]);
        assert_eq!(line.despatched, Some(fact(date(2026, 9, 12), date(2026, 9, 17))));
        assert_eq!(line.completed, Some(fact(date(2026, 9, 17), date(2026, 9, 19))));
        assert_eq!(line.contacts[0], fact(date(2026, 9, 11), today));
        assert_eq!(line.contacts[1], fact(promised, date(2026, 9, 16)), "a part of it came");
        let by_us = Some((history::CancelledBy::Us, fact(date(2026, 9, 16), date(2026, 9, 19))));
        assert_eq!((lines[4].cancelled, lines[4].completed), (by_us, None));
        let cancelled = lines[5].cancelled.unwrap();
        assert_eq!(cancelled.0, history::CancelledBy::Supplier);
        assert_eq!((lines[6].cancelled, lines[6].completed), (None, None), "still open");
        // For plans, the same but for the days of entering.
        let (_, read) = store.read_for_plan(shop, &Scope::default(), None, store.state(shop).await.unwrap()).await.unwrap();
        let HistoryRead::Whole(plain) = read else { panic!("{read:?}") };
        assert!(plain.labels.is_empty() && plain.suppliers == found.suppliers);
        let stripped = |mut line: PastLine| {
            line.contacts.clear();
            line
        };
        let now_known = found.history.clone().known_now().lines.into_iter().map(stripped);
        let plain = plain.history.lines.iter().cloned().map(stripped);
        assert_eq!(plain.collect::<Vec<_>>(), now_known.collect::<Vec<_>>());
    }
);

both!(
    /// A line from a sheet of open orders is on record only because it had not come by then.
    open_orders_taken_over_say_since_when,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in day::catalogue() {
            done(&store, shop, command).await;
        }
        let (placed, taken) = (date(2026, 9, 1), date(2026, 9, 16));
        later(&store, shop, 2, order("po-8", Some(placed), &["RELAY-1", "RELAY-1"])).await;
        later(&store, shop, 2, order("po-9", Some(placed), &["RELAY-1"])).await;
        let plain = match backend {
            Backend::Sqlite => format!("x'{}'", shop.0.simple()),
            Backend::Postgres => format!("'{}'", shop.0),
        };
        let digest = if backend == Backend::Sqlite { "x'00'" } else { "'\\x00'" };
        let text = format!(
            "INSERT INTO imported (shop, kind, key, digest, revision)
             SELECT shop, 'order', 'PO-8', {digest}, MAX(revision) FROM change_log
             WHERE shop = {plain} GROUP BY shop"
        );
        sql(&place.url, &text).await.unwrap();
        let mut held = whole(&store, shop).await;
        let days = |lines: &[PastLine]| lines.iter().map(|l| l.taken_over_on).collect::<Vec<_>>();
        assert_eq!(days(&held.history.lines), [Some(taken), Some(taken), None]);
        let named = store.history(shop).await.unwrap().history.lines;
        assert_eq!(days(&named), [Some(taken), Some(taken), None]);
        assert_eq!(named[0].placed, fact(placed, taken));
        // What changes later is the same line still.
        later(&store, shop, 3, receive("PO-8", 1, 2, date(2026, 9, 17))).await;
        let known = Some(held.evidence_revision);
        let (_, read) = store.read_for_plan(shop, &Scope::default(), known, store.state(shop).await.unwrap()).await.unwrap();
        let HistoryRead::Changed(changes) = read else { panic!("{read:?}") };
        assert_eq!(held.apply(&changes).unwrap().len(), 1);
        assert_eq!(lines(&held), lines(&whole(&store, shop).await));
        assert_eq!(held.history.lines[0].taken_over_on, Some(taken));
        assert!(held.history.lines[0].completed.is_some());
    }
);

/// Lines with what their keys stand for.
fn lines(history: &ShopHistory) -> Vec<(Option<SupplierId>, Option<PartId>, PastLine)> {
    let suppliers: BTreeMap<u32, SupplierId> =
        history.suppliers.iter().map(|(id, key)| (*key, *id)).collect();
    let offers: BTreeMap<u32, PartId> =
        history.offers.iter().map(|((_, part), key)| (*key, *part)).collect();
    let named = |line: &PastLine| {
        let plain = PastLine { supplier: 0, offer: 0, ..line.clone() };
        (suppliers.get(&line.supplier).copied(), offers.get(&line.offer).copied(), plain)
    };
    history.history.lines.iter().map(named).collect()
}

async fn whole(store: &Store, shop: ShopId) -> ShopHistory {
    match store
        .read_for_plan(shop, &Scope::default(), None, store.state(shop).await.unwrap())
        .await
        .unwrap()
    {
        (_, HistoryRead::Whole(whole)) => *whole,
        other => panic!("{other:?}"),
    }
}

both!(
    /// Changes read since the last evidence make the history that a reader of everything gets.
    changes_bring_a_history_up_to_date,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        let mut held = whole(&store, shop).await;
        let (mut same, mut changed, mut placed_or_moved) = (0, 0, 0);
        let mut commands = day::catalogue();
        commands.extend(day::work());
        let mut renamed = new_part("relay-9");
        renamed.description = "another number".to_owned();
        commands.push(Command::UpdatePart {
            target: named("RELAY-1"),
            part: renamed,
            etag: "v1".to_owned(),
        });
        commands.push(Command::CreatePart { part: new_part("old-1") });
        let commands_count = commands.len();
        for (at, command) in commands.into_iter().enumerate() {
            let said = format!("{command:?}");
            if at + 1 == commands_count {
                let id = book(&store, shop).await.find_supplier(&named("CORRIE")).unwrap().id;
                let row = "'A-1', 1, 'OLD-1', 1000, 12, '2024-05-01', '', NULL, '2024-05-28',
                    NULL, FALSE, NULL, NULL";
                import(&place, backend, shop, id, row).await;
                held = whole(&store, shop).await;
            }
            done(&store, shop, command).await;
            let known = Some(held.evidence_revision);
            let (snapshot, read) =
                store.read_for_plan(shop, &Scope::default(), known, store.state(shop).await.unwrap()).await.unwrap();
            match read {
                HistoryRead::Same => same += 1,
                HistoryRead::Changed(changes) => {
                    let before = held.clone();
                    match held.apply(&changes) {
                        Some(lines) => {
                            changed += 1;
                            placed_or_moved += lines.len();
                        }
                        None => {
                            assert!(said.contains("relay-9"), "{said}");
                            assert_eq!(lines(&held), lines(&before), "untouched when refused");
                            held = whole(&store, shop).await;
                        }
                    }
                    assert_eq!(snapshot.evidence_revision, snapshot.revision, "{said}");
                }
                other => panic!("{said}: {other:?}"),
            }
            let fresh = whole(&store, shop).await;
            assert_eq!(lines(&held), lines(&fresh), "{said}");
            assert_eq!(held.evidence_revision, fresh.evidence_revision, "{said}");
            assert_eq!(held.settings, fresh.settings);
            assert_eq!(held.stages, fresh.stages, "{said}");
            assert_eq!(held.calendar, fresh.calendar, "{said}");
            let closed = |history: &ShopHistory| {
                let of = |key: &u32| history.history.closures.get(key).cloned();
                let all = history.suppliers.iter().map(|(id, key)| (*id, of(key)));
                all.filter(|(_, closures)| closures.is_some()).collect::<Vec<_>>()
            };
            assert_eq!(closed(&held), closed(&fresh), "{said}");
            assert!(held.offers.keys().eq(fresh.offers.keys()), "{said}");
        }
        assert!(same > 10 && changed > 10 && placed_or_moved > 10, "{same} {changed}");
        let ahead = Some(held.evidence_revision + 1);
        let (_, read) = store.read_for_plan(shop, &Scope::default(), ahead, store.state(shop).await.unwrap()).await.unwrap();
        assert!(matches!(read, HistoryRead::Behind));
    }
);
