//! What one build lends to another.

use super::*;
use crate::command::BindCommand;

fn lend(from: (&str, i32), to: (&str, i32), quantity: Option<&str>) -> Command {
    Command::Bind(BindCommand::Lend {
        build: by(from.0),
        line: from.1,
        to_build: by(to.0),
        to_line: to.1,
        quantity: quantity.map(qty),
        reason: "the glen team waits".to_owned(),
        shown: None,
    })
}

#[test]
fn stock_goes_to_the_other_line_and_is_counted_as_moved() {
    let mut shop = shop();
    shop.stock("RAW", "3");
    shop.open("B-1", &[need("RAW", "3")]);
    shop.open("B-2", &[need("RAW", "2")]);
    let said = shop.run(lend(("B-1", 1), ("B-2", 1), None));
    assert_eq!(
        said,
        [
            "2 of RAW no longer reserved for build B-1, stage Body, lent to build B-2, line 1: \
             the glen team waits",
            "Reserved 2 of RAW for build B-2, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "2"]);
    assert_eq!(shop.bound("B-2", 1), ["2", "0", "0"]);
    let line = shop.line("B-1", 1).id;
    let moved: Quantity = shop.book.reservations_of(line).map(|row| row.moved).sum();
    assert_eq!(moved, qty("2"), "RS-2 counts it as moved, not as given back");
}

#[test]
fn for_stock_the_lender_gets_the_others_later_supply_and_nobody_between_takes_it() {
    let mut shop = shop();
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("RAW", "1")]);
    shop.open("B-2", &[need("RAW", "1")]);
    shop.order("P-1", "CORRIE", &[order_line("RAW", "1", Some(("B-2", 1)))]);
    shop.open("B-0", &[need("RAW", "1")]);
    shop.run(lend(("B-1", 1), ("B-2", 1), None));
    assert_eq!(shop.bound("B-2", 1), ["1", "0", "0"]);
    assert_eq!(shop.bound("B-1", 1), ["0", "1", "0"], "a swap");
    assert_eq!(shop.bound("B-0", 1), ["0", "0", "1"]);
}

#[test]
fn a_sooner_supply_is_swapped_for_a_later_one_and_never_the_other_way() {
    let mut shop = shop();
    shop.open("B-1", &[need("RAW", "1")]);
    shop.order("P-1", "CORRIE", &[order_line("RAW", "1", Some(("B-1", 1)))]);
    shop.open("B-2", &[need("RAW", "1")]);
    shop.order("P-2", "CORRIE", &[order_line("RAW", "1", Some(("B-2", 1)))]);
    promised(&mut shop, "P-1", date(2026, 9, 18));
    promised(&mut shop, "P-2", date(2026, 10, 16));
    let (reason, said) = shop.refused(lend(("B-2", 1), ("B-1", 1), None));
    assert_eq!(reason, Reason::OverLend);
    assert_eq!(
        said,
        "line 1 of build B-2 holds nothing of part RAW that line 1 of build B-1 would get sooner by it"
    );
    shop.run(lend(("B-1", 1), ("B-2", 1), None));
    let pegged = |build: &str, order: &str| {
        let key = (shop.line(build, 1).id, shop.order_line(order, 1).id);
        shop.book.pegs.get(&key).map(|peg| (peg.quantity.to_string(), peg.kept))
    };
    assert_eq!(pegged("B-2", "P-1"), Some(("1".to_owned(), true)), "what was lent stays lent");
    assert_eq!(pegged("B-1", "P-2"), Some(("1".to_owned(), false)));
    assert_eq!((pegged("B-1", "P-1"), pegged("B-2", "P-2")), (None, None));
}

#[test]
fn what_is_short_is_filled_before_a_later_supply_is_swapped() {
    let mut shop = shop();
    shop.stock("RAW", "2");
    shop.open("B-1", &[need("RAW", "2")]);
    shop.open("B-2", &[need("RAW", "3")]);
    shop.order("P-2", "CORRIE", &[order_line("RAW", "2", Some(("B-2", 1)))]);
    assert_eq!(shop.bound("B-2", 1), ["0", "2", "1"]);
    shop.run(lend(("B-1", 1), ("B-2", 1), None));
    assert_eq!(shop.bound("B-2", 1), ["2", "1", "0"], "one lacked, one came later");
    assert_eq!(shop.bound("B-1", 1), ["0", "1", "1"]);
}

#[test]
fn a_part_of_it_can_be_lent_and_no_more_than_helps() {
    let mut shop = shop();
    shop.stock("RAW", "5");
    shop.open("B-1", &[need("RAW", "5")]);
    shop.open("B-2", &[need("RAW", "2")]);
    let (reason, said) = shop.refused(lend(("B-1", 1), ("B-2", 1), Some("3")));
    assert_eq!(reason, Reason::OverLend);
    assert!(said.contains("holds 2 of part RAW that"), "{said}");
    shop.run(lend(("B-1", 1), ("B-2", 1), Some("1")));
    assert_eq!(shop.bound("B-1", 1), ["4", "0", "1"]);
    assert_eq!(shop.bound("B-2", 1), ["1", "0", "1"]);
}

