//! Random commands through the store on both databases, beside the naive model
//! of the shop that the core is tested with; the invariants on the database.
//!
//! `BAYSTART_TEST_STEPS` (100 000 unless it is set) scales their number,
//! `BAYSTART_TEST_SEED` gives another sequence.

use crate::wire::both;
use baystart_core::book::Book;
use baystart_core::command::{Command, Scope};
use baystart_core::decide::words::sentence;
use baystart_core::ids::ShopId;
use baystart_core::refusal::Refusal;
use baystart_store::{Answer, Store, StoreError, StoreOptions, Submission};
use baystart_testkit::generate::Draw;
use baystart_testkit::model::Model;
use baystart_testkit::store::{Backend, fresh_shop};
use baystart_testkit::world::{FIRST_DAY, Step, World};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use uuid::Uuid;

/// Of a hundred thousand steps of the setting, so many go through each store:
/// one costs some sixty of the core's.
const SHARE: u64 = 1000;
/// And so many through the test of rivals.
const SHARE_OF_RIVALS: u64 = 600;
/// Steps of one shop, after those that make it.
const SEQUENCE: u64 = 300;
/// The whole database is verified after so many.
const VERIFY_EVERY: u64 = 50;
/// Writers at once, in the test of rivals.
const RIVALS: usize = 8;

fn setting(name: &str, default: u64) -> u64 {
    let set = std::env::var(name).ok();
    set.map_or(default, |text| text.parse().unwrap_or_else(|_| panic!("{name}={text}")))
}

fn steps(share: u64) -> u64 {
    (setting("BAYSTART_TEST_STEPS", 100_000) * share / 100_000).max(20)
}

/// A store with its model.
struct Game {
    store: Store,
    shop: ShopId,
    world: World,
    model: Model,
    book: Book,
    revision: i64,
    seconds: i64,
}

/// A fresh secret's hash for each command; only tokens take it.
fn hash(seconds: i64) -> [u8; 32] {
    let mut hash = [7; 32];
    hash[..8].copy_from_slice(&seconds.to_le_bytes());
    hash
}

/// In Greenwich; in the shop's own zone it is that day too.
fn midnight_of(day: Date) -> Timestamp {
    TimeZone::UTC.to_timestamp(day.at(0, 0, 0, 0)).unwrap()
}

async fn read(store: &Store, shop: ShopId) -> (Book, i64) {
    let scope = Scope { all: true, tokens: true, ..Scope::default() };
    let snapshot = store.read(shop, &scope).await.unwrap();
    (snapshot.book, snapshot.revision)
}

impl Game {
    async fn start(store: Store, shop: ShopId) -> Self {
        let (book, revision) = read(&store, shop).await;
        let version = book.settings.as_ref().unwrap().version;
        let mut game = Self {
            store,
            shop,
            world: World::default(),
            model: Model::of_fresh_shop(&book),
            book,
            revision,
            seconds: 0,
        };
        for command in World::setup(version) {
            let mut step = game.world.at(command);
            let answer = game.play(&mut step).await.unwrap();
            assert!(answer.is_ok(), "{answer:?}");
        }
        game
    }

    fn submission(&self, step: &Step, id: Uuid) -> Submission {
        submission(self.shop, step.command.clone(), step.recorded_at, id, self.seconds)
    }

    /// What the store answered; an error where it does not agree with the model.
    async fn play(&mut self, step: &mut Step) -> Result<Result<(), Refusal>, String> {
        self.seconds += 1;
        // The store takes the day from the instant.
        let midnight = midnight_of(step.today);
        step.recorded_at = midnight + self.seconds.seconds();
        let id = Uuid::now_v7();
        let answer = match self.store.submit(self.submission(step, id)).await {
            Ok(answer) => Ok(answer),
            Err(StoreError::Refused(refusal)) => Err(refusal),
            Err(error) => return Err(format!("{error:?}")),
        };
        // The bookings are not in it: `verify` reads those.
        let (book, revision) = read(&self.store, self.shop).await;
        self.warm_is_the_same(&book, revision).await?;
        self.follow(&book, revision, &answer)?;
        let told = answer.as_ref().map(|_| ());
        self.model.after(step, told, &book)?;
        self.repeat(step, id, &answer, &book, revision).await?;
        (self.book, self.revision) = (book, revision);
        Ok(answer.map(|_| ()))
    }

    /// The book that is kept is the one that is loaded.
    async fn warm_is_the_same(&self, book: &Book, revision: i64) -> Result<(), String> {
        let at = self.store.state(self.shop).await.unwrap();
        let scope = Scope { all: true, ..Scope::default() };
        let warm = self.store.read_at(self.shop, &scope, at).await.unwrap();
        // Tokens are not kept in it.
        let warm_book = Book { tokens: book.tokens.clone(), ..warm.book };
        match warm_book == *book && warm.revision == revision {
            true => Ok(()),
            false => Err(format!("the warm book differs:\n{warm_book:?}\n{book:?}")),
        }
    }

    /// The revision moves by one with what took effect, and not otherwise.
    fn follow(
        &self,
        book: &Book,
        revision: i64,
        answer: &Result<Answer, Refusal>,
    ) -> Result<(), String> {
        let took = i64::from(answer.is_ok());
        if revision != self.revision + took {
            return Err(format!("revision {} became {revision}: {answer:?}", self.revision));
        }
        if answer.is_err() && *book != self.book {
            return Err("a refused command changed the database".to_owned());
        }
        Ok(())
    }

