//! Made in the shop, and finished outside.

use super::*;
use crate::command::{BindCommand, LineQuantity};

fn in_shop() -> NewMade {
    NewMade::InShop { working_days: 2 }
}

fn send_out(line: i32, quantity: Option<&str>, promised_on: Option<Date>) -> Command {
    let (build, quantity) = (by("B-1"), quantity.map(qty));
    Command::Make(MakeCommand::SendOut { build, line, quantity, promised_on, occurred_on: None })
}

fn came_back(line: i32, quantity: Option<&str>, lot: &str) -> Command {
    Command::Make(MakeCommand::CameBack {
        build: by("B-1"),
        line,
        quantity: quantity.map(qty),
        bin: by("A2"),
        lot: lot.to_owned(),
        occurred_on: None,
    })
}

#[test]
fn an_assembly_asks_for_its_components_uses_them_up_and_is_reserved() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "3"), ("NUT", "1")], in_shop());
    shop.stock("RAW", "6");
    shop.quote("B-1", &[need("LOOM", "2")]);
    let said = shop.start("B-1");
    assert_eq!(
        said,
        [
            "Build B-1 is open",
            "2 of LOOM to be made in the shop: 2 components for build B-1, stage Body",
            "Reserved 6 of RAW for build B-1, stage Body",
            "Short of 2 of NUT for build B-1, stage Body",
        ]
    );
    let (reason, message) = shop.refused(record_made("B-1", 1, None, ""));
    assert_eq!(reason, Reason::StockShort);
    assert_eq!(message, "quantity: component line 3, part NUT: 2 of 2 are missing");
    shop.stock("NUT", "1");
    let said = shop.run(record_made("B-1", 1, Some("1"), ""));
    assert_eq!(
        said,
        [
            "Used up 3 of RAW from bin A1 for build B-1, stage Body",
            "Used up 1 of NUT from bin A1 for build B-1, stage Body",
            "Made 1 of LOOM, into bin A2",
            "Reserved 1 of LOOM for build B-1, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "0"]);
    assert_eq!(shop.line("B-1", 1).making.as_ref().unwrap().open(), qty("1"));
    let more = shop.refused(record_made("B-1", 1, Some("2"), ""));
    assert_eq!(more.0, Reason::StockShort);
    assert_eq!(more.1, "only 1 of line 1 is still to be made, not 2");
    shop.stock("NUT", "1");
    shop.run(record_made("B-1", 1, None, ""));
    let none = shop.refused(record_made("B-1", 1, None, ""));
    assert_eq!(none.0, Reason::NothingToDo);
    assert_eq!(none.1, "nothing of line 1 is still to be made");
}

#[test]
fn free_stock_of_an_assembly_is_taken_before_any_is_made() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "3")], in_shop());
    shop.stock("LOOM", "1");
    shop.open("B-1", &[need("LOOM", "2")]);
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "0"]);
    assert_eq!(shop.line("B-1", 1).making.as_ref().unwrap().quantity, qty("1"));
    assert_eq!(shop.line("B-1", 2).required, qty("3"));
}

#[test]
fn a_later_change_of_the_list_changes_no_build_that_is_open() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "3")], in_shop());
    shop.open("B-1", &[need("LOOM", "1")]);
    let part = NewPart { components: components(&[("NUT", "9")]), made: in_shop(), ..part("LOOM") };
    shop.run(Command::UpdatePart { target: by("LOOM"), part, etag: "v1".into() });
    assert_eq!(shop.line("B-1", 2).required, qty("3"));
    shop.stock("RAW", "3");
    shop.run(record_made("B-1", 1, None, ""));
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "0"]);
}

#[test]
fn a_component_line_leaves_only_into_what_is_made_of_it() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "3")], in_shop());
    shop.stock("RAW", "3");
    shop.open("B-1", &[need("LOOM", "1")]);
    let lines = vec![LineQuantity { line: 2, quantity: None, lot: None, bin: None }];
    let issue = BindCommand::Issue { build: by("B-1"), lines, stage: None, occurred_on: None };
    let (reason, message) = shop.refused(Command::Bind(issue));
    assert_eq!(reason, Reason::MadeLine);
    assert!(message.contains("used up in making line 1"), "{message}");
    let (reason, message) = shop.refused(record_made("B-1", 2, None, ""));
    assert_eq!(reason, Reason::NotMade);
    assert_eq!(message, "line.line_number: line 2, part RAW, is not made for this build");
}

