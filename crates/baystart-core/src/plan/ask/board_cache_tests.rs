//! What a kept board reckons anew: what hangs on a change, and nothing else.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::book::Book;
use crate::command::OrderCommand;
use crate::command::{BuildCommand, Command};
use crate::forecast::CommonCause;
use crate::ids::BuildId;
use crate::leadtime::history::{Fact, History, PastLine};
use crate::leadtime::learn::{LearnSettings, LearnedLaws};
use crate::plan::{BoardKept, Learned, board};
use crate::testing::{Shop, TODAY, by};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Three builds that each wait for an order line of their own, on one order of the first two.
fn shop() -> (Shop, [BuildId; 3]) {
    let mut shop = Shop::new();
    for part in ["HD-1", "HD-2", "HD-3"] {
        shop.part(part);
        shop.offer("CORRIE", part, 20);
    }
    let ids = [("B-1", "HD-1"), ("B-2", "HD-2"), ("B-3", "HD-3")]
        .map(|(build, part)| shop.open(build, &[(part, "Body", 1)]));
    let day = Some(date(2026, 10, 12));
    shop.order("P-1", "CORRIE", &[("HD-1", 1, day), ("HD-2", 1, day)]);
    shop.order("P-2", "CORRIE", &[("HD-3", 1, None)]);
    (shop, ids)
}

/// Laws from orders that took `days` days each.
fn learned(book: &Book, days: i64) -> Arc<Learned> {
    let fact = |on: Date| Fact { on, recorded_on: on };
    let mut history = History::default();
    for k in 0..40 {
        let placed = date(2026, 1, 5).checked_add(jiff::Span::new().days(k)).unwrap();
        let done = placed.checked_add(jiff::Span::new().days(days)).unwrap();
        history.lines.push(PastLine {
            supplier: 0,
            offer: 0,
            order: None,
            quoted_days: Some(20),
            placed: fact(placed),
            taken_over_on: None,
            rejected: false,
            promises: Vec::new(),
            despatched: None,
            completed: Some(fact(done)),
            cancelled: None,
            contacts: Vec::new(),
        });
    }
    let keys = book.suppliers.keys().map(|id| (*id, 0)).collect::<BTreeMap<_, _>>();
    Arc::new(Learned {
        laws: LearnedLaws::learn(&history, TODAY, &LearnSettings::default()),
        cause: CommonCause::new(0.15).unwrap(),
        suppliers: keys,
        offers: BTreeMap::new(),
        waits: None,
        lengths: None,
        coming: None,
        lines: 40,
    })
}

fn promise(shop: &mut Shop, order: &str, line: i32, day: Date) {
    shop.run(Command::Order(OrderCommand::Acknowledge {
        order: by(order),
        supplier_reference: String::new(),
        promises: vec![(line, Some(day))],
        occurred_on: None,
    }));
}

/// The next board, which must be the one from cold; how many builds were reckoned for it.
fn next(
    kept: &BoardKept,
    shop: &Shop,
    learned: Option<&Arc<Learned>>,
    as_of: Date,
) -> (BoardKept, usize) {
    let book = Arc::new(shop.book.clone());
    let next = kept.renewed(&book, learned, as_of).unwrap();
    let cold = board(&book, learned.map(Arc::as_ref), as_of).unwrap();
    let rows: Vec<_> = next.rows().iter().map(|row| (**row).clone()).collect();
    assert_eq!(rows, cold);
    let anew = next.reckoned_anew();
    (next, anew)
}

#[test]
fn one_changed_promise_is_reckoned_for_whom_it_is() {
    let (mut shop, _) = shop();
    for learned in [None, Some(learned(&shop.book, 25))] {
        let learned = learned.as_ref();
        let kept = BoardKept::new(&Arc::new(shop.book.clone()), learned, TODAY).unwrap();
        assert_eq!(kept.reckoned_anew(), 3);
        assert_eq!(next(&kept, &shop, learned, TODAY).1, 0, "nothing changed");
        let day = if learned.is_none() { 20 } else { 21 };
        promise(&mut shop, "P-2", 1, date(2026, 11, day));
        let (kept, anew) = next(&kept, &shop, learned, TODAY);
        assert_eq!(anew, 1);
        // The order's row changes with its line: whoever hangs on the order is looked at again.
        promise(&mut shop, "P-1", 1, date(2026, 11, day));
        assert_eq!(next(&kept, &shop, learned, TODAY).1, 2);
    }
}

#[test]
fn what_may_touch_everybody_is_reckoned_for_everybody() {
    let (mut shop, _) = shop();
    let laws = learned(&shop.book, 25);
    let kept = BoardKept::new(&Arc::new(shop.book.clone()), Some(&laws), TODAY).unwrap();
    // The same laws, learned once more: equal, though they lie elsewhere.
    assert_eq!(next(&kept, &shop, Some(&learned(&shop.book, 25)), TODAY).1, 0);
    let other = learned(&shop.book, 45);
    let (slower, anew) = next(&kept, &shop, Some(&other), TODAY);
    assert_eq!(anew, 3);
    // Nobody promised the third build's part: the law alone dates it.
    assert_ne!(slower.rows()[2].forecast.start, kept.rows()[2].forecast.start);
    assert_eq!(next(&kept, &shop, None, TODAY).1, 3);
    assert_eq!(next(&kept, &shop, Some(&laws), date(2026, 9, 15)).1, 3);
    shop.offer("STRATH", "HD-1", 3);
    assert_eq!(next(&kept, &shop, Some(&laws), TODAY).1, 3);
}

#[test]
fn a_bay_that_is_held_longer_is_told_to_all_who_wait_for_one() {
    let (mut shop, ids) = shop();
    shop.book.settings.as_mut().unwrap().bays = 1;
    shop.build(BuildCommand::PutInBay { build: by("B-1"), occurred_on: None });
    let kept = BoardKept::new(&Arc::new(shop.book.clone()), None, TODAY).unwrap();
    let third = shop.id("B-3");
    let bay = |kept: &BoardKept| {
        let rows = kept.rows();
        let row = rows.iter().find(|row| row.forecast.build == third).unwrap();
        row.forecast.delivery.levels[1].bay_start.unwrap()
    };
    promise(&mut shop, "P-1", 1, date(2026, 12, 18));
    let (later, anew) = next(&kept, &shop, None, TODAY);
    assert_eq!(anew, 2, "the other who hangs on the order; the third is told from the play");
    assert!(bay(&later) > bay(&kept), "{:?}", ids);
    promise(&mut shop, "P-2", 1, date(2026, 10, 19));
    assert_eq!(next(&later, &shop, None, TODAY).1, 1, "who waits for a bay holds none");
}
