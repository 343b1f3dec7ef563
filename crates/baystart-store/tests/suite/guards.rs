//! What the database itself refuses, whoever writes.

use crate::both;
use crate::day;
use crate::place::{Backend, fresh_shop};
use crate::support::{adjust, bin, decided, done, named, part, sql, submit, units};
use baystart_core::command::{BindCommand, Command};
use baystart_core::refusal::Reason;
use baystart_store::StoreError;

async fn refused(url: &str, statement: &str) {
    let result = sql(url, statement).await;
    let error = result.expect_err(&format!("the database took: {statement}"));
    assert!(matches!(error, sqlx::Error::Database(_)), "{statement}: {error}");
}

both!(
    /// RS-1, RS-2, PO-1, PO-2 and LG-2 as CHECK constraints.
    totals_are_checked,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in day::catalogue().into_iter().chain(day::work()) {
            decided(&store, shop, command).await;
        }
        let url = place.url.as_str();
        for statement in [
            "UPDATE stock SET reserved = usable + 1",
            "UPDATE stock SET reserved = -1",
            "UPDATE stock SET usable = reserved - 1",
            "UPDATE stock SET quarantined = -1",
            "UPDATE bin_balance SET usable = -1",
            "UPDATE bin_balance SET quarantined = -1",
            "UPDATE reservation SET held = held + 1",
            "UPDATE reservation SET held = -1, released = released + held + 1",
            "UPDATE order_line SET received = ordered + over_accepted + 1",
            "UPDATE order_line SET pegged = ordered - received - cancelled_by_us \
             - cancelled_by_supplier + 1",
            "UPDATE order_line SET pegged = 1, placed_on = NULL",
            "UPDATE peg SET quantity = 0",
            "UPDATE build_line SET required = -1",
            "UPDATE build SET state = 'lost'",
        ] {
            refused(url, statement).await;
        }
    }
);

both!(
    /// LG-3: triggers keep the ledger.
    the_ledger_is_immutable,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in [part("P"), bin("A1"), adjust("P", "A1", 3)] {
            done(&store, shop, command).await;
        }
        let url = place.url.as_str();
        refused(url, "UPDATE entry SET quantity = 5").await;
        refused(url, "DELETE FROM entry").await;
        refused(url, "UPDATE movement SET reason = 'other'").await;
        refused(url, "DELETE FROM movement").await;
        if backend == Backend::Postgres {
            refused(url, "TRUNCATE entry").await;
        }
        let listed = store.list_movements(shop, None, 10, None).await.unwrap();
        assert_eq!(listed.rows[0].entries[0].quantity.milli().abs(), 3000);
        let gone = match backend {
            Backend::Sqlite => "DROP TRIGGER entry_update",
            Backend::Postgres => "ALTER TABLE entry DISABLE TRIGGER entry_immutable",
        };
        sql(url, gone).await.unwrap();
        let violations = store.verify(shop).await.unwrap();
        assert_eq!(violations.len(), 1, "{violations:?}");
        assert_eq!(violations[0].id, "LG-3");
    }
);

both!(
    /// What somebody changed by hand is found, with the rule that it breaks.
    verify_finds_what_was_changed_by_hand,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        for command in [part("P"), bin("A1"), adjust("P", "A1", 3)] {
            done(&store, shop, command).await;
        }
        for (statement, id) in [
            ("UPDATE bin_balance SET usable = 1000", "LG-4"),
            ("UPDATE bin_balance SET usable = 3000", ""),
            ("UPDATE shop SET revision = 7", "WT-1"),
            ("UPDATE shop SET revision = 3", ""),
            ("DELETE FROM request WHERE revision = 2", "ID-1"),
        ] {
            sql(&place.url, statement).await.unwrap();
            let violations = store.verify(shop).await.unwrap();
            let found = violations.iter().any(|violation| violation.id == id);
            assert!(found || (id.is_empty() && violations.is_empty()), "{statement}: {violations:?}");
        }
    }
);

both!(
    /// PO-2 is guarded although the pegs that filled the line are not seen.
    over_pegging_is_a_lost_race,
    |backend: Backend| async move {
        let (store, shop, place) = fresh_shop(backend).await;
        let mut commands = day::catalogue();
        commands.extend(day::work().into_iter().take(20));
        for command in commands {
            decided(&store, shop, command).await;
        }
        // As if another writer had pegged all of it without the shop's lock.
        sql(&place.url, "UPDATE order_line SET pegged = ordered - received WHERE placed_on \
             IS NOT NULL")
        .await
        .unwrap();
        let peg = Command::Bind(BindCommand::Peg {
            build: named("B-2"),
            line: 1,
            order: named("PO-2"),
            order_line: 1,
            quantity: Some(units(1)),
        });
        match submit(&store, shop, peg).await {
            Err(StoreError::Refused(refusal)) => assert_eq!(refusal.reason, Reason::RaceLost),
            other => panic!("{other:?}"),
        }
        let violations = store.verify(shop).await.unwrap();
        assert!(violations.iter().any(|v| v.id == "PO-2"), "{violations:?}");
    }
);
