//! Several clients of one shop, each with random commands on what it last saw.

use super::{Event, History, What};
use crate::generate::Draw;
use crate::world::{FIRST_DAY, Step, World};
use baystart_core::book::{Book, Change};
use baystart_core::command::{Command, Scope};
use baystart_core::ids::ShopId;
use baystart_store::{Store, StoreError, Submission};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use sqlx::{Connection, Executor, PgConnection};
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::task::JoinSet;
use uuid::Uuid;

/// Commands of a client between two reads of everything.
const READ_EVERY: usize = 4;
/// Times that a command is asked again where its outcome is not known.
const AGAIN_MAX: usize = 200;
const PAUSE: Duration = Duration::from_millis(20);
/// Between two times that PostgreSQL ends all connections.
const DISTURBED_EVERY: Duration = Duration::from_millis(400);

/// How a history is made.
#[derive(Clone, Debug)]
pub struct Plan {
    /// Clients at once; they take the stores in turn.
    pub clients: usize,
    /// Commands of each.
    pub commands: usize,
    /// Another seed, another history.
    pub seed: u64,
    /// Asked by one client when the others are done; each may be refused.
    pub then: Vec<Command>,
    /// PostgreSQL's address, where its connections are to be ended now and then.
    pub disturbed: Option<String>,
}

struct Shared {
    shop: ShopId,
    clock: AtomicU64,
    seconds: AtomicI64,
    events: Mutex<Vec<Event>>,
    ended: AtomicBool,
}

/// Revision and changes of the decision that was rendered last.
type Decided = Arc<Mutex<Option<(i64, Vec<Change>)>>>;

/// Sets a fresh shop up and lets the clients work on it.
///
/// # Errors
/// Something was answered that is neither yes nor a refusal.
pub async fn record(stores: &[Store], shop: ShopId, plan: &Plan) -> Result<History, String> {
    let first = stores.first().ok_or("there is no store")?;
    let (base, revision) = read(first, shop).await?;
    let version = base.settings.as_ref().map_or(0, |settings| settings.version);
    let shared = Arc::new(Shared {
        shop,
        clock: AtomicU64::new(0),
        seconds: AtomicI64::new(0),
        events: Mutex::default(),
        ended: AtomicBool::new(false),
    });
    for command in World::setup(version) {
        let step = World::on_one_day(FIRST_DAY).at(command);
        shared.ask(first, step).await?;
    }
    let mut running = JoinSet::new();
    for client in 0..plan.clients {
        let (shared, plan) = (shared.clone(), plan.clone());
        let store = stores.iter().cycle().nth(client).cloned().ok_or("there is no store")?;
        running.spawn(async move { shared.work(&store, client, &plan).await });
    }
    let disturbing = plan.disturbed.clone().map(|url| tokio::spawn(disturb(shared.clone(), url)));
    while let Some(done) = running.join_next().await {
        done.map_err(|error| format!("a client failed: {error}"))??;
    }
    shared.ended.store(true, Ordering::SeqCst);
    if let Some(disturbing) = disturbing {
        disturbing.await.map_err(|error| error.to_string())??;
    }
    for command in plan.then.clone() {
        shared.ask(first, World::on_one_day(FIRST_DAY).at(command)).await?;
    }
    // The last word.
    for store in stores {
        shared.look(store).await?;
    }
    let events = std::mem::take(&mut *shared.events.lock().unwrap_or_else(PoisonError::into_inner));
    Ok(History { base, revision, events })
}

async fn read(store: &Store, shop: ShopId) -> Result<(Book, i64), String> {
    let scope = Scope { all: true, tokens: true, ..Scope::default() };
    for _ in 0..AGAIN_MAX {
        match store.read(shop, &scope).await {
            Ok(snapshot) => return Ok((snapshot.book, snapshot.revision)),
            Err(StoreError::Busy(_) | StoreError::Unavailable(_)) => {
                tokio::time::sleep(PAUSE).await;
            }
            Err(error) => return Err(format!("a read: {error:?}")),
        }
    }
    Err("no read was answered".to_owned())
}

/// As the service reads: the warm book where there is one. It holds no tokens.
async fn read_warm(store: &Store, shop: ShopId) -> Result<(Book, i64), String> {
    let scope = Scope { all: true, ..Scope::default() };
    for _ in 0..AGAIN_MAX {
        let read = async { store.read_at(shop, &scope, store.state(shop).await?).await };
        match read.await {
            Ok(snapshot) => return Ok((snapshot.book, snapshot.revision)),
            Err(StoreError::Busy(_) | StoreError::Unavailable(_)) => {
                tokio::time::sleep(PAUSE).await;
            }
            Err(error) => return Err(format!("a read: {error:?}")),
        }
    }
    Err("no read was answered".to_owned())
}

