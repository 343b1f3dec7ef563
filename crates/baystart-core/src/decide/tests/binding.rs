//! The binding rule, one scenario each: which requirement takes which supply.
//! What is expected here is worked by hand from the rule (design, section 4).

use super::*;
use crate::command::{CancelledBy, ReceiptLine};
use crate::decide::EffectKind;
use crate::decide::words::sentence;
use jiff::ToSpan;

fn in_days(days: i64) -> Date {
    TODAY.checked_add(days.days()).unwrap()
}

/// Quarantine in bin A1.
fn quarantine(part: &str, quantity: &str) -> Command {
    let reason = "dented in transit".to_owned();
    let at = at(part, "A1", "", quantity);
    Command::Stock(StockCommand::Quarantine { at, reason, occurred_on: None })
}

/// Some of line 1 of an order comes into bin A1.
fn receive(order: &str, quantity: Option<&str>, over_accepted_by: Option<&str>) -> Command {
    let over_accepted_by = over_accepted_by.map(str::to_owned);
    Command::Order(OrderCommand::Receive {
        order: by(order),
        lines: vec![ReceiptLine { over_accepted_by, ..receipt(1, quantity) }],
        occurred_on: None,
    })
}

/// The supplier cancels what is left of an order.
fn failed(order: &str) -> Command {
    Command::Order(OrderCommand::Cancel {
        order: by(order),
        lines: Vec::new(),
        quantity: None,
        by: CancelledBy::Supplier,
        reason: "no longer made".to_owned(),
        occurred_on: None,
    })
}

#[test]
fn priority_before_planned_start_before_opening_time() {
    let mut shop = shop();
    shop.open_served("OPENED-FIRST", 2, None, &[need("WINCH", "1")]);
    shop.open_served("OPENED-LATER", 2, None, &[need("WINCH", "1")]);
    shop.open_served("STARTS-SOON", 2, Some(in_days(5)), &[need("WINCH", "1")]);
    shop.open_served("URGENT", 1, Some(in_days(9)), &[need("WINCH", "1")]);
    for next in ["URGENT", "STARTS-SOON", "OPENED-FIRST", "OPENED-LATER"] {
        assert_eq!(shop.bound(next, 1)[2], "1", "{next} waits");
        shop.stock("WINCH", "1");
        assert_eq!(shop.bound(next, 1), ["1", "0", "0"], "{next} is next");
    }
}

#[test]
fn what_is_bound_stays_where_it_is() {
    let mut shop = shop();
    shop.stock("WINCH", "1");
    shop.open_served("B-1", 5, None, &[need("WINCH", "1")]);
    shop.open_served("B-2", 1, None, &[need("WINCH", "1")]);
    assert_eq!(shop.bound("B-1", 1)[0], "1");
    assert_eq!(shop.bound("B-2", 1)[2], "1");
}

#[test]
fn soonest_expiry_then_oldest_lot_and_expired_last() {
    let mut shop = shop();
    shop.today = in_days(-3);
    shop.stock_lot("PACK", "1", "OLD", None);
    shop.stock_lot("PACK", "1", "GONE", Some(in_days(-1)));
    shop.today = TODAY;
    shop.stock_lot("PACK", "1", "NEW", None);
    shop.stock_lot("PACK", "1", "LATE", Some(in_days(90)));
    shop.stock_lot("PACK", "1", "SOON", Some(in_days(30)));
    for (build, lot) in
        [("B-1", "SOON"), ("B-2", "LATE"), ("B-3", "OLD"), ("B-4", "NEW"), ("B-5", "GONE")]
    {
        shop.open_served(build, 1, None, &[need("PACK", "1")]);
        assert_eq!(shop.stock_of("PACK", lot).reserved, qty("1"), "{build} takes {lot}");
    }
}

#[test]
fn a_far_build_pegs_before_it_takes_stock() {
    let mut shop = shop();
    shop.book.settings.as_mut().unwrap().reserve_window_days = 20;
    shop.offer("CORRIE", "WINCH", 10);
    shop.stock("WINCH", "5");
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "2", None));
    // 20 working days from Monday 14 September are Monday 12 October: 28 days.
    shop.open_served("NEAR", 1, Some(in_days(28)), &[need("WINCH", "1")]);
    assert_eq!(shop.bound("NEAR", 1), ["1", "0", "0"]);
    shop.open_served("FAR", 1, Some(in_days(29)), &[need("WINCH", "3")]);
    assert_eq!(shop.bound("FAR", 1), ["1", "2", "0"], "the order first, then stock");
}