#[test]
fn what_is_made_for_stock_goes_free_and_serves_whoever_is_short() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "1")], in_shop());
    shop.stock("RAW", "5");
    shop.run(NewBuild { for_stock: true, ..NewBuild::of("S-1", &[need("LOOM", "3")]) }.create());
    shop.run(Command::Build(BuildCommand::Open { build: by("S-1"), occurred_on: None }));
    assert_eq!(shop.bound("S-1", 1), ["0", "0", "0"]);
    let said = shop.run(record_made("S-1", 1, Some("2"), ""));
    assert_eq!(said.last().unwrap(), "Made 2 of LOOM, into bin A2");
    assert_eq!(shop.free("LOOM"), "2");
    shop.quote("B-1", &[need("LOOM", "1")]);
    let said = shop.start("B-1");
    assert!(said.contains(&"Reserved 1 of LOOM for build B-1, stage Body".to_owned()), "{said:?}");
    assert!(shop.line("B-1", 1).making.is_none(), "nothing is made while stock is free");
}

#[test]
fn a_share_that_does_not_come_out_even_is_refused() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "0.001")], in_shop());
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("LOOM", "2")]);
    let (reason, message) = shop.refused(record_made("B-1", 1, Some("0.5"), ""));
    assert_eq!(reason, Reason::QuantityInvalid);
    assert_eq!(message, "0.5 of line 1 would take an uneven share of line 2");
}

#[test]
fn what_was_sent_out_comes_back_finished_with_its_lot() {
    let mut shop = shop();
    shop.part(NewPart { lot_tracked: true, ..part("ROUGH") });
    shop.finished("COATED", &[("ROUGH", "1")]);
    shop.stock_lot("ROUGH", "2", "C7", None);
    shop.open("B-1", &[need("COATED", "2")]);
    let wrong = shop.refused(record_made("B-1", 1, None, ""));
    assert_eq!(wrong, (Reason::NotMade, "line.line_number: line 1 is finished by BEINN".into()));
    let said = shop.run(send_out(1, None, Some(date(2026, 9, 24))));
    assert_eq!(
        said,
        [
            "Sent out 2 of ROUGH (lot C7) from bin A1 for build B-1, stage Body",
            "With BEINN: 2 of COATED for build B-1, stage Body, promised back 2026-09-24",
        ]
    );
    assert_eq!(shop.in_bin("ROUGH", "A1"), ("0".into(), "0".into()));
    let early = shop.refused(send_out(1, None, Some(date(2026, 9, 1))));
    assert_eq!(early.0, Reason::DateInvalid);
    let again = shop.refused(send_out(1, None, None));
    assert_eq!(again, (Reason::NothingToDo, "nothing of line 1 is here to be sent out".into()));
    let later = MakeCommand::PromiseBack {
        build: by("B-1"),
        line: 1,
        promised_on: Some(date(2026, 9, 28)),
        occurred_on: None,
    };
    let said = shop.run(Command::Make(later));
    assert_eq!(said, ["Promised back for 2026-09-28: 2 of COATED for build B-1, stage Body"]);
    let said = shop.run(came_back(1, Some("1"), ""));
    assert_eq!(
        said,
        [
            "Came back finished: 1 of COATED, into bin A2",
            "Reserved 1 of COATED for build B-1, stage Body",
        ]
    );
    let making = shop.line("B-1", 1).making.clone().unwrap();
    assert_eq!((making.done, making.out, making.back_on), (qty("1"), qty("1"), None));
    assert_eq!(making.out_stock[0].0.lot.0, "C7");
    shop.run(came_back(1, None, ""));
    let making = shop.line("B-1", 1).making.clone().unwrap();
    assert_eq!((making.out, making.out_stock.len()), (Quantity::ZERO, 0));
    assert_eq!(making.back_on, Some(TODAY));
    let none = shop.refused(came_back(1, None, ""));
    assert_eq!(none, (Reason::NothingToDo, "nothing of line 1 is with the finisher".into()));
}

