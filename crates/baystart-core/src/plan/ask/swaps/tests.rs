//! Proposals on a shop's book: hand-made cases, and brute force over all ways to give the pieces out.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]

use super::{LateAgainst, Lateness, Swaps, late_of, ordered, swaps};
use crate::book::Book;
use crate::book::model::Peg;
use crate::command::{BindCommand, Command};
use crate::ids::{BuildId, LineId, OrderLineId};
use crate::plan::View;
use crate::refs::Ref;
use crate::testing::{Shop, TODAY, by};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

fn all_late(view: &View<'_>) -> BTreeMap<BuildId, Lateness> {
    late_of(view, &ordered(view.book).iter().map(|row| row.id).collect()).unwrap()
}

fn look(shop: &Shop, cost_lower_priority: bool) -> Swaps {
    swaps(&shop.book, None, TODAY, cost_lower_priority, &|| true).unwrap().unwrap()
}

fn planned(shop: &mut Shop, id: BuildId, day: Date, priority: i32) {
    let mut row = shop.book.builds.get_mut(&id).unwrap();
    row.planned_start = Some(day);
    row.priority = priority;
}

/// Carries a proposal out by the commands that it stands for.
fn carry_out(shop: &mut Shop, found: &Swaps) {
    for loan in &found.proposals[0].loans {
        shop.run(Command::Bind(BindCommand::Lend {
            build: Ref::Uid(loan.from_build.0),
            line: loan.from_line,
            to_build: Ref::Uid(loan.to_build.0),
            to_line: loan.to_line,
            quantity: Some(loan.quantity),
            reason: "the glen team waits".to_owned(),
            shown: None,
        }));
    }
}

/// B-1 holds the stock and is not wanted before December, B-2 waits for the order and is due soon.
fn one_part(priority_of_lender: i32, lender_due: Date) -> Shop {
    let mut shop = Shop::new();
    shop.part("HD-1");
    shop.stock("HD-1", 1);
    let lender = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let taker = shop.open("B-2", &[("HD-1", "Body", 1)]);
    shop.order("P-1", "CORRIE", &[("HD-1", 1, Some(date(2026, 10, 12)))]);
    planned(&mut shop, lender, lender_due, priority_of_lender);
    planned(&mut shop, taker, date(2026, 9, 21), 100);
    shop
}

#[test]
fn a_swap_saves_a_late_build_and_changes_nothing_by_itself() {
    let mut shop = one_part(100, date(2026, 12, 7));
    let before = shop.book.clone();
    let found = look(&shop, false);
    assert_eq!(shop.book, before);
    assert_eq!(found.late.len(), 1);
    let late = &found.late[0];
    assert_eq!((late.build, late.against), (shop.id("B-2"), Some(LateAgainst::PlannedStart)));
    assert_eq!(late.due, Some(date(2026, 9, 21)));
    let [proposal] = found.proposals.as_slice() else { panic!("{found:?}") };
    let loan = &proposal.loans[0];
    assert_eq!((proposal.loans.len(), loan.from_build, loan.from_line), (1, shop.id("B-1"), 1));
    assert_eq!((loan.to_build, loan.to_line), (shop.id("B-2"), 1));
    assert_eq!(loan.part, shop.part_id("HD-1"));
    // All that it was late is gained: it starts today then, with days in hand.
    assert_eq!(proposal.days_gained, late.days_late());
    assert_eq!(proposal.sides[0].after.start, Some(TODAY));
    assert_eq!(proposal.sides[0].after.days, Some(-5));
    assert_eq!(proposal.sides[1].after.days_late(), 0);
    assert_eq!(proposal.sides[1].later, proposal.sides[0].later.map(|days| -days));
    let after = proposal.sides[0].after.clone();
    carry_out(&mut shop, &found);
    let then = look(&shop, false);
    assert!(then.late.is_empty() && then.proposals.is_empty(), "{then:?}");
    let view = View::new(&shop.book, None, TODAY);
    let id = shop.book.find_build(&by("B-2")).unwrap().id;
    assert_eq!(all_late(&view)[&id], after, "what was proposed came true");
}

#[test]
fn nobody_pays_but_who_has_a_lower_priority_and_only_on_request() {
    // The lender is due as soon as the taker: it would be just as late.
    let shop = one_part(100, date(2026, 9, 22));
    assert!(look(&shop, false).proposals.is_empty());
    assert!(look(&shop, true).proposals.is_empty(), "the same priority does not pay");
    let shop = one_part(300, date(2026, 9, 22));
    assert!(look(&shop, false).proposals.is_empty());
    let found = look(&shop, true);
    let [proposal] = found.proposals.as_slice() else { panic!("{found:?}") };
    assert_eq!(proposal.sides[1].before.days_late(), 0);
    assert!(proposal.sides[1].after.days_late() > 0);
    // One day is won: the lender was due a day later.
    assert_eq!(proposal.days_gained, 1);
    let shop = one_part(50, date(2026, 9, 22));
    assert!(look(&shop, true).proposals.is_empty(), "a higher priority never pays");
}