/// Ends every connection to the database, now and then.
async fn disturb(shared: Arc<Shared>, url: String) -> Result<(), String> {
    let failed = |error: sqlx::Error| format!("ending the connections: {error}");
    let mut connection = PgConnection::connect(&url).await.map_err(failed)?;
    while !shared.ended.load(Ordering::SeqCst) {
        tokio::time::sleep(DISTURBED_EVERY).await;
        let end = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity
                   WHERE datname = current_database() AND pid <> pg_backend_pid()";
        connection.execute(end).await.map_err(failed)?;
    }
    Ok(())
}

impl Shared {
    fn tick(&self) -> u64 {
        self.clock.fetch_add(1, Ordering::SeqCst)
    }

    fn note(&self, from: u64, what: What) {
        let event = Event { from, to: self.tick(), what };
        self.events.lock().unwrap_or_else(PoisonError::into_inner).push(event);
    }

    async fn work(&self, store: &Store, client: usize, plan: &Plan) -> Result<(), String> {
        let mut draw = Draw::new(plan.seed ^ (u64::try_from(client).unwrap_or(0) << 32));
        let mut book = self.look(store).await?;
        for number in 0..plan.commands {
            if number % READ_EVERY == READ_EVERY - 1 {
                book = self.look(store).await?;
            }
            let step = World::on_one_day(FIRST_DAY).step(draw.next(), &book);
            self.ask(store, step).await?;
        }
        Ok(())
    }

    async fn look(&self, store: &Store) -> Result<Book, String> {
        let from = self.tick();
        let (book, revision) = read_warm(store, self.shop).await?;
        self.note(from, What::Read { revision, book: Box::new(book.clone()) });
        Ok(book)
    }

    /// One command, until it is known what became of it.
    async fn ask(&self, store: &Store, mut step: Step) -> Result<(), String> {
        let seconds = self.seconds.fetch_add(1, Ordering::SeqCst);
        step.recorded_at = noon() + seconds.seconds();
        let (id, decided) = (Uuid::now_v7(), Decided::default());
        let from = self.tick();
        for _ in 0..AGAIN_MAX {
            let submission = self.submission(&step, id, seconds, decided.clone());
            match store.submit(submission).await {
                Ok(answer) => {
                    let text = String::from_utf8_lossy(&answer.bytes).into_owned();
                    let revision = text.parse().map_err(|_| format!("\"{text}\" was answered"))?;
                    let rendered = decided.lock().unwrap_or_else(PoisonError::into_inner).take();
                    let changes = rendered.filter(|(rendered, _)| *rendered == revision);
                    let (_, changes) = changes.ok_or("an answer that was never rendered")?;
                    self.note(from, What::Took { step, revision, changes });
                    return Ok(());
                }
                Err(StoreError::Refused(refusal)) => {
                    self.note(from, What::Refused { step, refusal });
                    return Ok(());
                }
                Err(StoreError::Busy(_) | StoreError::Unavailable(_)) => {
                    tokio::time::sleep(PAUSE).await;
                }
                Err(error) => return Err(format!("{:?}: {error:?}", step.command)),
            }
        }
        Err(format!("{:?} was not answered", step.command))
    }

    fn submission(&self, step: &Step, id: Uuid, seconds: i64, decided: Decided) -> Submission {
        let mut hash = [7; 32];
        let (start, _) = hash.split_at_mut(8);
        start.copy_from_slice(&seconds.to_le_bytes());
        Submission {
            shop: self.shop,
            actor: "storekeeper".into(),
            request_id: id,
            command: step.command.clone(),
            now: step.recorded_at,
            secret_hash: Some(hash),
            stated_chance: None,
            stock_points: Vec::new(),
            render: Box::new(move |rendered| {
                let changes = rendered.decision.changes.clone();
                let mut last = decided.lock().unwrap_or_else(PoisonError::into_inner);
                *last = Some((rendered.revision, changes));
                rendered.revision.to_string().into_bytes()
            }),
        }
    }
}

/// Noon of the world's first day, in Greenwich: in the shop's own zone it is that day too.
fn noon() -> Timestamp {
    let noon = TimeZone::UTC.to_timestamp(FIRST_DAY.at(12, 0, 0, 0));
    noon.unwrap_or(Timestamp::UNIX_EPOCH)
}