    /// ID-1 and ID-2: what took effect answers the same and does nothing more.
    async fn repeat(
        &self,
        step: &Step,
        id: Uuid,
        answer: &Result<Answer, Refusal>,
        book: &Book,
        revision: i64,
    ) -> Result<(), String> {
        let Ok(first) = answer else { return Ok(()) };
        if self.seconds % 7 != 0 {
            return Ok(());
        }
        let again = self.store.submit(self.submission(step, id)).await;
        let same = Answer { bytes: first.bytes.clone(), replayed: true };
        match again {
            Ok(again) if again == same => {}
            other => return Err(format!("the repeat of {first:?} answered {other:?}")),
        }
        match read(&self.store, self.shop).await == (book.clone(), revision) {
            true => Ok(()),
            false => Err("a repeat changed the database".to_owned()),
        }
    }
}

fn submission(
    shop: ShopId,
    command: Command,
    now: Timestamp,
    request_id: Uuid,
    seconds: i64,
) -> Submission {
    Submission {
        shop,
        actor: "storekeeper".into(),
        request_id,
        command,
        now,
        secret_hash: Some(hash(seconds)),
        stated_chance: None,
        stock_points: Vec::new(),
        render: Box::new(|rendered| {
            let effects = rendered.decision.effects.iter();
            let effects: Vec<_> = effects.map(|effect| sentence(rendered.book, effect)).collect();
            format!("{} {}", rendered.revision, effects.join("; ")).into_bytes()
        }),
    }
}

both!(agrees_with_the_model, super::agrees_with_the_model_on);
async fn agrees_with_the_model_on(backend: Backend) {
    let steps = steps(SHARE);
    let mut seeds = Draw::new(setting("BAYSTART_TEST_SEED", 1) ^ 0x57);
    let (mut accepted, mut refused, mut played) = (0, 0, 0);
    while played < steps {
        let (store, shop, _place) = fresh_shop(backend).await;
        let mut game = Game::start(store, shop).await;
        let mut story = Vec::new();
        for number in 0..SEQUENCE.min(steps - played) {
            let mut step = game.world.step(seeds.next(), &game.book);
            let answer = game.play(&mut step).await;
            story.push(format!("{} {:?}\n  {answer:?}", step.today, step.command));
            match answer {
                Ok(Ok(())) => accepted += 1,
                Ok(Err(_)) => refused += 1,
                Err(_) => panic!("{}", story.join("\n")),
            }
            if number % VERIFY_EVERY == VERIFY_EVERY - 1 {
                let broken = game.store.verify(shop).await.unwrap();
                assert!(broken.is_empty(), "{}\n=> {broken:?}", story.join("\n"));
            }
        }
        played += u64::try_from(story.len()).unwrap();
        assert_eq!(game.store.verify(shop).await.unwrap(), Vec::new());
        assert_eq!(game.store.warm_size().0, 1, "no book was kept");
        game.store.close().await;
    }
    eprintln!("{backend:?}: {accepted} accepted, {refused} refused");
    assert!(accepted * 5 > played && refused * 20 > played, "{accepted} {refused} of {played}");
}

/// Commands that were thought up on an older state, by several writers on two
/// stores at once: each takes effect or is refused, and every rule holds.
async fn rivals_on(backend: Backend) {
    let (store, shop, place) = fresh_shop(backend).await;
    let mut game = Game::start(store.clone(), shop).await;
    let second = Store::open(&place.url, StoreOptions::default()).await.unwrap();
    let mut seeds = Draw::new(setting("BAYSTART_TEST_SEED", 1) ^ 0x71);
    let (mut took, mut refused) = (0, 0);
    let rounds = steps(SHARE_OF_RIVALS) / u64::try_from(RIVALS).unwrap();
    let now = midnight_of(FIRST_DAY) + 12.hours();
    for round in 0..rounds {
        let mut tasks = Vec::new();
        for number in 0..RIVALS {
            game.seconds += 1;
            let step = World::on_one_day(FIRST_DAY).step(seeds.next(), &game.book);
            let id = Uuid::now_v7();
            let each = submission(shop, step.command, now, id, game.seconds);
            let store = if number % 2 == 0 { store.clone() } else { second.clone() };
            tasks.push(tokio::spawn(async move { store.submit(each).await }));
        }
        for task in tasks {
            match task.await.unwrap() {
                Ok(_) => took += 1,
                Err(StoreError::Refused(_)) => refused += 1,
                Err(other) => panic!("{other:?}"),
            }
        }
        let revision;
        (game.book, revision) = read(&store, shop).await;
        let before = game.revision;
        assert_eq!(revision - before, took, "each that took effect has a revision");
        if round % 10 == 9 {
            assert_eq!(store.verify(shop).await.unwrap(), Vec::new());
        }
    }
    eprintln!("{backend:?}: {took} took effect, {refused} were refused");
    assert!(took > 0 && refused > 0);
    assert_eq!(store.verify(shop).await.unwrap(), Vec::new());
}
both!(rivals, super::rivals_on);
