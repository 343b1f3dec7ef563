//! Random commands about everything that a build line can be: made, finished, awaited, picked,
//! substituted, packaged and rejected parts, on the core and through the store, beside a plain count
//! and the rules of `baystart_testkit::plain`.
//!
//! `BAYSTART_TEST_STEPS` is the number of commands (100 000 unless it is set), a third of them here,
//! `BAYSTART_TEST_SEED` another sequence of them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use baystart_core::book::Book;
use baystart_core::command::{Command, Scope};
use baystart_core::decide::words::sentence;
use baystart_core::decide::{Context, Decision, decide};
use baystart_core::ids::CountingIds;
use baystart_core::invariants;
use baystart_core::refusal::{Reason, Refusal};
use baystart_core::testing::context;
use baystart_store::{StoreError, Submission};
use baystart_testkit::generate::{self, Draw, KINDS, KINDS_OF_EVERY_LINE, kind};
use baystart_testkit::model::Tally;
use baystart_testkit::plain::{Plain, accounts};
use baystart_testkit::store::{Backend, fresh_shop};
use baystart_testkit::world::{Step, World};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use proptest::test_runner::{Config, RngAlgorithm, TestCaseError, TestRng, TestRunner};
use std::cell::{Cell, RefCell};
use uuid::Uuid;

/// Most commands of one sequence, after those that make the shop.
const SEQUENCE: usize = 400;
/// The whole ledger is read again after so many commands.
const WHOLE_LEDGER_EVERY: usize = 20;
/// Reasons that the new commands give.
const NEW_REASONS: [Reason; 8] = [
    Reason::AwaitedUnknown,
    Reason::AwaitedState,
    Reason::MadeLine,
    Reason::NotMade,
    Reason::LineIssued,
    Reason::FinishDiffers,
    Reason::OverReject,
    Reason::KitNotStocked,
];

fn setting(name: &str, default: u64) -> u64 {
    let set = std::env::var(name).ok();
    set.map_or(default, |text| text.parse().unwrap_or_else(|_| panic!("{name}={text}")))
}

/// A shop in memory, with the plain count of it.
struct Game {
    book: Book,
    /// Follows by the decisions' changes alone, as a store does.
    shadow: Book,
    ids: CountingIds,
    world: World,
    plain: Plain,
    tally: Tally,
    played: usize,
}

fn ask(
    book: &mut Book,
    ids: &mut CountingIds,
    step: &Step,
    secret_hash: [u8; 32],
) -> Result<Decision, Refusal> {
    let asked = context(ids, step.today, step.recorded_at);
    let mut context = Context { secret_hash: Some(secret_hash), ..asked };
    decide(book, &mut context, &step.command)
}

impl Game {
    fn new() -> Self {
        let book = Book { keep_ledger: true, ..Book::default() };
        let mut game = Self {
            shadow: book.clone(),
            book,
            ids: CountingIds::default(),
            world: World::default(),
            plain: Plain::default(),
            tally: Tally::default(),
            played: 0,
        };
        for command in World::setup_every_line(0) {
            let step = game.world.at(command);
            let answer = game.play(&step).unwrap();
            assert!(answer.is_ok(), "{answer:?}");
        }
        game.tally = Tally::default();
        game
    }

    fn play(&mut self, step: &Step) -> Result<Result<Decision, Refusal>, String> {
        let answer = ask(&mut self.book, &mut self.ids, step, [7; 32]);
        let before = match &answer {
            Ok(decision) => {
                let before = self.shadow.clone();
                for change in &decision.changes {
                    let _ = self.shadow.apply(change);
                }
                Some(before)
            }
            Err(_) => None,
        };
        if self.shadow != self.book {
            return Err(match answer {
                Ok(_) => "the changes of the decision do not lead to the book".to_owned(),
                Err(_) => "a refused command changed the book".to_owned(),
            });
        }
        self.played += 1;
        self.count(step, &answer);
        let Some(before) = before else { return Ok(answer) };
        let whole = self.played.is_multiple_of(WHOLE_LEDGER_EVERY);
        self.book.keep_ledger = whole;
        let broken = invariants::check(&self.book);
        self.book.keep_ledger = true;
        if let Some(violation) = broken.first() {
            return Err(format!("{}: {}", violation.id, violation.text));
        }
        self.plain.after(&step.command, &before, &self.book)?;
        if whole {
            accounts(&self.book)?;
        }
        Ok(answer)
    }

    fn count(&mut self, step: &Step, answer: &Result<Decision, Refusal>) {
        let counts = self.tally.kinds.entry(kind(&step.command)).or_default();
        match answer {
            Ok(_) => counts.0 += 1,
            Err(refusal) => {
                counts.1 += 1;
                *self.tally.reasons.entry(refusal.reason).or_default() += 1;
            }
        }
    }