#[test]
fn two_parts_that_help_only_together_are_one_proposal() {
    let mut shop = Shop::new();
    for part in ["HD-1", "HD-2"] {
        shop.part(part);
        shop.stock(part, 1);
    }
    let first = shop.open("B-1", &[("HD-1", "Body", 1)]);
    let second = shop.open("B-2", &[("HD-2", "Body", 1)]);
    let taker = shop.open("B-3", &[("HD-1", "Body", 1), ("HD-2", "Body", 1)]);
    let day = Some(date(2026, 10, 12));
    shop.order("P-1", "CORRIE", &[("HD-1", 1, day), ("HD-2", 1, day)]);
    planned(&mut shop, first, date(2026, 12, 7), 100);
    planned(&mut shop, second, date(2026, 12, 7), 100);
    planned(&mut shop, taker, date(2026, 9, 21), 100);
    let found = look(&shop, false);
    let [proposal] = found.proposals.as_slice() else { panic!("{found:?}") };
    assert_eq!((proposal.loans.len(), proposal.sides.len()), (2, 3));
    assert_eq!(proposal.sides[0].after.start, Some(TODAY));
    carry_out(&mut shop, &found);
    assert!(look(&shop, false).late.is_empty());
}

#[test]
fn what_is_made_to_order_is_left_out() {
    let mut shop = one_part(100, date(2026, 12, 7));
    let part = shop.book.find_part(&by("HD-1")).unwrap().id;
    shop.book.parts.get_mut(&part).unwrap().made_to_order = true;
    let found = look(&shop, false);
    assert_eq!((found.late.len(), found.proposals.len()), (1, 0));
}

/// The least sum of days late over every way to give three orders of three parts to three builds, by
/// forecast, where nobody becomes later.
fn by_brute_force(book: &Book, lines: &[Vec<LineId>], supplies: &[Vec<OrderLineId>]) -> i64 {
    const ORDERS: [[usize; 3]; 6] =
        [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];
    let late = |book: &Book| -> BTreeMap<BuildId, i64> {
        let rows = all_late(&View::new(book, None, TODAY));
        rows.into_iter().map(|(id, row)| (id, row.days_late())).collect()
    };
    let now = late(book);
    let mut best: i64 = now.values().sum();
    for code in 0..216 {
        let mut other = book.clone();
        other.pegs.clear();
        for part in 0..3 {
            let order = ORDERS[code / 6_usize.pow(u32::try_from(part).unwrap()) % 6];
            for build in 0..3 {
                let peg = Peg {
                    quantity: crate::quantity::Quantity::whole(1),
                    line: lines[part][build],
                    order_line: supplies[part][order[build]],
                    kept: true,
                };
                other.pegs.insert((peg.line, peg.order_line), peg);
            }
        }
        let then = late(&other);
        if then.iter().all(|(id, days)| days <= &now[id]) {
            best = best.min(then.values().sum());
        }
    }
    best
}

/// Three builds, three parts, an order of each part for each build: what is reached by carrying out
/// the first proposal until there is none, against brute force over all 216 ways. The forecasts are
/// distributions, the search knows one day of each: so this is how much that costs.
#[test]
fn what_is_reached_against_brute_force_by_forecast() {
    let (mut before, mut reached, mut least) = (0, 0, 0);
    let mut seed: u64 = 7;
    let mut draw = |n: u64| {
        // Knuth's MMIX constants; only variety matters.
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) % n
    };
    for _ in 0..16 {
        let mut shop = Shop::new();
        let parts = ["HD-1", "HD-2", "HD-3"];
        parts.iter().for_each(|part| shop.part(*part));
        let all: Vec<(&str, &str, i64)> = parts.iter().map(|part| (*part, "Body", 1)).collect();
        let builds: Vec<BuildId> =
            ["B-1", "B-2", "B-3"].iter().map(|build| shop.open(build, &all)).collect();
        for (at, part) in parts.iter().enumerate() {
            for build in 0..3 {
                let day =
                    TODAY.checked_add(jiff::Span::new().days(i64::try_from(draw(60)).unwrap()));
                let order = format!("P-{at}{build}");
                shop.order(&order, "CORRIE", &[(*part, 1, Some(day.unwrap()))]);
            }
        }
        for id in &builds {
            let day = TODAY.checked_add(jiff::Span::new().days(i64::try_from(draw(120)).unwrap()));
            planned(&mut shop, *id, day.unwrap(), 100);
        }
        let lines: Vec<Vec<LineId>> = (1..=3)
            .map(|number| {
                let of =
                    |id: &BuildId| shop.book.lines_of(*id).into_iter().find(|l| l.number == number);
                builds.iter().map(|id| of(id).unwrap().id).collect()
            })
            .collect();
        let supplies: Vec<Vec<OrderLineId>> = lines
            .iter()
            .map(|lines| {
                let of = |line: &LineId| shop.book.pegs_of(*line).next().unwrap().order_line;
                lines.iter().map(of).collect()
            })
            .collect();
        let best = by_brute_force(&shop.book, &lines, &supplies);
        let late = |found: &Swaps| found.late.iter().map(Lateness::days_late).sum::<i64>();
        let mut found = look(&shop, false);
        before += late(&found);
        for _ in 0..9 {
            if found.proposals.is_empty() {
                break;
            }
            let expected = late(&found) - found.proposals[0].days_gained;
            carry_out(&mut shop, &found);
            found = look(&shop, false);
            assert_eq!(late(&found), expected, "a proposal keeps what it says");
        }
        assert!(late(&found) >= best, "better than brute force");
        reached += late(&found);
        least += best;
    }
    println!("days late: {before} before, {reached} after the proposals, {least} by brute force");
    assert!(before - least > 50, "{before} {least}");
    let share = f64::from(i32::try_from(before - reached).unwrap())
        / f64::from(i32::try_from(before - least).unwrap());
    println!("{share:.3} of what can be gained");
    assert!(share > 0.9, "{share}");
}
