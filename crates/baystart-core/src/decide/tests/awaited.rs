//! The vehicle, a customer's part, a paper.

use super::*;
use crate::book::model::AwaitedKind;
use crate::command::NewAwaited;

fn thing(kind: AwaitedKind, name: &str) -> NewAwaited {
    NewAwaited {
        kind,
        name: name.to_owned(),
        identification: String::new(),
        source: String::new(),
        stage: None,
        line: None,
        asked_on: Some(date(2026, 9, 1)),
        quoted_days: None,
        expected_on: None,
    }
}

fn vehicle() -> NewAwaited {
    NewAwaited { stage: Some("Body".into()), ..thing(AwaitedKind::Vehicle, "hill rescue van") }
}

fn await_all(items: &[NewAwaited]) -> Command {
    Command::Build(BuildCommand::AddAwaited { build: by("B-1"), items: items.to_vec() })
}

fn receive(item: i32, bin: Option<&str>, identification: Option<&str>) -> Command {
    Command::Build(BuildCommand::ReceiveAwaited {
        build: by("B-1"),
        item,
        bin: bin.map(by),
        lot: String::new(),
        identification: identification.map(str::to_owned),
        occurred_on: None,
    })
}

fn expect(item: i32, expected_on: Option<Date>, identification: Option<&str>) -> Command {
    Command::Build(BuildCommand::ExpectAwaited {
        build: by("B-1"),
        item,
        expected_on,
        identification: identification.map(str::to_owned),
        occurred_on: None,
    })
}

#[test]
fn a_vehicle_is_awaited_moved_and_comes_with_its_number() {
    let mut shop = shop();
    shop.open::<NewLine>("B-1", &[]);
    let first = NewAwaited { expected_on: Some(date(2026, 9, 20)), ..vehicle() };
    let said = shop.run(await_all(&[first]));
    assert_eq!(
        said,
        [
            "Awaited: vehicle hill rescue van, expected 2026-09-20",
            "Sun 2026-09-20 is no working day of the shop; the next is Mon 2026-09-21"
        ]
    );
    let again = shop.refused(await_all(&[vehicle()]));
    let text = "items[0].kind: build B-1 has its vehicle already";
    assert_eq!(again, (Reason::DuplicateLine, text.into()));
    let said = shop.run(expect(1, Some(date(2026, 9, 28)), None));
    assert_eq!(said, ["vehicle hill rescue van: moved from 2026-09-20 to 2026-09-28"]);
    let said = shop.run(expect(1, Some(date(2026, 9, 28)), None));
    assert_eq!(said, ["vehicle hill rescue van: still expected 2026-09-28"]);
    let said = shop.run(receive(1, None, Some("gln4t0rr1n2026042")));
    assert_eq!(said, ["Here since 2026-09-14: vehicle hill rescue van"]);
    let row = shop.book.awaited.values().next().unwrap();
    assert_eq!(row.identification, "GLN4T0RR1N2026042");
    assert_eq!(row.promises.len(), 3, "every revision is kept");
    let twice = shop.refused(receive(1, None, None));
    let text = "vehicle 1, hill rescue van, came on 2026-09-14";
    assert_eq!(twice, (Reason::AwaitedState, text.into()));
}

/// 17 characters without I, O and Q: ISO 3779.
#[test]
fn an_identification_number_that_no_vehicle_has_is_refused() {
    let mut shop = shop();
    shop.open::<NewLine>("B-1", &[]);
    shop.run(await_all(&[vehicle()]));
    for wrong in ["GLN4TORR1N2026042", "GLN4T0RR1N20260423", "GLN-4"] {
        let (reason, message) = shop.refused(expect(1, None, Some(wrong)));
        assert_eq!(reason, Reason::ValueInvalid, "{message}");
        assert!(message.contains(wrong), "{message}");
    }
    // A trailer or an old vehicle has a shorter one.
    let said = shop.run(expect(1, None, Some("td 901".replace(' ', "").as_str())));
    assert_eq!(said, ["vehicle hill rescue van: identification TD901"]);
}

