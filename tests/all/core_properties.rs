//! Random commands on the core, beside a naive model of the shop.
//!
//! `BAYSTART_TEST_STEPS` is the number of commands (100 000 unless it is set),
//! `BAYSTART_TEST_SEED` another sequence of them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use baystart_core::book::Book;
use baystart_core::decide::words::sentence;
use baystart_core::decide::{Context, Decision, decide};
use baystart_core::ids::CountingIds;
use baystart_core::invariants;
use baystart_core::refusal::{Reason, Refusal};
use baystart_core::testing::context;
use baystart_testkit::generate::{self, Draw, KINDS};
use baystart_testkit::model::{Model, Tally};
use baystart_testkit::world::{Step, World};
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};
use std::cell::{Cell, RefCell};

/// Most commands of one sequence, after those that make the shop.
const SEQUENCE: usize = 400;
/// Whole-ledger invariants are read again after so many commands; the model
/// reads every new entry after each.
const WHOLE_LEDGER_EVERY: usize = 20;

/// Reasons that no decision of the core gives, and who does.
const NOT_OF_DECISIONS: &[(Reason, &str)] = &[
    (Reason::OfferUnknown, "nothing asks for an offer that must exist"),
    (Reason::ImportDiffers, "imports"),
    (Reason::ImportRefused, "imports"),
    (Reason::Internal, "a fault of the program itself"),
    (Reason::RaceLost, "the store's conditional updates"),
    (Reason::RequestReused, "the store's request log"),
    (Reason::RequestIdInvalid, "the service's parsing"),
    (Reason::PageTokenInvalid, "the service's lists"),
    (Reason::AwaitedUnknown, "a shop whose lines are more than bought parts"),
    (Reason::AwaitedState, "a shop whose lines are more than bought parts"),
    (Reason::MadeLine, "a shop whose lines are more than bought parts"),
    (Reason::NotMade, "a shop whose lines are more than bought parts"),
    (Reason::LineIssued, "a shop whose lines are more than bought parts"),
    (Reason::NeverLent, "a shop whose lines are more than bought parts"),
    (Reason::FinishDiffers, "a shop whose lines are more than bought parts"),
];

fn setting(name: &str, default: u64) -> u64 {
    let set = std::env::var(name).ok();
    set.map_or(default, |text| text.parse().unwrap_or_else(|_| panic!("{name}={text}")))
}

/// A shop in memory with its shadow and its model.
struct Game {
    book: Book,
    /// Follows by the decisions' changes alone, as a store does.
    shadow: Book,
    ids: CountingIds,
    world: World,
    model: Model,
    played: usize,
}

impl Game {
    fn new() -> Self {
        let book = Book { keep_ledger: true, ..Book::default() };
        let mut game = Self {
            shadow: book.clone(),
            book,
            ids: CountingIds::default(),
            world: World::default(),
            model: Model::of_fresh_shop(&Book::default()),
            played: 0,
        };
        for command in World::setup(0) {
            let step = game.world.at(command);
            let answer = game.play(&step).unwrap();
            assert!(answer.is_ok(), "{answer:?}");
        }
        game
    }

    fn play(&mut self, step: &Step) -> Result<Result<Decision, Refusal>, String> {
        let asked = context(&mut self.ids, step.today, step.recorded_at);
        let mut context = Context { secret_hash: Some([7; 32]), ..asked };
        let answer = decide(&mut self.book, &mut context, &step.command);
        if let Ok(decision) = &answer {
            for change in &decision.changes {
                let _ = self.shadow.apply(change);
            }
        }
        if self.shadow != self.book {
            return Err(match answer {
                Ok(_) => "the changes of the decision do not lead to the book".to_owned(),
                Err(_) => "a refused command changed the book".to_owned(),
            });
        }
        self.played += 1;
        self.book.keep_ledger = self.played.is_multiple_of(WHOLE_LEDGER_EVERY);
        let broken = invariants::check(&self.book);
        self.book.keep_ledger = true;
        if let Some(violation) = broken.first() {
            return Err(format!("{}: {}", violation.id, violation.text));
        }
        self.model.after(step, answer.as_ref().map(|_| ()), &self.book)?;
        Ok(answer)
    }

