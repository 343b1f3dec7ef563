//! Parts that are kept in stock among the suggestions, and their drafts.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use super::{Suggestions, TimingBasis, stock_points, suggest};
use crate::book::Book;
use crate::book::model::{Account, Entry, Lot, Movement, MovementKind, StockKey, StockPolicy};
use crate::command::{Command, OrderCommand};
use crate::decide::words::sentence;
use crate::decide::{Context, decide};
use crate::ids::{BuildId, CountingIds, MovementId};
use crate::quantity::Quantity;
use crate::testing::{Shop, TODAY, by, context};
use jiff::Timestamp;
use uuid::Uuid;

/// Bolts, 1 a working day for 120 days, ordered from STRATH with 5 days quoted.
fn shop(on_hand: i64) -> Shop {
    let mut shop = Shop::new();
    shop.part("BT-8");
    shop.offer("STRATH", "BT-8", 5);
    if on_hand > 0 {
        shop.stock("BT-8", on_hand);
    }
    let id = shop.book.find_part(&by("BT-8")).unwrap().id;
    let mut row = shop.book.parts.get_mut(&id).unwrap();
    row.consumable = true;
    row.stocked =
        Some(StockPolicy { service_permille: 950, cover_days: 20, least: Quantity::ZERO });
    drop(row);
    let calendar = shop.book.calendar();
    for back in 1..=120 {
        let day = calendar.add_working_days(TODAY, -back).unwrap();
        let key = StockKey { part: id, lot: Lot::default() };
        let one = Quantity::whole(1);
        let build = Account::Build(BuildId(Uuid::from_u128(1)));
        let entries = vec![
            Entry { key: key.clone(), account: build, quantity: one },
            Entry { key, account: Account::Variance, quantity: Quantity::ZERO - one },
        ];
        shop.book.ledger.push(Movement {
            id: MovementId(Uuid::from_u128(10_000 + u128::from(back.unsigned_abs()))),
            kind: MovementKind::Found,
            occurred_on: day,
            recorded_at: Timestamp::UNIX_EPOCH,
            recorded_by: "test".into(),
            reason: String::new(),
            line: None,
            order_line: None,
            entries,
        });
    }
    shop
}

fn look(book: &Book) -> Suggestions {
    suggest(book, None, TODAY, 0.8, None)
}

fn draft(book: &mut Book) -> Vec<String> {
    let points = stock_points(book, None, TODAY);
    let mut ids = CountingIds(1 << 90);
    let recorded_at = Timestamp::from_second(1_800_000_000).unwrap();
    let mut context = Context { stock_points: &points, ..context(&mut ids, TODAY, recorded_at) };
    let command = Command::Order(OrderCommand::DraftSuggested { supplier: None });
    let decision = decide(book, &mut context, &command).unwrap();
    decision.effects.iter().map(|effect| sentence(book, effect)).collect()
}

#[test]
fn what_runs_low_is_suggested_and_drafted_once() {
    // Nine working days at the latest with 95 % (5 days quoted, default spread): see the point itself.
    let mut shop = shop(4);
    let found = look(&shop.book);
    let line = &found.suppliers[0].lines[0];
    let stock = line.stock.as_ref().unwrap();
    assert_eq!((found.suppliers.len(), line.part), (1, shop.part_id("BT-8")));
    assert_eq!(shop.words().reorder_basis(&stock.basis), "1.0 a day: 120 uses in 120 working days");
    assert_eq!((stock.on_hand, stock.on_order), (Quantity::whole(4), Quantity::ZERO));
    assert!(stock.reorder_at > Quantity::whole(4), "{stock:?}");
    // Up to the point and 20 days of use, less the 4 that are here.
    assert_eq!(line.quantity, stock.reorder_at + Quantity::whole(20 - 4));
    assert_eq!((line.timing.basis, line.timing.order_by), (TimingBasis::ForStock, Some(TODAY)));
    assert_eq!(draft(&mut shop.book), ["Order S-20260914-STRATH to STRATH drafted, with 1 line"]);
    let drafted = shop.book.order_lines.values().next().unwrap();
    assert_eq!(drafted.outstanding(), line.quantity);
    assert!(look(&shop.book).suppliers.is_empty(), "the draft counts");
    assert_eq!(draft(&mut shop.book), ["Nothing is left to draft"]);
}

#[test]
fn enough_is_enough_and_just_less_is_not() {
    let point = stock_points(&shop(0).book, None, TODAY)[0];
    let at = point.reorder_at.milli() / 1000;
    assert!(look(&shop(at).book).suppliers.is_empty(), "at the point the asked service is reached");
    assert_eq!(look(&shop(at - 1).book).suppliers.len(), 1);
}

/// Exactly 1 a working day is used, so stock ordered on Mondays only is found 1 to 5 below the point
/// instead of 1: the point rises by up to 4, and is the same on every day before that Monday.
#[test]
fn what_is_ordered_once_a_week_is_ordered_earlier() {
    let at = |mondays: bool, as_of| {
        let mut shop = shop(0);
        if mondays {
            let week = [true, false, false, false, false, false, false];
            shop.book.settings.as_mut().unwrap().ordering_days = week;
        }
        stock_points(&shop.book, None, as_of)[0].reorder_at.milli() / 1000
    };
    let (daily, weekly) = (at(false, TODAY), at(true, TODAY));
    assert!(weekly > daily && weekly <= daily + 4, "{weekly} after {daily}");
    let monday = crate::calendar::add_days(TODAY, 7).unwrap();
    for days in 1..7 {
        let day = crate::calendar::add_days(TODAY, days).unwrap();
        assert!((at(true, day) - at(true, monday)).abs() <= 1, "{day}");
    }
}

#[test]
fn what_open_builds_need_counts_where_it_is_more() {
    let mut shop = shop(30);
    let id = shop.book.find_part(&by("BT-8")).unwrap().id;
    shop.open("B-1", &[("BT-8", "Body", 70)]);
    let found = look(&shop.book);
    let line = &found.suppliers[0].lines[0];
    let basis = line.stock.as_ref().unwrap().basis;
    assert_eq!(shop.words().reorder_basis(&basis), "open builds need 70");
    assert_eq!(line.quantity, Quantity::whole(40), "what is missing to what they need");
    // On order counts, and a part that is no longer kept in stock is no longer suggested.
    shop.order("P-1", "STRATH", &[("BT-8", 40, None)]);
    assert!(look(&shop.book).suppliers.is_empty());
    shop.book.parts.get_mut(&id).unwrap().stocked = None;
    assert!(stock_points(&shop.book, None, TODAY).is_empty());
}

#[test]
fn a_shortage_of_a_build_is_ordered_once_not_twice() {
    let mut shop = shop(0);
    let id = shop.book.find_part(&by("BT-8")).unwrap().id;
    shop.book.parts.get_mut(&id).unwrap().consumable = false;
    shop.open("B-1", &[("BT-8", "Body", 3)]);
    let found = look(&shop.book);
    let lines = &found.suppliers[0].lines;
    let whole: Quantity = lines.iter().map(|line| line.quantity).sum();
    assert_eq!(lines.len(), 2, "for the build, and for stock");
    let point = stock_points(&shop.book, None, TODAY)[0];
    assert_eq!(whole, point.order_up_to, "together up to the level");
    draft(&mut shop.book);
    assert!(look(&shop.book).suppliers.iter().all(|s| s.lines.iter().all(|l| l.draft.is_some())));
}