#[test]
fn a_loose_peg_upgrades_to_stock_and_a_kept_one_does_not() {
    let mut shop = shop();
    shop.offer("CORRIE", "WINCH", 10);
    order(&mut shop, "PO-FREE", "CORRIE", order_line("WINCH", "1", None));
    shop.open_served("LOOSE", 1, None, &[need("WINCH", "1")]);
    shop.open_served("KEPT", 1, None, &[need("WINCH", "1")]);
    order(&mut shop, "PO-KEPT", "CORRIE", order_line("WINCH", "1", Some(("KEPT", 1))));
    assert_eq!(shop.pegged_to("LOOSE", 1, "PO-FREE"), "1");
    assert_eq!(shop.pegged_to("KEPT", 1, "PO-KEPT"), "1");
    let said = shop.stock("WINCH", "2");
    assert_eq!(shop.bound("LOOSE", 1), ["1", "0", "0"]);
    assert_eq!(shop.bound("KEPT", 1), ["0", "1", "0"]);
    assert_eq!(
        said[1..],
        [
            "1 of WINCH no longer pegged to order PO-FREE line 1 for build LOOSE, stage Body: stock is free",
            "Reserved 1 of WINCH for build LOOSE, stage Body",
        ]
    );
}

#[test]
fn a_loose_peg_upgrades_to_an_earlier_supply() {
    let mut shop = shop();
    shop.offer("CORRIE", "WINCH", 30);
    shop.offer("STRATH", "WINCH", 10);
    shop.open_served("B-1", 1, None, &[need("WINCH", "1")]);
    order(&mut shop, "PO-LATE", "CORRIE", order_line("WINCH", "1", None));
    assert_eq!(shop.pegged_to("B-1", 1, "PO-LATE"), "1");
    order(&mut shop, "PO-SOON", "STRATH", order_line("WINCH", "1", None));
    assert_eq!(shop.pegged_to("B-1", 1, "PO-SOON"), "1");
    promised(&mut shop, "PO-SOON", in_days(60));
    assert_eq!(shop.pegged_to("B-1", 1, "PO-LATE"), "1", "the promise is too late");
}

/// Two builds upgrade in turn: what the second gives up is better for the first.
#[test]
fn upgrades_go_on_until_nobody_gains() {
    let mut shop = shop();
    shop.offer("CORRIE", "WINCH", 30);
    shop.offer("STRATH", "WINCH", 10);
    order(&mut shop, "PO-LATE", "CORRIE", order_line("WINCH", "1", None));
    shop.open_served("FAR", 1, Some(in_days(120)), &[need("WINCH", "1")]);
    shop.open_served("NEAR", 2, Some(in_days(5)), &[need("WINCH", "1")]);
    order(&mut shop, "PO-SOON", "STRATH", order_line("WINCH", "1", None));
    // FAR, served first, could move to PO-SOON; but NEAR is short. (It moved, and NEAR had PO-LATE.)
    assert_eq!(shop.pegged_to("NEAR", 1, "PO-SOON"), "1");
    assert_eq!(shop.pegged_to("FAR", 1, "PO-LATE"), "1");
    order(&mut shop, "PO-SOONER", "STRATH", order_line("WINCH", "1", None));
    assert_eq!(shop.pegged_to("FAR", 1, "PO-SOONER"), "1", "no sooner than what NEAR has");
    promised(&mut shop, "PO-SOON", in_days(20));
    promised(&mut shop, "PO-SOONER", in_days(15));
    shop.stock("WINCH", "1");
    assert_eq!(shop.bound("NEAR", 1), ["1", "0", "0"], "NEAR takes the stock");
    assert_eq!(shop.pegged_to("FAR", 1, "PO-SOONER"), "1", "FAR takes what NEAR gave up");
}

#[test]
fn a_receipt_goes_to_the_build_that_it_is_pegged_to_and_says_so() {
    let mut shop = shop();
    shop.open_served("B-1042", 5, None, &[need("WINCH", "2")]);
    shop.open_served("URGENT", 1, None, &[need("WINCH", "1")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "3", Some(("B-1042", 1))));
    assert_eq!(shop.pegged_to("B-1042", 1, "PO-1"), "2");
    let said = shop.said(receive("PO-1", Some("2"), None), EffectKind::Booked);
    assert_eq!(
        said,
        [
            "Received 2 of WINCH into bin A1, order PO-1 line 1",
            "2 of WINCH go to build B-1042, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1042", 1), ["2", "0", "0"]);
    assert_eq!(shop.pegged_to("URGENT", 1, "PO-1"), "1", "the third comes later");
}