#[test]
fn a_lot_tracked_product_needs_its_lot_when_it_comes_back() {
    let mut shop = shop();
    let made = NewMade::AtFinisher { supplier: by("BEINN"), quoted_days: None };
    let components = components(&[("RAW", "1")]);
    shop.part(NewPart { lot_tracked: true, components, made, ..part("COATED") });
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("COATED", "1")]);
    shop.run(send_out(1, None, None));
    assert_eq!(shop.refused(came_back(1, None, "")).0, Reason::LotNeeded);
    let said = shop.run(came_back(1, None, "batch 9"));
    assert_eq!(said[1], "Reserved 1 of COATED (lot BATCH 9) for build B-1, stage Body");
}

/// The finisher delivers although the build is over: the goods are ours and free.
#[test]
fn a_cancelled_build_says_what_is_outside_and_it_comes_back_free() {
    let mut shop = shop();
    shop.finished("COATED", &[("RAW", "1")]);
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("COATED", "1")]);
    shop.run(send_out(1, None, None));
    let said = shop.run(Command::Build(BuildCommand::Cancel {
        build: by("B-1"),
        reason: "the customer went away".into(),
        occurred_on: None,
    }));
    let last = said.last().unwrap();
    assert_eq!(last, "Still with the finisher: 1 of COATED; it comes back into free stock");
    shop.run(came_back(1, None, ""));
    assert_eq!(shop.free("COATED"), "1");
    assert_eq!(shop.refused(record_made("B-1", 1, None, "")).0, Reason::NotMade);
}

/// A component that was ordered for its line, then used from free stock: the order stays nobody's.
#[test]
fn making_from_free_stock_gives_the_components_kept_peg_back() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "2")], in_shop());
    shop.open("B-1", &[need("LOOM", "1")]);
    shop.order("PO-1", "CORRIE", &[order_line("RAW", "2", Some(("B-1", 2)))]);
    assert_eq!(shop.bound("B-1", 2), ["0", "2", "0"]);
    shop.stock("RAW", "2");
    shop.run(record_made("B-1", 1, None, ""));
    assert_eq!(shop.bound("B-1", 2), ["0", "0", "0"]);
}

#[test]
fn assemblies_within_assemblies_and_kits_within_them_are_planned_at_every_depth() {
    let mut shop = shop();
    shop.made("LOOM", &[("RAW", "2")], in_shop());
    shop.part(NewPart { components: components(&[("NUT", "4"), ("BAR", "1")]), ..part("KIT") });
    shop.made("BATTERY", &[("LOOM", "1"), ("KIT", "2")], in_shop());
    shop.open("B-1", &[need("BATTERY", "1")]);
    let build = shop.book.find_build(&by("B-1")).unwrap().id;
    let lines: Vec<_> = shop
        .book
        .lines_of(build)
        .into_iter()
        .map(|line| {
            let part = shop.book.part_number(line.part).to_owned();
            (line.number, part, line.required.to_string(), line.made_for, line.kit_line)
        })
        .collect();
    let row = |number, part: &str, required: &str, made_for, kit_line| {
        (number, part.to_owned(), required.to_owned(), made_for, kit_line)
    };
    assert_eq!(
        lines,
        [
            row(1, "BATTERY", "1", 0, 0),
            row(2, "LOOM", "1", 1, 0),
            row(3, "KIT", "2", 1, 0),
            row(4, "RAW", "2", 2, 0),
            row(5, "NUT", "8", 1, 3),
            row(6, "BAR", "2", 1, 3),
        ]
    );
    for (part, quantity) in [("RAW", "2"), ("NUT", "8"), ("BAR", "2")] {
        shop.stock(part, quantity);
    }
    assert_eq!(shop.refused(record_made("B-1", 1, None, "")).0, Reason::StockShort);
    shop.run(record_made("B-1", 2, None, ""));
    shop.run(record_made("B-1", 1, None, ""));
    assert_eq!(shop.bound("B-1", 1), ["1", "0", "0"]);
    assert_eq!(
        (shop.free("RAW"), shop.free("NUT"), shop.free("LOOM")),
        ("0".into(), "0".into(), "0".into())
    );
}
