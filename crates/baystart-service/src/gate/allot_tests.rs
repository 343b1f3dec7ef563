//! The rules of the allotter, by hand and on random steps.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use proptest::prelude::*;
use std::collections::BTreeMap;

const DAY_MS: u64 = 86_400_000;

fn many(places: u64) -> Rule {
    Rule {
        places,
        ample: places * 3 / 4,
        spare_for_ms: DAY_MS,
        wanted_for_ms: 0,
        waiting_max: 1000,
    }
}

fn pair() -> Rule {
    Rule { places: 2, ample: 0, spare_for_ms: 0, wanted_for_ms: 5_000, waiting_max: 8 }
}

fn of(shop: u128, token: u128) -> Holder {
    Holder { shop, token }
}

/// How many places a holder gets at once.
fn taken(allotter: &mut Allotter, who: Holder) -> u64 {
    let mut count = 0;
    while allotter.ask(who, 1, 0) == Told::Granted {
        count += 1;
    }
    count
}

#[test]
fn one_shop_with_one_token_gets_every_place() {
    let mut places = Allotter::new(many(512));
    assert_eq!(taken(&mut places, of(1, 1)), 512);
}

#[test]
fn of_several_shops_none_takes_what_the_others_need() {
    let mut places = Allotter::new(many(512));
    places.note(of(2, 2), 0);
    assert_eq!(taken(&mut places, of(1, 1)), 384, "three quarters, and then only its share");
    assert_eq!(taken(&mut places, of(2, 2)), 128, "what is left is below the share of 256");
}

#[test]
fn of_several_tokens_of_a_shop_none_takes_what_the_others_need() {
    let mut places = Allotter::new(many(512));
    places.note(of(1, 7), 0);
    assert_eq!(taken(&mut places, of(1, 1)), 384);
    assert_eq!(taken(&mut places, of(1, 7)), 128);
}

#[test]
fn a_place_that_is_free_again_goes_to_the_shop_that_holds_less() {
    let mut places = Allotter::new(many(8));
    assert_eq!(taken(&mut places, of(1, 1)), 8);
    let Told::Waits(first) = places.ask(of(1, 1), 1, 0) else { panic!("not waiting") };
    let Told::Waits(other) = places.ask(of(2, 2), 1, 0) else { panic!("not waiting") };
    assert_eq!(places.release(of(1, 1), 1, 0), [other]);
    // Seven of eight are the first shop's: more than its half.
    assert!(places.give_up(of(1, 1), first, false, 0).is_empty());
}

#[test]
fn of_two_places_one_shop_has_both_only_while_no_other_waits() {
    let mut places = Allotter::new(pair());
    assert_eq!(places.ask(of(1, 1), 1, 0), Told::Granted);
    assert_eq!(places.ask(of(1, 1), 1, 0), Told::Granted);
    let Told::Waits(other) = places.ask(of(2, 2), 1, 0) else { panic!("not waiting") };
    let Told::Waits(again) = places.ask(of(1, 1), 1, 0) else { panic!("not waiting") };
    assert_eq!(places.release(of(1, 1), 1, 0), [other]);
    assert_eq!(places.release(of(2, 2), 1, 0), [again], "nobody else waits any more");
}

#[test]
fn who_waited_in_vain_is_first_when_it_comes_again() {
    let mut places = Allotter::new(pair());
    taken(&mut places, of(1, 1));
    let Told::Waits(ticket) = places.ask(of(2, 2), 1, 0) else { panic!("not waiting") };
    places.give_up(of(2, 2), ticket, true, 100);
    // One more of the first shop waited already: it does not get the place now.
    assert!(places.release(of(1, 1), 1, 200).is_empty());
    assert_eq!(places.ask(of(2, 2), 1, 300), Told::Granted);
    assert_eq!(places.release(of(2, 2), 1, 10_000).len(), 1, "its time is over");
}

#[test]
fn a_message_larger_than_a_share_is_taken_alone() {
    let mut bytes = Allotter::new(many(16));
    for shop in 0..8 {
        bytes.note(of(shop, shop), 0);
        assert_eq!(bytes.ask(of(shop, shop), 1, 0), Told::Granted);
    }
    assert_eq!(bytes.ask(of(9, 9), 6, 0), Told::Granted);
    assert!(matches!(bytes.ask(of(9, 9), 1, 0), Told::Waits(_)));
}

#[test]
fn a_token_that_waits_too_often_is_refused_and_no_other() {
    let mut places = Allotter::new(Rule { waiting_max: 3, ..many(4) });
    // One of its asks waits already.
    assert_eq!(taken(&mut places, of(1, 1)), 4);
    assert!(matches!(places.ask(of(1, 1), 1, 0), Told::Waits(_)));
    assert!(matches!(places.ask(of(1, 1), 1, 0), Told::Waits(_)));
    assert_eq!(places.ask(of(1, 1), 1, 0), Told::Refused);
    assert!(matches!(places.ask(of(2, 1), 1, 0), Told::Waits(_)));
}

#[derive(Clone, Debug)]
enum Step {
    Ask(Holder, u64),
    Release(usize),
    GiveUp(usize, bool),
}

fn step(amount_max: u64) -> impl Strategy<Value = Step> {
    let holder = (0..4_u128, 0..3_u128).prop_map(|(shop, token)| of(shop, token));
    prop_oneof![
        4 => (holder, 1..=amount_max).prop_map(|(who, amount)| Step::Ask(who, amount)),
        3 => any::<usize>().prop_map(Step::Release),
        1 => (any::<usize>(), any::<bool>()).prop_map(|(at, wants)| Step::GiveUp(at, wants)),
    ]
}

