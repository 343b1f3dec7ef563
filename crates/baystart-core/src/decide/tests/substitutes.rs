//! Another part for one line.

use super::*;
use crate::command::{BindCommand, LineQuantity};

fn substitute(line: i32, part: &str) -> Command {
    Command::Build(BuildCommand::Substitute {
        build: by("B-1"),
        line,
        part: by(part),
        approved_by: "Moira Skene".into(),
        reason: "the other is sold out".into(),
        occurred_on: None,
    })
}

#[test]
fn a_substitute_gives_back_what_the_line_held_and_takes_its_own() {
    let mut shop = shop();
    shop.stock("RAW", "1");
    shop.stock("NUT", "1");
    shop.order("PO-1", "CORRIE", &[order_line("RAW", "1", None)]);
    shop.open("B-1", &[need("RAW", "2")]);
    assert_eq!(shop.bound("B-1", 1), ["1", "1", "0"]);
    let said = shop.run(substitute(1, "NUT"));
    assert_eq!(
        said,
        [
            "1 of RAW no longer pegged to order PO-1 line 1 for build B-1, stage Body: another part \
             takes its place",
            "Gave back 1 of RAW reserved for build B-1, stage Body: another part takes its place",
            "Line 1 takes NUT instead of RAW, accepted by Moira Skene: the other is sold out",
            "Reserved 1 of NUT for build B-1, stage Body",
            "Short of 1 of NUT for build B-1, stage Body",
        ]
    );
    let row = shop.line("B-1", 1).substituted.clone().unwrap();
    assert_eq!(shop.book.part_number(row.instead_of), "RAW");
    assert_eq!((row.approved_by.as_str(), row.on), ("Moira Skene", TODAY));
    assert_eq!(shop.free("RAW"), "1");
    // Back to what was first asked for: no substitute any more.
    shop.run(substitute(1, "RAW"));
    assert_eq!(shop.line("B-1", 1).substituted, None);
}

#[test]
fn a_safety_related_part_needs_a_name_and_carries_the_caution() {
    let mut shop = shop();
    shop.part(NewPart { safety_related: true, ..part("TOW") });
    shop.open("B-1", &[need("TOW", "1")]);
    let unnamed = Command::Build(BuildCommand::Substitute {
        build: by("B-1"),
        line: 1,
        part: by("RAW"),
        approved_by: " ".into(),
        reason: "at hand".into(),
        occurred_on: None,
    });
    let (reason, message) = shop.refused(unnamed);
    assert_eq!((reason, message.as_str()), (Reason::FieldMissing, "approved_by: is needed"));
    let said = shop.run(substitute(1, "RAW"));
    assert_eq!(
        said[1],
        "Caution, TOW and RAW: safety related. Whether it may be fitted is for the local code and a \
         licensed engineer or certifier to say; Baystart decides dates, not fitness"
    );
}

#[test]
fn a_finish_made_to_order_stands_for_no_other() {
    let mut shop = shop();
    for (text, finish, made_to_order) in [
        ("RED", "red", true),
        ("BLACK", "black", true),
        ("GREY", "grey", false),
        ("GREEN", "green", false),
    ] {
        let (family, finish) = ("BUMPER".to_owned(), finish.to_owned());
        shop.part(NewPart { family, finish, made_to_order, ..part(text) });
    }
    shop.open("B-1", &[need("RED", "1"), need("GREY", "1")]);
    let (reason, message) = shop.refused(substitute(1, "BLACK"));
    assert_eq!(reason, Reason::FinishDiffers);
    assert_eq!(
        message,
        "part: part BLACK is finished \"black\", part RED \"red\": a finish made to order stands for \
         no other"
    );
    assert_eq!(shop.refused(substitute(2, "RED")).0, Reason::FinishDiffers);
    shop.run(substitute(2, "GREEN"));
}

#[test]
fn what_is_no_substitute_is_refused_with_its_reason() {
    let mut shop = shop();
    let metre = Unit::parse("MTR").unwrap();
    shop.part(NewPart { unit: metre, ..part("CABLE") });
    shop.part(NewPart { components: components(&[("RAW", "1")]), ..part("KIT") });
    shop.stock("RAW", "1");
    let brought = NewLine { customer_supplied: true, ..need("NUT", "1") };
    shop.open("B-1", &[need("RAW", "1"), need("KIT", "1"), brought]);
    assert_eq!(shop.refused(substitute(1, "RAW")).0, Reason::NothingToDo);
    assert_eq!(shop.refused(substitute(1, "CABLE")).0, Reason::UnitMismatch);
    assert_eq!(shop.refused(substitute(2, "NUT")).0, Reason::KitNotStocked);
    assert_eq!(shop.refused(substitute(3, "KIT")).0, Reason::ValueInvalid);
    let lines = vec![LineQuantity { line: 1, quantity: None, lot: None, bin: None }];
    let (build, occurred_on) = (by("B-1"), None);
    shop.run(Command::Bind(BindCommand::Issue { build, lines, stage: None, occurred_on }));
    let (reason, message) = shop.refused(substitute(1, "NUT"));
    assert_eq!(reason, Reason::LineIssued);
    assert_eq!(message, "1 of RAW were issued to line 1 already: return them first");
}

/// A kit in its place asks for its components at once, and they take what is free.
#[test]
fn a_kit_or_an_assembly_in_its_place_is_needed_in_pieces() {
    let mut shop = shop();
    shop.part(NewPart { components: components(&[("NUT", "2"), ("BAR", "1")]), ..part("KIT") });
    shop.stock("NUT", "5");
    shop.open("B-1", &[need("RAW", "1")]);
    let said = shop.run(substitute(1, "KIT"));
    assert_eq!(
        said[1..],
        [
            "Kit KIT stands for 2 lines for build B-1, stage Body".to_owned(),
            "Reserved 2 of NUT for build B-1, stage Body".to_owned(),
            "Short of 1 of BAR for build B-1, stage Body".to_owned(),
        ]
    );
}

/// A draft for the line's old part is placed later: it serves whoever needs that part.
#[test]
fn what_was_drafted_for_the_old_part_does_not_serve_the_line() {
    let mut shop = shop();
    shop.open("B-1", &[need("RAW", "1")]);
    shop.run(Command::Order(OrderCommand::Create {
        number: number("PO-1"),
        supplier: by("CORRIE"),
        lines: vec![order_line("RAW", "1", Some(("B-1", 1)))],
        placed_on: None,
    }));
    shop.run(substitute(1, "NUT"));
    let place = |unneeded_too| {
        let (order, occurred_on) = (by("PO-1"), None);
        Command::Order(OrderCommand::Place { order, occurred_on, unneeded_too })
    };
    assert_eq!(shop.refused(place(false)).0, Reason::NotNeeded);
    shop.run(place(true));
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "1"]);
    shop.receive("PO-1", &[receipt(1, None)]);
    assert_eq!(shop.free("RAW"), "1");
}
