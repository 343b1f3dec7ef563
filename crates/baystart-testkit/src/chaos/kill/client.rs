//! Clients that write until they are told to stop, and ask again where no answer came.

use crate::chaos::day;
use crate::chaos::wire::{Asked, Caller, Said, reason};
use serde_json::json;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::task::JoinSet;
use tonic::{Code, Status};

/// Longest time until a write is answered, kills and all: a bound, not a goal.
const PATIENCE: Duration = Duration::from_secs(120);
const PAUSE: Duration = Duration::from_millis(10);
/// A part that all clients book.
pub(super) const SHARED: &str = "SHARED";

/// One write with its answer.
#[derive(Clone, Debug)]
pub(crate) struct Answered {
    pub asked: Asked,
    pub said: Said,
    pub revision: i64,
    /// When it was asked first.
    pub from: Instant,
    /// When it was answered.
    pub to: Instant,
}

/// What the clients share.
pub(crate) struct Clients {
    secret: String,
    callers: Mutex<Vec<Caller>>,
    answered: Mutex<Vec<Answered>>,
    /// The last revision that was answered.
    revision: AtomicI64,
    stopped: AtomicBool,
    wrong: Mutex<Option<String>>,
    asked_again: AtomicU64,
    reads: AtomicU64,
    /// Whole cycles of each client.
    pub cycles: Mutex<Vec<(usize, u64)>>,
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Clients {
    pub fn new(urls: Vec<String>, secret: String) -> Self {
        let callers = urls.iter().map(|url| Caller::new(url, &secret)).collect();
        Self {
            secret,
            callers: Mutex::new(callers),
            answered: Mutex::default(),
            revision: AtomicI64::new(0),
            stopped: AtomicBool::new(false),
            wrong: Mutex::default(),
            asked_again: AtomicU64::new(0),
            reads: AtomicU64::new(0),
            cycles: Mutex::default(),
        }
    }

    /// A server was killed; the last place is free.
    pub fn gone(&self, server: usize) {
        lock(&self.callers).swap_remove(server);
    }

    /// A fresh server in the last place.
    pub fn back(&self, url: String) {
        lock(&self.callers).push(Caller::new(&url, &self.secret));
    }

    pub fn stop(&self) {
        self.stopped.store(true, Ordering::SeqCst);
    }

    pub fn answered(&self) -> Vec<Answered> {
        lock(&self.answered).clone()
    }

    pub fn last_answered(&self, count: usize) -> Vec<Answered> {
        lock(&self.answered).iter().rev().take(count).cloned().collect()
    }

    pub fn counts(&self) -> (u64, u64) {
        (self.asked_again.load(Ordering::SeqCst), self.reads.load(Ordering::SeqCst))
    }

    /// What a client saw that must not be.
    pub fn sound(&self) -> Result<(), String> {
        lock(&self.wrong).clone().map_or(Ok(()), Err)
    }

    /// What all clients need; the revision after it.
    pub async fn prepare(&self) -> Result<i64, String> {
        let bin = json!({"bin": {"code": "A1"}});
        self.write(0, Asked::new("LedgerService/CreateBin", &[bin])).await?;
        self.write(0, new_part(SHARED)).await?;
        lock(&self.answered).clear();
        Ok(self.revision.load(Ordering::SeqCst))
    }

    pub fn start(self: Arc<Self>, clients: usize) -> JoinSet<Result<(), String>> {
        let mut running = JoinSet::new();
        for client in 0..clients {
            let shared = self.clone();
            running.spawn(async move {
                let done = shared.clone().work(client).await;
                shared.note(done)
            });
        }
        let shared = self.clone();
        running.spawn(async move {
            let done = shared.read().await;
            shared.note(done)
        });
        running
    }

    fn note(&self, done: Result<(), String>) -> Result<(), String> {
        if let Err(text) = &done {
            lock(&self.wrong).get_or_insert_with(|| text.clone());
        }
        done
    }

    async fn work(self: Arc<Self>, client: usize) -> Result<(), String> {
        let mut cycle = 0;
        while !self.stopped.load(Ordering::SeqCst) {
            for asked in cycle_of(client, cycle) {
                self.write(client, asked).await?;
            }
            cycle += 1;
            // A refused command among the others leaves nothing behind.
            self.refused(client).await?;
        }
        lock(&self.cycles).push((client, cycle));
        Ok(())
    }

    /// Asks until it is answered, each time another server.
    pub async fn settle(
        &self,
        first: usize,
        asked: &Asked,
    ) -> Result<Result<Said, Status>, String> {
        let since = Instant::now();
        for number in first.. {
            let caller = {
                let callers = lock(&self.callers);
                callers.get(number % callers.len().max(1)).cloned()
            };
            if let Some(caller) = caller {
                match caller.call(asked).await {
                    Ok(said) => return Ok(Ok(said)),
                    Err(status) if nothing_said(&status) => {}
                    Err(status) => return Ok(Err(status)),
                }
                self.asked_again.fetch_add(1, Ordering::SeqCst);
            }
            if since.elapsed() > PATIENCE {
                break;
            }
            tokio::time::sleep(PAUSE).await;
        }
        Err(format!("{} was not answered in {PATIENCE:?}", asked.method))
    }

    async fn write(&self, client: usize, asked: Asked) -> Result<(), String> {
        let from = Instant::now();
        let said = self.settle(client, &asked).await?;
        let said = said.map_err(|status| format!("{}: {status:?}", asked.method))?;
        let revision = asked.revision(&said).unwrap_or_default();
        self.revision.fetch_max(revision, Ordering::SeqCst);
        let to = Instant::now();
        lock(&self.answered).push(Answered { asked, said, revision, from, to });
        Ok(())
    }

    async fn refused(&self, client: usize) -> Result<(), String> {
        match self.settle(client, &day::refused()).await? {
            Err(status) if status.code() == Code::NotFound => Ok(()),
            other => Err(format!("a build that is not there was put on hold: {other:?}")),
        }
    }

    /// Reads see everything that was answered before they began.
    async fn read(&self) -> Result<(), String> {
        let mut number = 0;
        while !self.stopped.load(Ordering::SeqCst) {
            number += 1;
            let before = self.revision.load(Ordering::SeqCst);
            let asked = day::shop();
            let said = self.settle(number, &asked).await?;
            let said = said.map_err(|status| format!("a read: {status:?}"))?;
            let seen = asked.revision(&said).unwrap_or_default();
            if seen < before {
                return Err(format!(
                    "a read says revision {seen}; {before} was answered before it"
                ));
            }
            self.reads.fetch_add(1, Ordering::SeqCst);
            tokio::time::sleep(PAUSE).await;
        }
        Ok(())
    }
}

/// The connection went, or the server says that it cannot now: the outcome is not known.
fn nothing_said(status: &Status) -> bool {
    match reason(status).as_str() {
        "DATABASE_UNAVAILABLE" => status.code() == Code::Unavailable,
        "TRY_AGAIN" => true,
        // No server made it: the client's own word for a connection that broke.
        "" => matches!(
            status.code(),
            Code::Unavailable | Code::Unknown | Code::Cancelled | Code::Internal
        ),
        _ => false,
    }
}

fn new_part(number: &str) -> Asked {
    let part = json!({"number": number, "description": "Part", "unitCode": "C62"});
    Asked::new("CatalogueService/CreatePart", &[json!({"part": part})])
}

fn adjust(number: &str, change: &str) -> Asked {
    let booking = json!({"part": {"number": number}, "bin": {"code": "A1"},
        "change": {"value": change}, "reason": "counted"});
    Asked::new("LedgerService/AdjustStock", &[booking])
}

/// The part of one cycle.
pub(super) fn part_of(client: usize, cycle: u64) -> String {
    format!("K{client}-{cycle}")
}

/// Nine writes that nobody else's can hinder: at the end 3 of the part are on hand, none reserved.
fn cycle_of(client: usize, cycle: u64) -> Vec<Asked> {
    let part = part_of(client, cycle);
    let build = json!({"number": format!("B{client}-{cycle}")});
    let line = |quantity: &str| json!([{"lineNumber": 1, "quantity": {"value": quantity}, "bin": {"code": "A1"}}]);
    let created = json!({"number": build["number"], "vehicle": "Van",
        "stages": [{"name": "Body", "plannedDays": 2}],
        "lines": [{"stageName": "Body", "part": {"number": part}, "quantity": {"value": "3"}}]});
    let of_build =
        |method: &str, message| Asked::new(&format!("BuildService/{method}"), &[message]);
    vec![
        new_part(&part),
        adjust(&part, "5"),
        adjust(SHARED, "1"),
        of_build("CreateBuild", created),
        of_build("OpenBuild", json!({"build": build})),
        of_build("IssueStock", json!({"build": build, "lines": line("2")})),
        of_build("ReturnToStock", json!({"build": build, "lines": line("1")})),
        adjust(&part, "-1"),
        of_build("CancelBuild", json!({"build": build, "reason": "the customer withdrew"})),
    ]
}
