//! Reserved parts go to the staging bin, line by line.

use super::*;
use crate::command::{BindCommand, LineQuantity, PickedLine};

fn picked(line: i32, picked: &str, missing: &str) -> PickedLine {
    let (picked, missing) = (qty(picked), qty(missing));
    PickedLine { line, bin: by("A1"), lot: String::new(), picked, missing }
}

fn pick(build: &str, lines: &[PickedLine]) -> Command {
    let (build, lines) = (by(build), lines.to_vec());
    Command::Bind(BindCommand::Pick { build, lines, occurred_on: None })
}

fn issue(build: &str, quantity: &str) -> Command {
    let quantity = Some(qty(quantity));
    let lines = vec![LineQuantity { line: 1, quantity, lot: None, bin: None }];
    let (build, stage) = (by(build), None);
    Command::Bind(BindCommand::Issue { build, lines, stage, occurred_on: None })
}

#[test]
fn what_was_picked_waits_in_the_staging_bin_and_is_issued_from_there_first() {
    let mut shop = shop();
    shop.stock("RAW", "9");
    shop.open("B-1", &[need("RAW", "4")]);
    let said = shop.run(pick("B-1", &[picked(1, "3", "0")]));
    assert_eq!(said, ["Picked 3 of RAW from bin A1 into S1 for build B-1, stage Body"]);
    assert_eq!(shop.in_bin("RAW", "S1").0, "3");
    assert_eq!(shop.bound("B-1", 1), ["4", "0", "0"], "picking reserves nothing more or less");
    let more = shop.refused(pick("B-1", &[picked(1, "2", "0")]));
    assert_eq!(more.0, Reason::StockShort);
    let text = "lines[0].picked: only 1 of line 1 is reserved and still to be picked, not 2";
    assert_eq!(more.1, text);
    let said = shop.run(issue("B-1", "4"));
    assert_eq!(
        said,
        [
            "Issued 3 of RAW from bin S1 for build B-1, stage Body",
            "Issued 1 of RAW from bin A1 for build B-1, stage Body",
        ]
    );
}

#[test]
fn what_is_not_there_is_variance_and_the_line_is_short() {
    let mut shop = shop();
    shop.stock("RAW", "4");
    shop.open("B-1", &[need("RAW", "4")]);
    let said = shop.run(pick("B-1", &[picked(1, "3", "1")]));
    assert_eq!(
        said,
        [
            "1 of RAW no longer reserved for build B-1, stage Body: the stock under it is gone",
            "1 of RAW not found in bin A1: variance",
            "Picked 3 of RAW from bin A1 into S1 for build B-1, stage Body",
            "Short of 1 of RAW for build B-1, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1", 1), ["3", "0", "1"]);
    assert_eq!((shop.in_bin("RAW", "A1").0, shop.in_bin("RAW", "S1").0), ("0".into(), "3".into()));
}

#[test]
fn what_is_not_there_is_bound_anew_where_something_is_on_order() {
    let mut shop = shop();
    shop.stock("RAW", "2");
    shop.open("B-1", &[need("RAW", "2")]);
    shop.order("PO-1", "CORRIE", &[order_line("RAW", "5", None)]);
    let said = shop.run(pick("B-1", &[picked(1, "0", "2")]));
    let last = said.last().unwrap();
    assert_eq!(last, "Pegged 2 of RAW to order PO-1 line 1 for build B-1, stage Body");
    assert_eq!(shop.bound("B-1", 1), ["0", "2", "0"]);
}

/// Two lines of one part, and another build with the same staging bin, do not get in each other's way.
#[test]
fn lines_of_one_part_are_picked_one_after_the_other() {
    let mut shop = shop();
    shop.stock("RAW", "9");
    let electrical = NewLine { stage: "Electrical".into(), ..need("RAW", "3") };
    shop.open("B-1", &[need("RAW", "2"), electrical]);
    shop.open("B-2", &[need("RAW", "2")]);
    shop.run(pick("B-1", &[picked(1, "2", "0")]));
    shop.run(pick("B-1", &[picked(2, "3", "0")]));
    shop.run(pick("B-2", &[picked(1, "2", "0")]));
    assert_eq!(shop.in_bin("RAW", "S1").0, "7");
    assert_eq!(shop.refused(pick("B-2", &[picked(1, "1", "0")])).0, Reason::StockShort);
}

#[test]
fn what_cannot_be_picked_is_refused_with_its_reason() {
    let mut shop = shop();
    shop.part(NewPart { components: components(&[("RAW", "1")]), ..part("KIT") });
    shop.stock("RAW", "2");
    shop.open("B-1", &[need("RAW", "2"), need("KIT", "1")]);
    assert_eq!(shop.refused(pick("B-1", &[picked(1, "3", "0")])).0, Reason::StockShort);
    assert_eq!(shop.refused(pick("B-1", &[picked(1, "0", "0")])).0, Reason::FieldMissing);
    assert_eq!(shop.refused(pick("B-1", &[picked(2, "1", "0")])).0, Reason::KitNotStocked);
    assert_eq!(shop.refused(pick("B-1", &[])).0, Reason::FieldMissing);
    shop.quote("B-2", &[need("RAW", "1")]);
    assert_eq!(shop.refused(pick("B-2", &[picked(1, "1", "0")])).0, Reason::BuildState);
    let fields = BuildFields {
        vehicle: "van".into(),
        customer: String::new(),
        priority: 100,
        planned_start: None,
        required_by: None,
        staging_bin: None,
    };
    let version = shop.book.find_build(&by("B-1")).unwrap().version;
    let (build, etag) = (by("B-1"), format!("v{version}"));
    shop.run(Command::Build(BuildCommand::Update { build, fields, etag }));
    let (reason, message) = shop.refused(pick("B-1", &[picked(1, "1", "0")]));
    assert_eq!(reason, Reason::BinUnknown);
    assert_eq!(message, "build: build B-1 has no staging bin: set one first");
}

#[test]
fn a_line_that_was_reserved_twice_is_picked_once() {
    let mut shop = shop();
    shop.stock("RAW", "1");
    shop.open("B-1", &[need("RAW", "3")]);
    shop.stock("RAW", "2");
    assert_eq!(shop.bound("B-1", 1), ["3", "0", "0"]);
    let build = shop.book.find_build(&by("B-1")).unwrap();
    let reserved = shop.book.reservations_of(shop.book.find_line(build, 1).unwrap().id).count();
    assert_eq!(reserved, 2, "the case is one line and two reservations");
    let list = crate::plan::pick_list(&shop.book, build, None);
    let listed: Vec<String> = list.iter().map(|row| row.quantity.to_string()).collect();
    assert_eq!(listed, ["3"]);
    shop.run(pick("B-1", &[picked(1, "3", "0")]));
    assert_eq!(shop.in_bin("RAW", "S1").0, "3");
}
