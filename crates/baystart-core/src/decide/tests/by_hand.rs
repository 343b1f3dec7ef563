//! Binding by hand, issues, kits and consumables, one scenario each. What is
//! expected here is worked by hand from the rule (design, section 4).

use super::*;
use crate::command::{BindCommand, LineQuantity};
use crate::decide::EffectKind;

fn kit(text: &str, of: &[(&str, &str)]) -> NewPart {
    NewPart { components: components(of), ..part(text) }
}

fn of_line(line: i32, quantity: Option<&str>) -> LineQuantity {
    LineQuantity { line, quantity: quantity.map(qty), lot: None, bin: None }
}

/// Gives back what a build line holds.
fn release(build: &str, line: i32) -> Command {
    let lines = vec![of_line(line, None)];
    Command::Bind(BindCommand::Release { build: by(build), lines })
}

/// Pegs line 1 of a build to line 1 of an order by hand.
fn peg(build: &str, order: &str, quantity: &str) -> Command {
    let (build, order, quantity) = (by(build), by(order), Some(qty(quantity)));
    Command::Bind(BindCommand::Peg { build, line: 1, order, order_line: 1, quantity })
}

/// Takes such a peg away.
fn unpeg(build: &str, order: &str) -> Command {
    let (build, order) = (by(build), by(order));
    Command::Bind(BindCommand::Unpeg { build, line: 1, order, order_line: 1 })
}

fn issue(build: &str, line: LineQuantity) -> Command {
    let (build, lines) = (by(build), vec![line]);
    Command::Bind(BindCommand::Issue { build, lines, stage: None, occurred_on: None })
}

#[test]
fn a_release_is_not_bound_back_at_once() {
    let mut shop = shop();
    shop.stock("WINCH", "2");
    shop.open_served("LENDER", 1, None, &[need("WINCH", "2")]);
    shop.run(release("LENDER", 1));
    assert_eq!(shop.bound("LENDER", 1)[2], "2", "stays as the person left it");
    assert_eq!(shop.stock_of("WINCH", "").available(), qty("2"));
    shop.open_served("BORROWER", 9, None, &[need("WINCH", "1")]);
    assert_eq!(shop.bound("BORROWER", 1), ["0", "0", "1"], "the first served is bound");
    assert_eq!(shop.bound("LENDER", 1)[0], "2", "by the next event, as the rule says");
}

#[test]
fn a_release_serves_those_who_wait() {
    let mut shop = shop();
    shop.stock("WINCH", "2");
    shop.open_served("LENDER", 1, None, &[need("WINCH", "2")]);
    shop.open_served("WAITS", 9, None, &[need("WINCH", "1")]);
    shop.run(release("LENDER", 1));
    assert_eq!(shop.bound("WAITS", 1)[0], "1");
    assert_eq!(shop.bound("LENDER", 1)[2], "2");
}

#[test]
fn an_unpeg_serves_those_who_wait_and_not_the_line_itself() {
    let mut shop = shop();
    shop.open_served("B-1", 1, None, &[need("WINCH", "1")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "1", None));
    shop.open_served("B-2", 9, None, &[need("WINCH", "1")]);
    shop.run(unpeg("B-1", "PO-1"));
    assert_eq!(shop.bound("B-1", 1)[2], "1");
    assert_eq!(shop.pegged_to("B-2", 1, "PO-1"), "1");
}

#[test]
fn a_reservation_by_hand_frees_the_peg_for_others() {
    let mut shop = shop();
    shop.open_served("B-1", 1, None, &[need("WINCH", "2")]);
    shop.open_served("B-2", 2, None, &[need("WINCH", "1")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "2", Some(("B-1", 1))));
    shop.run(one_more_winch());
    let lines = vec![of_line(1, Some("1"))];
    // B-2 took the stock; it is released and reserved for B-1 by hand.
    shop.run(release("B-2", 1));
    shop.run(Command::Bind(BindCommand::Reserve { build: by("B-1"), lines }));
    assert_eq!(shop.bound("B-1", 1), ["1", "1", "0"]);
    assert_eq!(shop.pegged_to("B-2", 1, "PO-1"), "1");
}

fn one_more_winch() -> Command {
    let at = at("WINCH", "A1", "", "1");
    Command::Stock(StockCommand::Adjust {
        at,
        reason: "counted".to_owned(),
        expires_on: None,
        opening: false,
        quarantined: false,
        occurred_on: None,
    })
}