#[test]
fn a_customers_part_goes_into_a_bin_and_is_reserved_for_its_line() {
    let mut shop = shop();
    shop.stock("RAW", "5");
    let brought = NewLine { customer_supplied: true, ..need("RAW", "2") };
    shop.open("B-1", &[brought, need("NUT", "1")]);
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "2"], "the shop's own stock is not for it");
    let part = |line| NewAwaited { line: Some(line), ..thing(AwaitedKind::CustomerPart, "winch") };
    let no_line = shop.refused(await_all(&[thing(AwaitedKind::CustomerPart, "winch")]));
    assert_eq!(no_line.0, Reason::FieldMissing);
    let other = shop.refused(await_all(&[part(2)]));
    let text = "items[0].line_number: line 2 is not marked as brought by the customer";
    assert_eq!(other, (Reason::ValueInvalid, text.into()));
    shop.run(await_all(&[part(1)]));
    assert_eq!(shop.refused(await_all(&[part(1)])).0, Reason::DuplicateLine);
    assert_eq!(shop.refused(receive(1, None, None)).0, Reason::FieldMissing);
    let said = shop.run(receive(1, Some("A2"), None));
    assert_eq!(
        said,
        [
            "Here since 2026-09-14: customer's part winch",
            "Received 2 of RAW from the customer into bin A2",
            "Reserved 2 of RAW for build B-1, stage Body",
        ]
    );
    assert_eq!(shop.bound("B-1", 1), ["2", "0", "0"]);
    assert_eq!(shop.free("RAW"), "5");
    let said = shop.run(Command::Build(BuildCommand::Cancel {
        build: by("B-1"),
        reason: "withdrawn".into(),
        occurred_on: None,
    }));
    let text =
        "2 of RAW is the customer's and counts as free stock now: give it back and book it out";
    assert!(said.iter().any(|line| line == text), "{said:?}");
}

#[test]
fn what_the_customer_brings_is_not_ordered_and_is_neither_kit_nor_made() {
    let mut shop = shop();
    shop.finished("COATED", &[("RAW", "1")]);
    let brought = |part: &str| NewLine { customer_supplied: true, ..need(part, "1") };
    shop.open("B-1", &[brought("RAW")]);
    let (reason, message) =
        shop.refused(create_order("PO-1", &[order_line("RAW", "1", Some(("B-1", 1)))]));
    assert_eq!(reason, Reason::ValueInvalid);
    assert_eq!(message, "lines[0].for_line: line 1 is brought by the customer, not ordered");
    shop.order("PO-1", "CORRIE", &[order_line("RAW", "1", None)]);
    assert_eq!(shop.bound("B-1", 1), ["0", "0", "1"]);
    let lines = vec![brought("COATED")];
    let add = BuildCommand::AddLines { build: by("B-1"), lines };
    assert_eq!(shop.refused(Command::Build(add)).0, Reason::ValueInvalid);
}

#[test]
fn a_paper_gates_handover_until_it_comes_or_is_given_up() {
    let mut shop = shop();
    shop.open::<NewLine>("B-1", &[]);
    let said = shop.run(await_all(&[thing(AwaitedKind::Paper, "mass approval")]));
    assert_eq!(said, ["Awaited: paper mass approval, no date yet"]);
    let bin = shop.refused(receive(1, Some("A1"), None));
    assert_eq!(bin, (Reason::ValueInvalid, "bin: a paper goes into no bin".into()));
    let drop = |reason: &str| {
        let (build, item, reason) = (by("B-1"), 1, reason.to_owned());
        Command::Build(BuildCommand::DropAwaited { build, item, reason, occurred_on: None })
    };
    assert_eq!(shop.refused(drop("")).0, Reason::FieldMissing);
    let said = shop.run(drop("it stays under the limit"));
    assert_eq!(said, ["No longer awaited: paper mass approval: it stays under the limit"]);
    let (reason, message) = shop.refused(expect(1, Some(date(2026, 10, 1)), None));
    assert_eq!(reason, Reason::AwaitedState);
    assert_eq!(message, "paper 1, mass approval, was given up on 2026-09-14");
    let unknown = shop.refused(drop("no"));
    assert_eq!(unknown.0, Reason::AwaitedState);
    let none = shop.refused(expect(9, Some(date(2026, 10, 1)), None));
    let text = "item_number: build B-1 awaits nothing of number 9";
    assert_eq!(none, (Reason::AwaitedUnknown, text.into()));
}

#[test]
fn dates_that_cannot_be_are_refused() {
    let mut shop = shop();
    shop.open::<NewLine>("B-1", &[]);
    let early = NewAwaited { expected_on: Some(date(2026, 8, 1)), ..vehicle() };
    assert_eq!(shop.refused(await_all(&[early])).0, Reason::DateInvalid);
    let late = NewAwaited { asked_on: Some(date(2026, 10, 1)), ..vehicle() };
    assert_eq!(shop.refused(await_all(&[late])).0, Reason::DateInFuture);
    let nowhere = NewAwaited { stage: None, ..vehicle() };
    assert_eq!(shop.refused(await_all(&[nowhere])).0, Reason::FieldMissing);
    shop.run(await_all(&[vehicle()]));
    assert_eq!(shop.refused(expect(1, Some(date(2026, 8, 1)), None)).0, Reason::DateInvalid);
    assert_eq!(shop.refused(expect(1, None, None)).0, Reason::FieldMissing);
}
