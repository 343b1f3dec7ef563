//! What the core decides is what the database then holds.

use crate::both;
use crate::day;
use crate::place::{Backend, fresh_shop};
use crate::support::{all, book, decided, named, now, sound};
use baystart_core::book::{Book, Change};
use baystart_core::command::{Command, Scope};
use baystart_core::decide::words::sentence;
use baystart_core::decide::{Context, decide};
use baystart_core::ids::{CountingIds, TokenId};
use baystart_core::testing::{TODAY, context};
use std::collections::BTreeSet;

fn kind(change: &Change) -> &'static str {
    match change {
        Change::Settings(_) => "settings",
        Change::ClosureAdded(_) => "closure added",
        Change::ClosureRemoved(_) => "closure removed",
        Change::Part(_) => "part",
        Change::Supplier(_) => "supplier",
        Change::Offer(_) => "offer",
        Change::Bin(_) => "bin",
        Change::Lot { .. } => "lot",
        Change::Moved(_) => "moved",
        Change::Build(_) => "build",
        Change::Stage(_) => "stage",
        Change::Line(_) => "line",
        Change::Awaited(_) => "awaited",
        Change::Reservation(_) => "reservation",
        Change::Order(_) => "order",
        Change::OrderLine(_) => "order line",
        Change::Peg(_) => "peg",
        Change::Token(_) => "token",
    }
}

/// Sentences of a decision on the whole book: a slice must say the same.
fn on_the_whole(book: &Book, command: &Command) -> Vec<String> {
    let mut book = book.clone();
    let mut ids = CountingIds(u128::MAX / 2);
    let asked = context(&mut ids, TODAY, now());
    let mut context = Context { secret_hash: Some([9; 32]), ..asked };
    let decision = decide(&mut book, &mut context, command).unwrap();
    decision.effects.iter().map(|effect| sentence(&book, effect)).collect()
}

both!(
    /// After each command the whole shop in the database equals the book to
    /// which the core's own `apply` brought the decided changes; and deciding
    /// on the slice said what deciding on the whole book says.
    every_change_is_kept,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        let mut expected = book(&store, shop).await;
        let mut kinds = BTreeSet::new();
        let mut revision = 0;
        let mut settings = expected.settings.clone().unwrap();
        settings.reserve_window_days = 15;
        settings.ordering_days = [true, false, true, false, true, false, false];
        let mut commands = vec![Command::UpdateSettings { settings, keep: baystart_core::command::KeptSettings::default(), etag: "v1".to_owned() }];
        commands.extend(day::catalogue());
        commands.extend(day::work());
        for command in commands {
            let said = format!("{command:?}");
            let whole = on_the_whole(&expected, &command);
            let (decision, slice) = decided(&store, shop, command).await;
            assert_eq!(slice, whole, "slice and whole book differ: {said}");
            for change in &decision.changes {
                kinds.insert(kind(change));
                expected.apply(change);
            }
            revision += 1;
            let snapshot = store.read(shop, &all()).await.unwrap();
            assert_eq!(snapshot.revision, revision);
            same(&snapshot.book, &expected, &said);
        }
        let last = *expected.tokens.keys().next_back().unwrap();
        let (decision, _) = decided(&store, shop, Command::RevokeToken { token: last.0 }).await;
        for change in &decision.changes {
            expected.apply(change);
        }
        same(&book(&store, shop).await, &expected, "revoke");
        assert!(expected.tokens[&TokenId(last.0)].revoked_at.is_some());
        assert_eq!(kinds.len(), 17, "{kinds:?}");
        sound(&store, shop).await;
        store.close().await;
    }
);

/// Table by table, so that a difference is readable.
fn same(found: &Book, expected: &Book, said: &str) {
    assert_eq!(found.settings, expected.settings, "{said}");
    assert_eq!(found.closures, expected.closures, "{said}");
    assert_eq!(found.parts, expected.parts, "{said}");
    assert_eq!(found.suppliers, expected.suppliers, "{said}");
    assert_eq!(found.offers, expected.offers, "{said}");
    assert_eq!(found.bins, expected.bins, "{said}");
    assert_eq!(found.stock, expected.stock, "{said}");
    assert_eq!(found.balances, expected.balances, "{said}");
    assert_eq!(found.builds, expected.builds, "{said}");
    assert_eq!(found.stages, expected.stages, "{said}");
    assert_eq!(found.lines, expected.lines, "{said}");
    assert_eq!(found.reservations, expected.reservations, "{said}");
    assert_eq!(found.orders, expected.orders, "{said}");
    assert_eq!(found.order_lines, expected.order_lines, "{said}");
    assert_eq!(found.pegs, expected.pegs, "{said}");
    assert_eq!(found.tokens, expected.tokens, "{said}");
}

both!(
    /// A slice holds what hangs on what was named, and no other part.
    a_slice_is_small_and_whole,
    |backend: Backend| async move {
        let (store, shop, _place) = fresh_shop(backend).await;
        for command in day::catalogue().into_iter().chain(day::work()) {
            decided(&store, shop, command).await;
        }
        let whole = book(&store, shop).await;
        let scope = Scope { builds: vec![named("b-2")], ..Scope::default() };
        let slice = store.read(shop, &scope).await.unwrap().book;
        let numbers: Vec<&str> = slice.parts.values().map(|p| p.number.normal()).collect();
        assert_eq!(BTreeSet::from_iter(numbers), BTreeSet::from(["RAIL-1", "RELAY-1"]));
        let build = slice.find_build(&named("B-2")).unwrap();
        assert_eq!(slice.lines_of(build.id), whole.lines_of(build.id));
        for line in slice.lines_of(build.id) {
            assert_eq!(slice.held_for(line.id), whole.held_for(line.id));
            assert_eq!(slice.pegged_for(line.id), whole.pegged_for(line.id));
        }
        assert!(slice.tokens.is_empty() && slice.ledger.is_empty());
        let scope = Scope { parts: vec![named("kit-2")], ..Scope::default() };
        let slice = store.read(shop, &scope).await.unwrap().book;
        assert_eq!(slice.parts.len(), 5, "a kit brings its parts at every depth");
        let scope = Scope { parts: vec![named("no such part")], ..Scope::default() };
        assert!(store.read(shop, &scope).await.unwrap().book.parts.is_empty());
    }
);