    fn step(&mut self, draw: u64) -> Result<(), String> {
        let step = self.world.step_of_every_line(draw, &self.book);
        let text = |answer: &str| format!("{} {:?}\n  {answer}", step.today, step.command);
        self.play(&step).map(|_| ()).map_err(|message| text(&message))
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
    accounts(&game.book)?;
    Ok(game.tally)
}

/// The commands before the one that went wrong, with their answers.
fn story(draws: &[u64], wrong: &str) -> String {
    let mut game = Game::new();
    let mut text = String::new();
    for draw in draws {
        let step = game.world.step_of_every_line(*draw, &game.book);
        let answer = match game.play(&step).unwrap() {
            Ok(decision) => texts(&game.book, &decision).join("\n  "),
            Err(refusal) => format!("refused: {refusal}"),
        };
        text.push_str(&format!("\n{} {:?}\n  {answer}", step.today, step.command));
    }
    format!("{text}\n=> {wrong}")
}

fn texts(book: &Book, decision: &Decision) -> Vec<String> {
    decision.effects.iter().map(|effect| sentence(book, effect)).collect()
}

#[test]
fn core_random_commands_of_every_line_keep_the_count() {
    let steps = setting("BAYSTART_TEST_STEPS", 100_000) / 3;
    let tally = RefCell::new(Tally::default());
    let played = Cell::new(0);
    let mut round = setting("BAYSTART_TEST_SEED", 1) ^ 0x4c49;
    while played.get() < steps {
        let config = Config {
            cases: 8,
            max_shrink_iters: 3000,
            failure_persistence: None,
            ..Config::default()
        };
        let mut seed = [0; 32];
        seed[..8].copy_from_slice(&round.to_le_bytes());
        round += 1;
        let rng = TestRng::from_seed(RngAlgorithm::ChaCha, &seed);
        let mut runner = TestRunner::new_with_rng(config, rng);
        let outcome = runner.run(&generate::draws(SEQUENCE), |draws| {
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
    for (kind, (yes, no)) in &tally.kinds {
        eprintln!("{kind:24} accepted {yes:7}  refused {no:7}");
    }
    for (reason, count) in &tally.reasons {
        eprintln!("{:24} {count:7}", reason.text());
    }
    if steps >= 5000 {
        everything_was_met(&tally);
    }
}

fn everything_was_met(tally: &Tally) {
    for kind in KINDS_OF_EVERY_LINE.iter().chain(&["reject", "return to supplier"]) {
        let (accepted, refused) = tally.kinds.get(kind).copied().unwrap_or_default();
        assert!(accepted > 20, "\"{kind}\" was accepted {accepted} times");
        assert!(refused > 10, "\"{kind}\" was refused {refused} times");
    }
    for kind in KINDS {
        assert!(tally.kinds.contains_key(kind), "\"{kind}\" was never asked");
    }
    for reason in NEW_REASONS {
        assert!(tally.reasons.contains_key(&reason), "{reason} was never given");
    }
}

/// The whole shop as the store has it, without its bookings.
async fn read(store: &baystart_store::Store, shop: baystart_core::ids::ShopId) -> Book {
    let scope = Scope { all: true, tokens: true, ..Scope::default() };
    store.read(shop, &scope).await.unwrap().book
}

fn submission(
    shop: baystart_core::ids::ShopId,
    command: Command,
    now: Timestamp,
    hash: [u8; 32],
) -> Submission {
    Submission {
        shop,
        actor: "storekeeper".into(),
        request_id: Uuid::now_v7(),
        command,
        now,
        secret_hash: Some(hash),
        stated_chance: None,
        stock_points: Vec::new(),
        render: Box::new(|rendered| {
            texts(rendered.book, rendered.decision).join("\n").into_bytes()
        }),
    }
}

/// Through the store, which loads only what a command names: it answers as the core does on the
/// whole shop, in the same words, and the plain count holds on what it kept.
async fn store_keeps_the_count_on(backend: Backend) {
    let steps = (setting("BAYSTART_TEST_STEPS", 100_000) / 150).max(20);
    let mut seeds = Draw::new(setting("BAYSTART_TEST_SEED", 1) ^ 0x59);
    let (store, shop, _place) = fresh_shop(backend).await;
    let (mut world, mut plain) = (World::default(), Plain::default());
    let mut book = read(&store, shop).await;
    let version = book.settings.as_ref().unwrap().version;
    let mut setup = World::setup_every_line(version).into_iter();
    let (mut accepted, mut refused, mut seconds) = (0, 0, 0_i64);
    let mut story = Vec::new();
    for number in 0..steps {
        let mut step = match setup.next() {
            Some(command) => world.at(command),
            None => world.step_of_every_line(seeds.next(), &book),
        };
        seconds += 1;
        let midnight = TimeZone::UTC.to_timestamp(step.today.at(0, 0, 0, 0)).unwrap();
        step.recorded_at = midnight + seconds.seconds();
        let mut hash = [7; 32];
        hash[..8].copy_from_slice(&seconds.to_le_bytes());
        story.push(format!("{} {:?}", step.today, step.command));
        let mut whole = book.clone();
        let foreseen = ask(&mut whole, &mut CountingIds::default(), &step, hash);
        let each = submission(shop, step.command.clone(), step.recorded_at, hash);
        let answer = store.submit(each).await;
        let after = read(&store, shop).await;
        let tale = || story.join("\n");
        match (&foreseen, &answer) {
            (Ok(decision), Ok(answer)) => {
                accepted += 1;
                let told = String::from_utf8(answer.bytes.clone()).unwrap();
                assert_eq!(texts(&whole, decision).join("\n"), told, "{}", tale());
                let kept = plain.after(&step.command, &book, &after);
                assert_eq!(kept, Ok(()), "{}", tale());
            }
            (Err(refusal), Err(StoreError::Refused(told))) => {
                refused += 1;
                assert_eq!(refusal, told, "{}", tale());
                assert_eq!(book, after, "a refused command changed the database: {}", tale());
            }
            other => panic!("{other:?}\n{}", tale()),
        }
        book = after;
        if number % 50 == 49 {
            assert_eq!(store.verify(shop).await.unwrap(), Vec::new(), "{}", tale());
        }
    }
    assert_eq!(store.verify(shop).await.unwrap(), Vec::new());
    store.close().await;
    eprintln!("{backend:?}: {accepted} accepted, {refused} refused");
    assert!(accepted * 4 > steps && refused * 20 > steps, "{accepted}, {refused} of {steps}");
}
crate::wire::both!(store_keeps_the_count, super::store_keeps_the_count_on);
