//! What misled people in a week of work, each as somebody saw it.

use super::*;

fn place(order: &str, unneeded_too: bool) -> Command {
    let (order, occurred_on) = (by(order), None);
    Command::Order(OrderCommand::Place { order, occurred_on, unneeded_too })
}

fn draft_for(shop: &mut Shop, order: &str, build: &str) {
    shop.run(Command::Order(OrderCommand::Create {
        number: number(order),
        supplier: by("CORRIE"),
        lines: vec![order_line("RAW", 2, Some((build, 1)))],
        placed_on: None,
    }));
}

fn cancelled(shop: &mut Shop, build: &str) {
    let (build, reason) = (by(build), "the customer withdrew".to_owned());
    shop.build(BuildCommand::Cancel { build, reason, occurred_on: None });
}

#[test]
fn a_draft_that_nobody_needs_any_more_is_not_bought_in_silence() {
    let mut shop = shop();
    for build in ["B-1", "B-2"] {
        shop.open(build, &[need("RAW", "2")]);
    }
    draft_for(&mut shop, "P-1", "B-1");
    cancelled(&mut shop, "B-1");
    // Another build lacks the part: it is bought for that one.
    shop.run(place("P-1", false));
    assert_eq!(shop.pegged_to("B-2", 1, "P-1"), "2");

    draft_for(&mut shop, "P-2", "B-2");
    let refused = shop.refused(place("P-2", false));
    assert_eq!(refused.0, Reason::NotNeeded);
    assert_eq!(
        refused.1,
        "order P-2: line 1, 2 of RAW, is for build B-2, which lacks it no more, and nobody else lacks it"
    );
    cancelled(&mut shop, "B-2");
    let refused = shop.refused(place("P-2", false));
    assert!(refused.1.contains("build B-2, which is cancelled"), "{}", refused.1);
    // Somebody wants it all the same.
    shop.run(place("P-2", true));
    // One that was made for nobody is what somebody wanted.
    shop.run(Command::Order(OrderCommand::Create {
        number: number("P-3"),
        supplier: by("CORRIE"),
        lines: vec![order_line("RAW", 2, None)],
        placed_on: None,
    }));
    shop.run(place("P-3", false));
}

#[test]
fn a_promise_of_a_day_before_the_answer_is_refused() {
    let mut shop = shop();
    order(&mut shop, "P-1", "CORRIE", order_line("RAW", 2, None));
    shop.today = date(2026, 10, 1);
    let answer = |promised_on| {
        Command::Order(OrderCommand::Acknowledge {
            order: by("P-1"),
            supplier_reference: String::new(),
            promises: vec![(1, Some(promised_on))],
            occurred_on: None,
        })
    };
    let refused = shop.refused(answer(date(2026, 9, 30)));
    assert_eq!(refused.0, Reason::DateInvalid);
    assert_eq!(
        refused.1,
        "promises[0].promised_on: 2026-09-30 is before 2026-10-01, the day of the answer: check the \
         month and the year"
    );
    shop.run(answer(date(2026, 10, 1)));
}

#[test]
fn more_vehicles_than_bays_are_said() {
    let mut shop = shop();
    shop.book.settings.as_mut().unwrap().bays = 2;
    let mut said = Vec::new();
    for build in ["B-1", "B-2", "B-3"] {
        shop.open(build, &[need("RAW", "1")]);
        let put = BuildCommand::PutInBay { build: by(build), occurred_on: None };
        said.push(shop.run(Command::Build(put)));
    }
    let taken = "B-1, B-2 stand in the 2 bays already";
    let says = |said: &Vec<String>| said.iter().any(|text| text == taken);
    assert_eq!(said.iter().map(says).collect::<Vec<_>>(), [false, false, true], "{said:?}");
}

#[test]
fn what_a_finished_stage_still_lacks_is_said() {
    let mut shop = shop();
    shop.stock("NUT", "1");
    shop.open("B-1", &[need("RAW", "1"), need("NUT", "1")]);
    shop.build(BuildCommand::PutInBay { build: by("B-1"), occurred_on: None });
    let (build, stage) = (by("B-1"), "Body".to_owned());
    let begin = BuildCommand::BeginStage { build, stage, occurred_on: None };
    shop.run(Command::Build(begin));
    let (build, stage) = (by("B-1"), "Body".to_owned());
    let said =
        shop.run(Command::Build(BuildCommand::FinishStage { build, stage, occurred_on: None }));
    let lacks = "Stage Body is done without RAW: the handover waits for that. Where it is not to be fitted \
                 any more, take it off the build";
    assert!(said.iter().any(|text| text == lacks), "{said:?}");
}

#[test]
fn a_day_on_which_nothing_can_happen_is_said() {
    let mut shop = shop();
    order(&mut shop, "P-1", "CORRIE", order_line("RAW", 2, None));
    let answer = |promised_on| {
        Command::Order(OrderCommand::Acknowledge {
            order: by("P-1"),
            supplier_reference: String::new(),
            promises: vec![(1, Some(promised_on))],
            occurred_on: None,
        })
    };
    let sunday = date(2026, 9, 20);
    let said = shop.run(answer(sunday));
    let closed = "Sun 2026-09-20 is no working day of the shop; the next is Mon 2026-09-21";
    assert!(said.iter().any(|text| text == closed), "{said:?}");
    let said = shop.run(answer(date(2026, 9, 21)));
    assert!(!said.iter().any(|text| text.contains("working day")), "{said:?}");
    let (first_day, last_day) = (date(2026, 10, 12), date(2026, 10, 16));
    let closures = [(None, "Harvest week"), (Some(by("CORRIE")), "")];
    let closure = |(supplier, name): (Option<crate::refs::Ref>, &str)| {
        let name = name.to_owned();
        crate::command::NewClosure { supplier, first_day, last_day, name }
    };
    shop.run(Command::AddClosures { closures: closures.map(closure).into() });
    let said = shop.run(answer(date(2026, 10, 14)));
    for text in [
        "Wed 2026-10-14 is no working day of the shop (Harvest week); the next is Mon 2026-10-19",
        "CORRIE is closed on Wed 2026-10-14: check the date with them",
    ] {
        assert!(said.iter().any(|said| said == text), "{text}: {said:?}");
    }
    shop.open("B-1", &[need("RAW", "1")]);
    let said = shop.run(Command::Build(BuildCommand::PromiseDelivery {
        build: by("B-1"),
        delivery_on: sunday,
        note: String::new(),
        occurred_on: None,
    }));
    assert!(said.iter().any(|text| text == closed), "{said:?}");
}
