//! Refused at the door, sent back, or set aside.

use super::*;
use crate::command::{BindCommand, LineQuantity, Rejection, Settlement};

fn reject(line: i32, quantity: &str, how: Rejection, settlement: Settlement) -> Command {
    Command::Order(OrderCommand::Reject {
        order: by("PO-1"),
        line,
        quantity: qty(quantity),
        how,
        settlement,
        reason: "bent".into(),
        occurred_on: None,
    })
}

fn sent_back(from_quarantine: bool) -> Rejection {
    Rejection::SentBack { bin: by("A1"), lot: String::new(), from_quarantine }
}

fn quarantined() -> Rejection {
    Rejection::Quarantined { bin: by("A1"), lot: String::new() }
}

/// A build that needs 3 of RAW, ordered for it.
fn shop() -> Shop {
    let mut shop = super::shop();
    shop.open("B-1", &[need("RAW", "3")]);
    shop.order("PO-1", "CORRIE", &[order_line("RAW", "3", Some(("B-1", 1)))]);
    shop
}

#[test]
fn refused_at_the_door_and_delivered_again_leaves_the_peg() {
    let mut shop = shop();
    let said = shop.run(reject(1, "2", Rejection::Refused, Settlement::Redelivery));
    assert_eq!(said, ["Line 1: 2 of RAW rejected, to be delivered again: bent"]);
    assert_eq!(shop.bound("B-1", 1), ["0", "3", "0"]);
    let row = shop.order_line("PO-1", 1);
    assert_eq!((row.rejected, row.received), (qty("2"), Quantity::ZERO));
    assert!(shop.book.ledger.is_empty(), "nothing was ever in stock");
}

#[test]
fn refused_at_the_door_for_credit_makes_the_line_short() {
    let mut shop = shop();
    let said = shop.run(reject(1, "2", Rejection::Refused, Settlement::Credit));
    assert_eq!(
        said,
        [
            "2 of RAW no longer pegged to order PO-1 line 1 for build B-1, stage Body: it will not come",
            "Line 1: 2 of RAW rejected, not delivered again: bent",
            "Short of 2 of RAW for build B-1, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1", 1), ["0", "1", "2"]);
    assert_eq!(shop.order_line("PO-1", 1).cancelled_by_supplier, qty("2"));
}

#[test]
fn sent_back_for_redelivery_displaces_the_reservation_and_pegs_it_anew() {
    let mut shop = shop();
    shop.receive("PO-1", &[receipt(1, None)]);
    assert_eq!(shop.bound("B-1", 1), ["3", "0", "0"]);
    assert_eq!(shop.order_line("PO-1", 1).closed_on, Some(TODAY));
    let said = shop.run(reject(1, "2", sent_back(false), Settlement::Redelivery));
    assert_eq!(
        said,
        [
            "2 of RAW no longer reserved for build B-1, stage Body: the stock under it is gone",
            "Sent back 2 of RAW from bin A1",
            "Line 1: 2 of RAW rejected, to be delivered again: bent",
            "Pegged 2 of RAW to order PO-1 line 1 for build B-1, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1", 1), ["1", "2", "0"]);
    let row = shop.order_line("PO-1", 1);
    assert_eq!((row.received, row.rejected, row.closed_on), (qty("1"), qty("2"), None));
    shop.receive("PO-1", &[receipt(1, None)]);
    assert_eq!(shop.bound("B-1", 1), ["3", "0", "0"]);
}

#[test]
fn set_aside_for_credit_stays_in_quarantine_and_the_line_is_short() {
    let mut shop = shop();
    shop.receive("PO-1", &[receipt(1, None)]);
    let said = shop.run(reject(1, "1", quarantined(), Settlement::Credit));
    assert_eq!(
        said,
        [
            "1 of RAW no longer reserved for build B-1, stage Body: the stock under it is gone",
            "Quarantined 1 of RAW from bin A1",
            "Line 1: 1 of RAW rejected, not delivered again: bent",
            "Short of 1 of RAW for build B-1, stage Body",
        ]
    );
    assert_eq!(shop.in_bin("RAW", "A1"), ("2".into(), "1".into()));
    // Later it goes back to whoever sold it, without another rejection.
    let at = at("RAW", "A1", "", "1");
    let said = shop.run(Command::Stock(StockCommand::ReturnToSupplier {
        at,
        supplier: by("CORRIE"),
        reason: "bent".into(),
        from_quarantine: true,
        occurred_on: None,
    }));
    assert_eq!(said, ["Sent back 1 of RAW from bin A1: bent"]);
}

#[test]
fn a_return_without_an_order_names_every_fault_at_once() {
    let mut shop = shop();
    let at = at("RAW", "NONE", "", "0");
    let refusal = shop.ask(Command::Stock(StockCommand::ReturnToSupplier {
        at,
        supplier: by("NOBODY"),
        reason: String::new(),
        from_quarantine: false,
        occurred_on: None,
    }));
    let faults = refusal.unwrap_err().faults;
    let fields: Vec<_> = faults.iter().map(|fault| fault.field.to_string()).collect();
    assert_eq!(fields, ["supplier", "quantity", "reason", "bin"]);
}

#[test]
fn what_cannot_be_rejected_is_refused_with_its_reason() {
    let mut shop = shop();
    let over = shop.refused(reject(1, "4", Rejection::Refused, Settlement::Credit));
    let text = "3 of line 1 is still on order, less than the 4 rejected";
    assert_eq!(over, (Reason::OverReject, text.into()));
    let early = shop.refused(reject(1, "1", sent_back(false), Settlement::Credit));
    let text = "0 of line 1 is received, less than the 1 rejected";
    assert_eq!(early, (Reason::OverReject, text.into()));
    shop.receive("PO-1", &[receipt(1, None)]);
    assert_eq!(
        shop.refused(reject(1, "1", sent_back(true), Settlement::Credit)),
        (Reason::StockShort, "bin A1 holds no quarantined stock of RAW".into())
    );
    assert_eq!(
        shop.refused(reject(2, "1", quarantined(), Settlement::Credit)).0,
        Reason::LineUnknown
    );
    let lines = vec![LineQuantity { line: 1, quantity: None, lot: None, bin: None }];
    shop.run(Command::Bind(BindCommand::Issue {
        build: by("B-1"),
        lines,
        stage: None,
        occurred_on: None,
    }));
    let fitted = shop.refused(reject(1, "1", sent_back(false), Settlement::Credit));
    assert_eq!(fitted.0, Reason::StockShort);
}

#[test]
fn a_piece_is_rejected_by_its_own_line_and_the_package_is_open_again() {
    let mut shop = super::shop();
    shop.part(NewPart { components: components(&[("RAW", "1"), ("NUT", "2")]), ..part("KIT") });
    shop.order("PO-1", "CORRIE", &[order_line("KIT", "1", None)]);
    shop.receive("PO-1", &[receipt(1, None)]);
    let whole = shop.refused(reject(1, "1", quarantined(), Settlement::Redelivery));
    let text = "line_number: line 1 of order PO-1 is package KIT: name the piece";
    assert_eq!(whole, (Reason::KitNotStocked, text.into()));
    shop.run(reject(3, "1", quarantined(), Settlement::Redelivery));
    let row = shop.order_line("PO-1", 1);
    assert_eq!((row.received, row.closed_on), (Quantity::ZERO, None));
    shop.receive("PO-1", &[receipt(1, None)]);
    assert_eq!(shop.order_line("PO-1", 1).received, qty("1"));
}