#[test]
fn what_was_ordered_for_a_quoted_build_is_pegged_when_it_opens() {
    let mut shop = shop();
    shop.offer("CORRIE", "WINCH", 10);
    shop.quote("B-1", &[need("WINCH", "1")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "1", Some(("B-1", 1))));
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "1"], "a quote binds nothing");
    shop.start("B-1");
    assert_eq!(shop.pegged_to("B-1", 1, "PO-1"), "1");
    shop.stock("WINCH", "1");
    assert_eq!(shop.pegged_to("B-1", 1, "PO-1"), "1", "and the peg is kept");
}

#[test]
fn a_supplier_that_cancels_leaves_the_line_short_and_it_is_said() {
    let mut shop = shop();
    shop.open_served("B-1", 1, None, &[need("WINCH", "2")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "2", Some(("B-1", 1))));
    assert_eq!(shop.bound("B-1", 1)[2], "0");
    let said = shop.said(failed("PO-1"), EffectKind::Short);
    assert_eq!(said, ["Short of 2 of WINCH for build B-1, stage Body"]);
    assert_eq!(shop.bound("B-1", 1)[2], "2");
}

#[test]
fn stock_that_vanishes_displaces_the_build_that_is_served_last() {
    let mut shop = shop();
    shop.stock("WINCH", "3");
    shop.open_served("LAST", 9, None, &[need("WINCH", "1")]);
    shop.open_served("FIRST", 1, None, &[need("WINCH", "2")]);
    let decision = shop.ask(quarantine("WINCH", "2")).unwrap();
    let texts: Vec<_> =
        decision.effects.iter().map(|effect| sentence(&shop.book, effect)).collect();
    assert_eq!(
        texts,
        [
            "Quarantined 2 of WINCH in bin A1: dented in transit",
            "1 of WINCH no longer reserved for build LAST, stage Body: the stock under it is gone",
            "1 of WINCH no longer reserved for build FIRST, stage Body: the stock under it is gone",
            "Short of 1 of WINCH for build LAST, stage Body",
            "Short of 1 of WINCH for build FIRST, stage Body",
        ]
    );
    assert_eq!(shop.bound("FIRST", 1)[0], "1");
    assert_eq!(shop.bound("LAST", 1)[0], "0");
}

#[test]
fn hold_keeps_what_is_bound_and_takes_nothing_new() {
    let mut shop = shop();
    shop.stock("WINCH", "1");
    shop.open_served("B-1", 1, None, &[need("WINCH", "2")]);
    let build = by("B-1");
    let hold = BuildCommand::Hold { build, reason: "customer away".to_owned(), occurred_on: None };
    shop.run(Command::Build(hold));
    shop.stock("WINCH", "1");
    assert_eq!(shop.bound("B-1", 1)[0], "1", "the new one stays free");
    shop.run(Command::Build(BuildCommand::Resume { build: by("B-1"), occurred_on: None }));
    assert_eq!(shop.bound("B-1", 1)[0], "2");
}

#[test]
fn a_cancelled_build_gives_everything_to_others() {
    let mut shop = shop();
    shop.stock("WINCH", "1");
    shop.open_served("B-1", 1, None, &[need("WINCH", "2")]);
    shop.open_served("B-2", 2, None, &[need("WINCH", "2")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "1", Some(("B-1", 1))));
    let build = by("B-1");
    let end = BuildCommand::Cancel { build, reason: "sold".to_owned(), occurred_on: None };
    shop.run(Command::Build(end));
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "2"]);
    assert_eq!(shop.bound("B-2", 1), ["1", "1", "0"]);
}

#[test]
fn a_closed_order_takes_more_only_by_name_and_keeps_its_day_of_completion() {
    let mut shop = shop();
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "2", None));
    shop.run(receive("PO-1", None, None));
    shop.today = in_days(7);
    assert_eq!(shop.refused(receive("PO-1", Some("1"), None)).0, Reason::OrderLineState);
    shop.run(receive("PO-1", Some("1"), Some("Moira")));
    let order = shop.book.find_order(&by("PO-1")).unwrap();
    let row = shop.book.find_order_line(order, 1).unwrap();
    assert_eq!((row.received, row.over_accepted), (qty("3"), qty("1")));
    assert_eq!(row.closed_on, Some(TODAY));
    assert_eq!(number("po-1"), order.number);
}