#[test]
fn a_peg_by_hand_is_limited_and_kept() {
    let mut shop = shop();
    shop.open_served("B-1", 1, None, &[need("WINCH", "1")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("WINCH", "5", None));
    shop.run(unpeg("B-1", "PO-1"));
    assert_eq!(shop.refused(peg("B-1", "PO-1", "2")).0, Reason::OverPeg);
    shop.run(peg("B-1", "PO-1", "1"));
    shop.stock("WINCH", "1");
    assert_eq!(shop.bound("B-1", 1), ["0", "1", "0"], "kept although stock is free");
}

#[test]
fn kits_explode_at_any_depth_and_stand_as_they_were() {
    let mut shop = shop();
    shop.part(NewPart { unit: Unit::parse("MTR").unwrap(), ..part("CABLE") });
    shop.part(kit("LAMP-SET", &[("STROP", "1"), ("CABLE", "2.5")]));
    shop.part(kit("ROOF-SET", &[("LAMP-SET", "2"), ("CABLE", "1"), ("WINCH", "1")]));
    shop.open_served("B-1", 1, None, &[need("ROOF-SET", "2")]);
    // 2 roof sets: 4 straps; 4 * 2.5 + 2 * 1 = 12 m of cable; 2 winches.
    let build = shop.book.find_build(&by("B-1")).unwrap().id;
    let rows = shop.book.lines_of(build);
    let has: Vec<_> = rows.iter().map(|l| (shop.book.part_number(l.part), l.required)).collect();
    assert_eq!(
        has,
        [("ROOF-SET", qty("2")), ("STROP", qty("4")), ("CABLE", qty("12")), ("WINCH", qty("2")),]
    );
    let part = kit("ROOF-SET", &[("WINCH", "9")]);
    let etag = "v1".to_owned();
    shop.run(Command::UpdatePart { target: by("ROOF-SET"), part, etag });
    assert_eq!(shop.line("B-1", 4).required, qty("2"), "an open build stands");
    shop.stock("WINCH", "20");
    assert_eq!(shop.bound("B-1", 4)[0], "2");
}

#[test]
fn a_kit_that_would_contain_itself_is_refused_with_its_path() {
    let mut shop = shop();
    shop.part(kit("LAMP-SET", &[("STROP", "1")]));
    shop.part(kit("ROOF-SET", &[("LAMP-SET", "1")]));
    let part = kit("LAMP-SET", &[("STROP", "1"), ("ROOF-SET", "1")]);
    let (reason, message) =
        shop.refused(Command::UpdatePart { target: by("LAMP-SET"), part, etag: "v1".to_owned() });
    assert_eq!(reason, Reason::KitCycle);
    assert!(message.ends_with("LAMP-SET > ROOF-SET > LAMP-SET"), "{message}");
}

#[test]
fn an_over_issue_is_said_and_counted() {
    let mut shop = shop();
    shop.stock("WINCH", "3");
    shop.open_served("B-1", 1, None, &[need("WINCH", "1")]);
    let said = shop.said(issue("B-1", of_line(1, Some("2"))), EffectKind::OverIssued);
    assert_eq!(said, ["1 of WINCH more than line 1 of build B-1 requires"]);
    assert_eq!(shop.line("B-1", 1).issued, qty("2"));
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "0"]);
}

#[test]
fn an_issue_never_takes_what_is_reserved_for_others() {
    let mut shop = shop();
    shop.stock("WINCH", "2");
    shop.open_served("B-1", 1, None, &[need("WINCH", "1")]);
    shop.open_served("B-2", 2, None, &[need("WINCH", "1")]);
    let (reason, _) = shop.refused(issue("B-1", of_line(1, Some("2"))));
    assert_eq!(reason, Reason::StockShort);
}

#[test]
fn consumables_are_never_bound() {
    let mut shop = shop();
    shop.stock("SEALANT", "3");
    shop.open_served("B-1", 1, None, &[need("SEALANT", "1")]);
    order(&mut shop, "PO-1", "CORRIE", order_line("SEALANT", "5", None));
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "1"]);
    let all = Command::Bind(BindCommand::Reserve { build: by("B-1"), lines: Vec::new() });
    assert_eq!(shop.refused(all).0, Reason::NothingToDo);
    shop.run(issue("B-1", of_line(1, None)));
    assert_eq!(shop.line("B-1", 1).issued, qty("1"));
}

#[test]
fn a_part_that_is_no_longer_a_consumable_is_bound() {
    let mut shop = shop();
    shop.stock("SEALANT", "3");
    shop.open_served("B-1", 1, None, &[need("SEALANT", "1")]);
    let etag = "v1".to_owned();
    shop.run(Command::UpdatePart { target: by("SEALANT"), part: part("SEALANT"), etag });
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "0"]);
}

#[test]
fn a_release_gives_back_the_lot_that_it_names() {
    let mut shop = shop();
    shop.stock_lot("PACK", "1", "L1", None);
    shop.stock_lot("PACK", "1", "L2", None);
    shop.open_served("B-1", 1, None, &[need("PACK", "2")]);
    let mut wish = of_line(1, None);
    wish.lot = Some("l1".to_owned());
    shop.run(Command::Bind(BindCommand::Release { build: by("B-1"), lines: vec![wish] }));
    assert_eq!(shop.stock_of("PACK", "L1").reserved, Quantity::ZERO);
    assert_eq!(shop.stock_of("PACK", "L2").reserved, qty("1"));
}