#[test]
fn the_lender_takes_what_is_free_by_the_ordinary_rule() {
    let mut shop = shop();
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("RAW", "1")]);
    shop.open("B-2", &[need("RAW", "1")]);
    shop.run(Command::Bind(BindCommand::Release {
        build: by("B-1"),
        lines: vec![crate::command::LineQuantity { line: 1, quantity: None, lot: None, bin: None }],
    }));
    assert_eq!(shop.bound("B-2", 1), ["1", "0", "0"]);
    shop.order("P-3", "CORRIE", &[order_line("RAW", "1", None)]);
    assert_eq!(shop.bound("B-1", 1), ["0", "1", "0"]);
    shop.run(lend(("B-2", 1), ("B-1", 1), None));
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "0"]);
    assert_eq!(shop.bound("B-2", 1), ["0", "1", "0"]);
}

#[test]
fn lots_travel_with_what_is_lent() {
    let mut shop = shop();
    shop.part(NewPart { lot_tracked: true, ..part("BELT") });
    shop.stock_lot("BELT", "1", "L7", None);
    shop.open("B-1", &[need("BELT", "1")]);
    shop.open("B-2", &[need("BELT", "1")]);
    shop.run(lend(("B-1", 1), ("B-2", 1), None));
    let line = shop.line("B-2", 1).id;
    let lots: Vec<_> = shop.book.reservations_of(line).map(|row| row.key.lot.0.clone()).collect();
    assert_eq!(lots, ["L7"]);
}

#[test]
fn what_is_made_or_brought_for_one_build_is_never_lent() {
    let mut shop = shop();
    shop.part(NewPart { made_to_order: true, ..part("PANEL") });
    shop.finished("RED-RAW", &[("RAW", "1")]);
    shop.stock("PANEL", "1");
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("PANEL", "1"), need("RED-RAW", "1"), need("NUT", "1")]);
    let brought = NewLine { customer_supplied: true, ..need("NUT", "1") };
    shop.open("B-2", &[need("PANEL", "1"), need("RED-RAW", "1"), brought]);
    let (reason, said) = shop.refused(lend(("B-1", 1), ("B-2", 1), None));
    assert_eq!(reason, Reason::NeverLent);
    assert_eq!(said, "part PANEL of line 1 is made to order for its build: it is never lent");
    assert_eq!(shop.refused(lend(("B-1", 2), ("B-2", 2), None)).0, Reason::NeverLent);
    assert_eq!(shop.refused(lend(("B-1", 3), ("B-2", 3), None)).0, Reason::NeverLent);
}

#[test]
fn every_fault_is_named_at_once() {
    let mut shop = shop();
    shop.open("B-1", &[need("RAW", "1"), need("NUT", "1")]);
    let refusal = shop.ask(lend(("B-1", 1), ("B-1", 2), Some("0"))).unwrap_err();
    let named: Vec<_> =
        refusal.faults.iter().map(|fault| (fault.field.to_string(), fault.reason)).collect();
    assert_eq!(
        named,
        [
            ("quantity", Reason::QuantityInvalid),
            ("to.build", Reason::ValueInvalid),
            ("to.line_number", Reason::ValueInvalid),
        ]
        .map(|(field, reason)| (field.to_owned(), reason))
    );
    let refusal = shop.ask(lend(("B-9", 1), ("B-1", 9), None)).unwrap_err();
    let named: Vec<_> = refusal.faults.iter().map(|fault| fault.field.to_string()).collect();
    assert_eq!(named, ["from.build", "to.line_number"]);
}

#[test]
fn a_loan_that_was_shown_before_something_else_happened_is_refused() {
    let mut shop = shop();
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("RAW", "1")]);
    shop.open("B-2", &[need("RAW", "1")]);
    // The book of this test counts no revisions: it stands at 0.
    let shown = |revision| {
        let Command::Bind(BindCommand::Lend {
            build,
            line,
            to_build,
            to_line,
            quantity,
            reason,
            ..
        }) = lend(("B-1", 1), ("B-2", 1), None)
        else {
            panic!("not a loan")
        };
        let shown = Some(revision);
        let loan = BindCommand::Lend { build, line, to_build, to_line, quantity, reason, shown };
        Command::Bind(loan)
    };
    let (reason, said) = shop.refused(shown(7));
    assert_eq!(reason, Reason::ShownChanged);
    assert_eq!(said, "the dates were shown at revision 7; the shop stands at 0 now");
    shop.run(shown(0));
    assert_eq!(shop.bound("B-2", 1), ["1", "0", "0"]);
}

#[test]
fn a_quoted_build_neither_lends_nor_borrows() {
    let mut shop = shop();
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("RAW", "1")]);
    shop.quote("B-2", &[need("RAW", "1")]);
    assert_eq!(shop.refused(lend(("B-1", 1), ("B-2", 1), None)).0, Reason::BuildState);
    assert_eq!(shop.refused(lend(("B-2", 1), ("B-1", 1), None)).0, Reason::BuildState);
}
