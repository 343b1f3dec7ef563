//! A loan seen before it is made: dates by hand, nothing changed, the same as after it.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use crate::command::{BindCommand, Command};
use crate::plan::{forecast_build, lending};
use crate::refusal::Reason;
use crate::testing::{Shop, TODAY, by};
use jiff::civil::date;

fn loan(from: &str, to: &str) -> BindCommand {
    BindCommand::Lend {
        build: by(from),
        line: 1,
        to_build: by(to),
        to_line: 1,
        quantity: None,
        reason: "the glen team waits".to_owned(),
        shown: None,
    }
}

#[test]
fn both_sides_are_dated_before_and_after_and_nothing_is_changed() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let lender = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let taker = shop.open("B-2", &[("HD-1", "Body", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 12)))]);
    let before = shop.book.clone();
    let found = lending(&shop.book, None, &loan("B-1", "B-2"), TODAY).unwrap();
    assert_eq!(shop.book, before, "a look changes nothing");
    // The lender has all its parts and starts today, at every confidence; then the taker does.
    assert!(found.from.before.iter().all(|start| start.date == Some(TODAY)));
    assert!(found.to.after.iter().all(|start| start.date == Some(TODAY)));
    // A swap of one part for one supply exchanges the two builds' dates.
    assert_eq!(found.from.after, found.to.before);
    assert_eq!(found.from.later_80, found.to.later_80.map(|days| -days));
    assert!(found.from.later_80.unwrap() >= 20, "{found:?}");
    assert_eq!((found.from.build, found.to.build), (lender, taker));
    shop.run(Command::Bind(loan("B-1", "B-2")));
    let made = |id| forecast_build(&shop.book, None, id, TODAY, None).unwrap().start;
    assert_eq!((made(lender), made(taker)), (found.from.after, found.to.after));
}

#[test]
fn what_the_command_would_refuse_the_look_refuses() {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.open("B-1", &[("HD-1", "Body", 1)]);
    shop.open("B-2", &[("HD-1", "Body", 1)]);
    let refused = lending(&shop.book, None, &loan("B-1", "B-2"), TODAY).unwrap_err();
    assert_eq!(refused.reason, Reason::OverLend);
    let other = BindCommand::Reserve { build: by("B-1"), lines: Vec::new() };
    assert_eq!(lending(&shop.book, None, &other, TODAY).unwrap_err().reason, Reason::ValueInvalid);
}