/// What the tests know of everybody, kept without the allotter.
#[derive(Default)]
struct Known {
    held: Vec<(Holder, u64)>,
    waiting: BTreeMap<Ticket, (Holder, u64)>,
}

impl Known {
    fn of_shop(&self, shop: u128) -> u64 {
        self.held.iter().filter(|(who, _)| who.shop == shop).map(|(_, amount)| amount).sum()
    }

    fn total(&self) -> u64 {
        self.held.iter().map(|(_, amount)| amount).sum()
    }

    fn served(&mut self, tickets: Vec<Ticket>) {
        for ticket in tickets {
            let waited = self.waiting.remove(&ticket).expect("served, but did not wait");
            self.held.push(waited);
        }
    }

    /// Shops that hold or wait, the asked one included.
    fn shops(&self, with: u128) -> u64 {
        let mut shops: Vec<u128> = self.held.iter().map(|(who, _)| who.shop).collect();
        shops.extend(self.waiting.values().map(|(who, _)| who.shop));
        shops.push(with);
        shops.sort_unstable();
        shops.dedup();
        u64::try_from(shops.len()).unwrap()
    }
}

fn play(rule: Rule, steps: Vec<Step>) {
    let mut allotter = Allotter::new(rule);
    let mut known = Known::default();
    for (now, step) in (0..).step_by(100).zip(steps) {
        match step {
            Step::Ask(who, amount) => {
                let amount = amount.min(rule.places);
                let (before, mine) = (known.total(), known.of_shop(who.shop));
                let share = (rule.places / known.shops(who.shop)).max(1);
                match allotter.ask(who, amount, now) {
                    Told::Granted => {
                        assert!(
                            before + amount <= rule.ample || mine == 0 || mine + amount <= share,
                            "above its share of {share} with {mine} where {before} were taken"
                        );
                        known.held.push((who, amount));
                    }
                    Told::Waits(ticket) => {
                        // A shop that holds nothing waits only where nothing is free.
                        let queued = known.waiting.values().any(|(other, _)| *other == who);
                        assert!(mine > 0 || queued || before + amount > rule.places);
                        known.waiting.insert(ticket, (who, amount));
                    }
                    Told::Refused => {
                        let its = known.waiting.values().filter(|(other, _)| *other == who);
                        assert!(its.count() >= rule.waiting_max);
                    }
                }
            }
            Step::Release(at) if !known.held.is_empty() => {
                let (who, amount) = known.held.swap_remove(at % known.held.len());
                let served = allotter.release(who, amount, now);
                known.served(served);
            }
            Step::GiveUp(at, wants) if !known.waiting.is_empty() => {
                let at = at % known.waiting.len();
                let ticket = *known.waiting.keys().nth(at).unwrap();
                let (who, _) = known.waiting.remove(&ticket).unwrap();
                let served = allotter.give_up(who, ticket, wants, now);
                known.served(served);
            }
            _ => {}
        }
        assert_eq!(allotter.taken, known.total());
        assert!(allotter.taken <= rule.places);
        assert_eq!(allotter.waiting, known.waiting.len());
        let active = allotter.shops.values().filter(|shop| shop.is_active()).count();
        assert_eq!(allotter.active, active);
        // A shop with nothing never waits beside a place that is free for it.
        for (who, amount) in known.waiting.values() {
            let first =
                known.waiting.values().find(|(other, _)| other == who) == Some(&(*who, *amount));
            assert!(
                !first || known.of_shop(who.shop) > 0 || known.total() + amount > rule.places,
                "{who:?} waits though {} of {} are taken",
                known.total(),
                rule.places
            );
        }
    }
    // In the end everything is given back, and nobody is left waiting.
    while let Some((who, amount)) = known.held.pop() {
        let served = allotter.release(who, amount, u64::MAX / 2);
        known.served(served);
    }
    assert!(known.waiting.is_empty() && allotter.taken == 0 && allotter.active == 0);
    assert!(allotter.shops.values().all(|shop| shop.tokens.is_empty()));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn places_are_shared_by_the_rule(steps in proptest::collection::vec(step(1), 1..200)) {
        play(Rule { waiting_max: 5, ..many(8) }, steps);
    }

    #[test]
    fn pairs_are_shared_by_the_rule(steps in proptest::collection::vec(step(1), 1..100)) {
        play(pair(), steps);
    }

    #[test]
    fn bytes_are_shared_by_the_rule(steps in proptest::collection::vec(step(7), 1..200)) {
        play(Rule { waiting_max: 5, ..many(20) }, steps);
    }

    /// Whatever one shop does with any tokens, another that was seen gets a
    /// place at once.
    #[test]
    fn another_shop_always_finds_a_place(
        asks in proptest::collection::vec((0..6_u128, any::<bool>()), 1..200)
    ) {
        let mut places = Allotter::new(many(16));
        places.note(of(2, 1), 0);
        let mut held = Vec::new();
        for (token, back) in asks {
            let who = of(1, token);
            if back && !held.is_empty() {
                let who = held.swap_remove(0);
                places.release(who, 1, 1);
            } else if places.ask(who, 1, 1) == Told::Granted {
                held.push(who);
            }
            prop_assert_eq!(places.ask(of(2, 1), 1, 1), Told::Granted);
            places.release(of(2, 1), 1, 1);
        }
    }
}
