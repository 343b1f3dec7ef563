//! Sentences and fields that the random commands hardly reach.

use super::*;
use crate::command::{NewClosure, NewOffer};
use crate::decide::words::said;

#[test]
fn an_order_that_fits_neither_minimum_nor_pack_is_told_both() {
    let mut shop = shop();
    let offer = NewOffer {
        supplier: by("CORRIE"),
        part: by("RAW"),
        item_number: String::new(),
        price: None,
        pack_size: Some(qty("5")),
        minimum_quantity: Some(qty("20")),
        quoted_days: None,
        preferred: false,
    };
    shop.run(Command::PutOffer { offer, etag: None });
    let told = shop.run(Command::Order(OrderCommand::Create {
        number: number("P-1"),
        supplier: by("CORRIE"),
        lines: vec![order_line("RAW", "12", None)],
        placed_on: Some(date(2026, 9, 1)),
    }));
    assert_eq!(
        told,
        [
            "12 of RAW: the least that CORRIE sells is 20, and CORRIE sells it in packs of 5",
            "Order P-1 to CORRIE drafted, with 1 line",
            "Order P-1 placed on 2026-09-01",
        ]
    );
}

#[test]
fn closed_days_that_are_known_are_said_to_be() {
    let mut shop = shop();
    let closures = |name: &str| Command::AddClosures {
        closures: vec![NewClosure {
            supplier: Some(by("BEINN")),
            first_day: date(2026, 12, 24),
            last_day: date(2027, 1, 3),
            name: name.to_owned(),
        }],
    };
    let told = "Closed 2026-12-24 to 2027-01-03: BEINN";
    assert_eq!(shop.run(closures("Christmas")), [told]);
    assert_eq!(shop.run(closures("Christmas")), [format!("{told} (already known)")]);
    assert_eq!(shop.run(closures("Yule")), [told], "another name for the same days");
}

/// A peg is gone when its end is said, and the line may have moved on: the value still names both.
#[test]
fn what_is_gone_is_named_in_every_field() {
    let mut shop = shop();
    shop.open("B-1", &[need("RAW", "2")]);
    order(&mut shop, "P-1", "CORRIE", order_line("RAW", "2", Some(("B-1", 1))));
    let how = BuildCommand::Substitute {
        build: by("B-1"),
        line: 1,
        part: by("NUT"),
        approved_by: "Ailsa".to_owned(),
        reason: "RAW is late".to_owned(),
        occurred_on: None,
    };
    let decision = shop.ask(Command::Build(how)).unwrap();
    assert_eq!(shop.book.pegs.len(), 0);
    let told = said(&shop.book, &decision.effects[0]);
    assert_eq!(
        told.text,
        "2 of RAW no longer pegged to order P-1 line 1 for build B-1, stage Body: another part takes \
         its place"
    );
    assert_eq!((told.part, told.quantity), ("RAW", Some(qty("2"))));
    assert_eq!((told.build, told.stage, told.line), ("B-1", "Body", 1));
    assert_eq!((told.order, told.order_line), ("P-1", 1));
}