    /// One more command; its text where something does not agree.
    fn step(&mut self, draw: u64) -> Result<(), String> {
        let step = self.world.step(draw, &self.book);
        let answer = self.play(&step);
        let text = |answer: &str| format!("{} {:?}\n  {answer}", step.today, step.command);
        match answer {
            Ok(_) => Ok(()),
            Err(message) => Err(text(&message)),
        }
    }
}

/// Plays a sequence; where something does not agree, tells all of it.
fn sequence(draws: &[u64]) -> Result<Tally, String> {
    let mut game = Game::new();
    for (i, draw) in draws.iter().enumerate() {
        if let Err(message) = game.step(*draw) {
            return Err(story(draws.get(..i).unwrap(), &message));
        }
    }
    Ok(game.model.tally)
}

/// The commands before the one that went wrong, with their answers.
fn story(draws: &[u64], wrong: &str) -> String {
    let mut game = Game::new();
    let mut text = String::new();
    for draw in draws {
        let step = game.world.step(*draw, &game.book);
        let answer = match game.play(&step).unwrap() {
            Ok(decision) => {
                let effects = decision.effects.iter().map(|effect| sentence(&game.book, effect));
                effects.collect::<Vec<_>>().join("\n  ")
            }
            Err(refusal) => format!("refused: {refusal}"),
        };
        text.push_str(&format!("\n{} {:?}\n  {answer}", step.today, step.command));
    }
    format!("{text}\n=> {wrong}")
}

fn runner(round: u64) -> TestRunner {
    let config = Config {
        cases: 16,
        max_shrink_iters: 3000,
        failure_persistence: None,
        ..Config::default()
    };
    let mut seed = [0; 32];
    let (first, _) = seed.split_first_chunk_mut::<8>().unwrap();
    *first = round.to_le_bytes();
    TestRunner::new_with_rng(config, TestRng::from_seed(RngAlgorithm::ChaCha, &seed))
}

#[test]
fn core_random_commands_agree_with_the_model() {
    let steps = setting("BAYSTART_TEST_STEPS", 100_000);
    let tally = RefCell::new(Tally::default());
    let mut rounds = setting("BAYSTART_TEST_SEED", 1)..;
    let played = Cell::new(0);
    while played.get() < steps {
        let outcome = runner(rounds.next().unwrap()).run(&generate::draws(SEQUENCE), |draws| {
            let one = sequence(&draws).map_err(TestCaseError::fail)?;
            tally.borrow_mut().add(&one);
            played.set(played.get() + u64::try_from(draws.len()).unwrap());
            Ok(())
        });
        if let Err(error) = outcome {
            panic!("{error}");
        }
    }
    let tally = tally.into_inner();
    eprintln!("{} commands after those that make the shop", played.get());
    report(&tally);
    if steps >= 20_000 {
        everything_was_met(&tally);
    }
}

fn report(tally: &Tally) {
    let (mut accepted, mut refused) = (0, 0);
    for (kind, (yes, no)) in &tally.kinds {
        eprintln!("{kind:24} accepted {yes:7}  refused {no:7}");
        (accepted, refused) = (accepted + yes, refused + no);
    }
    for (reason, count) in &tally.reasons {
        eprintln!("{:24} {count:7}", reason.text());
    }
    eprintln!("{accepted} accepted, {refused} refused, {} not foreseen", tally.unforeseen);
}

fn everything_was_met(tally: &Tally) {
    for kind in KINDS {
        let (accepted, refused) = tally.kinds.get(kind).copied().unwrap_or_default();
        assert!(accepted > 4, "\"{kind}\" was accepted {accepted} times");
        assert!(refused > 0, "\"{kind}\" was never refused");
    }
    for reason in Reason::ALL {
        let elsewhere = NOT_OF_DECISIONS.iter().find(|(other, _)| other == reason);
        let seen = tally.reasons.contains_key(reason);
        match elsewhere {
            None => assert!(seen, "{reason} was never given"),
            Some((_, whose)) => assert!(!seen, "{reason} is said to belong to {whose}"),
        }
    }
}

/// The same draws give the same shop: nothing in the core reads a clock or
/// draws a number of its own.
#[test]
fn core_decides_the_same_twice() {
    let mut seeds = Draw::new(setting("BAYSTART_TEST_SEED", 1));
    let draws: Vec<u64> = (0..500).map(|_| seeds.next()).collect();
    let (mut one, mut other) = (Game::new(), Game::new());
    for draw in draws {
        one.step(draw).unwrap();
        other.step(draw).unwrap();
    }
    assert_eq!(one.book, other.book);
}
