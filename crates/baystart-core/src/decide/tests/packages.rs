//! One order line and one price, whose pieces arrive apart.

use super::*;
use crate::command::CancelledBy;

/// A suspension package: two springs' kits and a bar; each kit has two RAW and a NUT.
fn package(shop: &mut Shop) {
    shop.part(NewPart { components: components(&[("RAW", "2"), ("NUT", "1")]), ..part("INNER") });
    shop.part(NewPart {
        components: components(&[("INNER", "2"), ("BAR", "1"), ("NUT", "3")]),
        ..part("KIT")
    });
}

fn rows(shop: &Shop, order: &str) -> Vec<(i32, String, String, i32)> {
    let order = shop.book.find_order(&by(order)).unwrap();
    let rows = shop.book.lines_of_order(order.id).into_iter();
    let row = |row: &OrderLine| {
        let part = shop.book.part_number(row.part).to_owned();
        (row.number, part, row.ordered.to_string(), row.package_line)
    };
    rows.map(row).collect()
}

/// By hand: two packages of (2 x (2 RAW, 1 NUT), 1 BAR, 3 NUT) are 8 RAW, 10 NUT, 2 BAR.
#[test]
fn nested_kits_become_pieces_each_part_once() {
    let mut shop = shop();
    package(&mut shop);
    shop.order("PO-1", "CORRIE", &[order_line("KIT", "2", None), order_line("RAW", "1", None)]);
    let row = |number, part: &str, ordered: &str, package| {
        (number, part.to_owned(), ordered.to_owned(), package)
    };
    let expected = [
        row(1, "KIT", "2", 0),
        row(2, "RAW", "8", 1),
        row(3, "NUT", "10", 1),
        row(4, "BAR", "2", 1),
        row(5, "RAW", "1", 0),
    ];
    assert_eq!(rows(&shop, "PO-1"), expected);
    // The list is that of the day of the order.
    let part = NewPart { components: components(&[("BAR", "7")]), ..part("KIT") };
    shop.run(Command::UpdatePart { target: by("KIT"), part, etag: "v1".into() });
    assert_eq!(rows(&shop, "PO-1"), expected);
}

#[test]
fn a_changed_kit_changes_no_build_that_was_opened_with_the_old_one() {
    let mut shop = shop();
    package(&mut shop);
    shop.open("B-1", &[need("KIT", "1")]);
    let part = NewPart { components: components(&[("BAR", "7")]), ..part("KIT") };
    shop.run(Command::UpdatePart { target: by("KIT"), part, etag: "v1".into() });
    let of_build = |shop: &Shop, number| {
        let line = shop.line("B-1", number);
        (shop.book.part_number(line.part).to_owned(), line.required.to_string())
    };
    let rows: Vec<_> = (2..=4).map(|number| of_build(&shop, number)).collect();
    let row = |part: &str, required: &str| (part.to_owned(), required.to_owned());
    assert_eq!(rows, [row("RAW", "4"), row("NUT", "5"), row("BAR", "1")]);
}

/// The package counts as received as far as every piece makes it up.
#[test]
fn a_package_is_complete_when_every_piece_is_here() {
    let mut shop = shop();
    package(&mut shop);
    shop.open("B-1", &[need("KIT", "1")]);
    shop.order("PO-1", "CORRIE", &[order_line("KIT", "2", Some(("B-1", 1)))]);
    assert_eq!(shop.bound("B-1", 2), ["0", "4", "0"]);
    shop.receive("PO-1", &[receipt(2, Some("5")), receipt(4, None)]);
    assert_eq!(shop.order_line("PO-1", 1).received, Quantity::ZERO);
    assert_eq!(shop.bound("B-1", 2), ["4", "0", "0"]);
    shop.receive("PO-1", &[receipt(3, Some("9"))]);
    assert_eq!(shop.order_line("PO-1", 1).received, qty("1"));
    let part = shop.ask(Command::Order(OrderCommand::Receive {
        order: by("PO-1"),
        lines: vec![receipt(1, Some("0.5"))],
        occurred_on: None,
    }));
    assert_eq!(part.unwrap_err().reason, Reason::KitNotStocked);
    let said = shop.receive("PO-1", &[receipt(1, None)]);
    assert_eq!(
        said,
        [
            "Received 3 of RAW into bin A1, order PO-1 line 2",
            "Received 1 of NUT into bin A1, order PO-1 line 3",
            "Line 1, package KIT: every piece is here",
        ]
    );
    let row = shop.order_line("PO-1", 1);
    assert_eq!((row.received, row.closed_on), (qty("2"), Some(TODAY)));
}

#[test]
fn what_the_supplier_will_not_send_of_a_piece_is_missing_of_the_package() {
    let mut shop = shop();
    package(&mut shop);
    shop.order("PO-1", "CORRIE", &[order_line("KIT", "2", None)]);
    shop.receive("PO-1", &[receipt(2, None), receipt(3, None), receipt(4, Some("1"))]);
    let said = shop.run(Command::Order(OrderCommand::Cancel {
        order: by("PO-1"),
        lines: vec![4],
        quantity: None,
        by: CancelledBy::Supplier,
        reason: "no longer cast".into(),
        occurred_on: None,
    }));
    assert_eq!(said[0], "Line 4: 1 of BAR cancelled by the supplier: no longer cast");
    let row = shop.order_line("PO-1", 1);
    assert_eq!((row.received, row.cancelled_by_supplier), (qty("1"), qty("1")));
    assert_eq!(row.closed_on, Some(TODAY));
}

#[test]
fn packages_are_ordered_whole_and_not_too_deep() {
    let mut shop = shop();
    package(&mut shop);
    let (reason, message) = shop.refused(create_order("PO-1", &[order_line("KIT", "1.5", None)]));
    assert_eq!(reason, Reason::QuantityInvalid);
    assert_eq!(message, "lines[0].quantity: part KIT is a package: order whole ones");
    shop.part(NewPart { components: components(&[("RAW", "1")]), ..part("K-0") });
    for level in 1..=17 {
        let inner = format!("K-{}", level - 1);
        let components = components(&[(inner.as_str(), "1")]);
        shop.part(NewPart { components, ..part(&format!("K-{level}")) });
    }
    let deep = shop.refused(create_order("PO-1", &[order_line("K-17", "1", None)]));
    assert_eq!(deep.0, Reason::KitTooDeep);
}
