//! Several waiting commands of one shop in one transaction.

use super::decide;
use super::requests::{self, Done};
use super::retry::Tries;
use crate::api::{Answer, Submission};
use crate::convert::micros;
use crate::database::Database;
use crate::error::{Fault, StoreError};
use crate::load;
use crate::txn::Txn;
use crate::warm::{self, ShopState, Then, Warm};
use crate::write::{self, LogRow, Plan};
use baystart_core::command::Scope;
use baystart_core::ids::ShopId;
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;
use uuid::Uuid;

type Outcome = Result<Answer, StoreError>;

/// Longest time of one try; the database's own limits end it earlier.
const TRY_MAX: Duration = Duration::from_secs(60);

/// Runs commands and answers them in their order. A fault that could be one
/// command's own makes each run by itself, so that it hurts no neighbour.
pub async fn run(
    database: &Database,
    warm: &Warm,
    shop: ShopId,
    mut jobs: Vec<Submission>,
) -> Vec<Outcome> {
    let mut tries = Tries::new(database);
    while jobs.len() > 1 {
        match attempt(database, warm, shop, &mut jobs).await {
            Ok(outcomes) => return outcomes,
            Err(fault @ (Fault::Conflict(_) | Fault::Fatal(StoreError::Unavailable(_)))) => {
                if let Err(error) = tries.again(fault).await {
                    return jobs.iter().map(|_| Err(error.clone())).collect();
                }
            }
            Err(_) => break,
        }
    }
    let mut outcomes = Vec::with_capacity(jobs.len());
    for job in jobs {
        outcomes.push(run_one(database, warm, shop, job).await);
    }
    outcomes
}

async fn run_one(database: &Database, warm: &Warm, shop: ShopId, job: Submission) -> Outcome {
    let mut tries = Tries::new(database);
    let mut jobs = [job];
    loop {
        match attempt(database, warm, shop, &mut jobs).await {
            Ok(mut outcomes) => {
                return outcomes.pop().unwrap_or_else(|| {
                    Err(StoreError::Corrupt("a command was not answered".to_owned()))
                });
            }
            Err(fault) => tries.again(fault).await?,
        }
    }
}

async fn attempt(
    database: &Database,
    warm: &Warm,
    shop: ShopId,
    jobs: &mut [Submission],
) -> Result<Vec<Outcome>, Fault> {
    let run = async {
        let txn = database.begin_write().await?;
        match transact(database, warm, &txn, shop, jobs).await {
            Ok((outcomes, None)) => {
                txn.rollback().await?;
                Ok(outcomes)
            }
            Ok((outcomes, Some(written))) => {
                // Until the commit was seen, nobody may take its book for the shop's.
                let unsure = Unsure { warm, shop };
                let Written { commands, states, then } = written;
                database.see(txn.commit().await?, shop, states[1].revision).await?;
                warm.books.committed(shop, states, then);
                warm.commits.tell(shop);
                std::mem::forget(unsure);
                tracing::debug!(%shop, commands, "committed");
                Ok(outcomes)
            }
            Err(fault) => {
                let _ = txn.rollback().await;
                Err(fault)
            }
        }
    };
    tokio::time::timeout(TRY_MAX, run).await.unwrap_or_else(|_| {
        let text = "the database did not answer in time: repeat with the same request id";
        Err(Fault::Fatal(StoreError::Unavailable(text.to_owned())))
    })
}

/// Throws a shop's book away, unless its commit was seen.
struct Unsure<'a> {
    warm: &'a Warm,
    shop: ShopId,
}

impl Drop for Unsure<'_> {
    fn drop(&mut self) {
        self.warm.books.forget(self.shop);
    }
}

/// What the commands of one transaction wrote.
struct Written {
    /// How many took effect.
    commands: usize,
    /// The shop's before and after them.
    states: [ShopState; 2],
    then: Then,
}

/// Decides and writes; None: nothing took effect.
async fn transact(
    database: &Database,
    warm: &Warm,
    txn: &Txn,
    shop: ShopId,
    jobs: &mut [Submission],
) -> Result<(Vec<Outcome>, Option<Written>), Fault> {
    let row = database.lock_shop(txn, shop).await?;
    let before = ShopState::of(&row);
    let ids: BTreeSet<Uuid> = jobs.iter().map(|job| job.request_id).collect();
    let mut done = requests::done(txn, shop, &ids).await?;
    let scope = scope_of(jobs, &done);
    // The lock is held: what is warm at this state is what is there.
    let kept = match warm::covers(&scope) {
        true => warm.at_lock(txn, shop, before).await?,
        false => None,
    };
    let is_whole = kept.is_some();
    let mut book = match kept {
        Some(book) => book,
        None => load::load_of(txn, shop, &row, &scope).await?.book,
    };
    let mut changes = Vec::new();
    let mut revision = before.revision;
    let mut plan = Plan::new(&book, before);
    let mut log = Vec::new();
    let mut outcomes = Vec::with_capacity(jobs.len());
    for job in jobs {
        let written = requests::Written::of(&job.command)?;
        let digest = written.digest;
        if let Some(done) = done.get(&job.request_id) {
            outcomes.push(requests::repeat(job.request_id, digest, done));
            continue;
        }
        let decided = match decide::run(&mut book, job, revision + 1)? {
            Ok(decided) => decided,
            Err(refusal) => {
                outcomes.push(Err(refusal.into()));
                continue;
            }
        };
        revision += 1;
        let recorded_at = micros(job.now);
        plan.add(revision, recorded_at, &decided.decision.changes);
        if !is_whole {
            changes.extend(decided.decision.changes.iter().cloned());
        }
        log.push(LogRow {
            revision,
            recorded_at,
            actor: job.actor.clone(),
            request: job.request_id,
            digest,
            command: written.name,
            imports: false,
            subject: decided.decision.subject,
            summary: LogRow::summary(&book, &decided.decision),
            response: decided.response.clone(),
        });
        // A copy of the request may wait in the same batch.
        let answered = Done { digest: digest.to_vec(), response: decided.response.clone() };
        done.insert(job.request_id, answered);
        outcomes.push(Ok(Answer { bytes: decided.response, replayed: false }));
    }
    let commands = log.len();
    if commands == 0 {
        return Ok((outcomes, None));
    }
    write::apply(txn, shop, &plan).await?;
    let after = write::write_log(txn, shop, log, &plan).await?.unwrap_or(before);
    let then = if is_whole { Then::Is(Box::new(book)) } else { Then::Changed(changes) };
    Ok((outcomes, Some(Written { commands, states: [before, after], then })))
}

/// One slice for all commands that are not repeats. It is as good as a slice
/// for each: it holds everything that binds its parts.
fn scope_of(jobs: &[Submission], done: &BTreeMap<Uuid, Done>) -> Scope {
    let mut all = Scope::default();
    for job in jobs {
        if done.contains_key(&job.request_id) {
            continue;
        }
        all.join(job.command.scope());
    }
    all
}
