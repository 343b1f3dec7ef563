//! An import: everything decided on the whole shop's book, one commit.
//!
//! It is decided on a snapshot, while others go on writing; the writer is taken
//! only to keep what was decided, and only if the shop is still at the revision
//! of the snapshot. Where a shop is too busy for that, its own commands wait in
//! their queue for one more decision.

use super::decide::{TimeIds, guarded, today};
use super::requests;
use super::retry::Tries;
use crate::api::{Actor, Answer, Bulk, BulkAnswer, BulkDecide, BulkDecision, ImportedKeys};
use crate::convert::micros;
use crate::database::Database;
use crate::entity::imported;
use crate::error::{Fault, StoreError};
use crate::load::{self, Loaded};
use crate::txn::Txn;
use crate::warm::ShopState;
use crate::write::{self, LogRow, Plan};
use baystart_core::book::Book;
use baystart_core::command::Scope;
use baystart_core::decide::{Context, Subject};
use baystart_core::ids::ShopId;
use baystart_core::refusal::Refusal;
use jiff::Timestamp;
use sea_orm::{EntityTrait, QueryFilter};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Decisions on a snapshot before the shop's other commands are made to wait.
const FREE_TRIES: u32 = 3;
/// Decisions while they wait: only another program can come between.
const QUEUED_TRIES: u32 = 3;

/// What came of an import so far.
pub(crate) enum Step {
    /// It is through.
    Answered(Answer),
    /// Others wrote each time while it was decided.
    Overtaken(Box<Bulk>),
}

/// Decides and keeps, while the shop's other commands go on.
pub(crate) async fn freely(
    database: &Database,
    shop: ShopId,
    bulk: Box<Bulk>,
) -> Result<Step, StoreError> {
    tries(database, shop, bulk, FREE_TRIES).await
}

/// Decides and keeps, while this server's other commands of the shop wait. On
/// PostgreSQL other servers' do too, for the shop's row is locked meanwhile; on
/// SQLite that lock would be every shop's.
pub(crate) async fn queued(
    database: &Database,
    shop: ShopId,
    mut bulk: Box<Bulk>,
) -> Result<Answer, StoreError> {
    if database.is_sqlite() {
        return match tries(database, shop, bulk, QUEUED_TRIES).await? {
            Step::Answered(answer) => Ok(answer),
            Step::Overtaken(_) => {
                let text = "other programs write to this shop all the time: try again";
                Err(StoreError::Busy(text.to_owned()))
            }
        };
    }
    let txn = locked(database, shop, &mut Tries::new(database)).await?;
    let kept = async {
        let prepared = match prepare(&txn, shop, &mut bulk).await? {
            Ready::Answered(answer) => return Ok((answer, None)),
            Ready::Write(prepared) => prepared,
        };
        let revision = prepared.log.revision;
        Ok((keep(&txn, shop, &prepared).await?, Some(revision)))
    };
    let kept = kept.await;
    Ok(ended(database, shop, txn, kept).await?)
}

async fn tries(
    database: &Database,
    shop: ShopId,
    mut bulk: Box<Bulk>,
    tries_max: u32,
) -> Result<Step, StoreError> {
    let mut tries = Tries::new(database);
    for _ in 0..tries_max {
        let prepared = match read(database, shop, &mut bulk).await? {
            Ready::Answered(answer) => return Ok(Step::Answered(answer)),
            Ready::Write(prepared) => prepared,
        };
        left(&bulk)?;
        match commit(database, shop, *prepared, &mut tries).await {
            Ok(Some(answer)) => return Ok(Step::Answered(answer)),
            Ok(None) => {}
            // What was decided does not fit what is there: look again, once.
            Err(fault @ Fault::Constraint(_)) => tries.again(fault).await?,
            Err(fault) => return Err(fault.into()),
        }
        left(&bulk)?;
    }
    Ok(Step::Overtaken(bulk))
}

/// Ends the work for a caller who has gone: nothing is kept yet.
fn left(bulk: &Bulk) -> Result<(), StoreError> {
    match (bulk.abandoned)() {
        true => Err(StoreError::Unavailable(GONE.to_owned())),
        false => Ok(()),
    }
}

/// What nobody is told.
const GONE: &str = "the caller went away: nothing was kept";

/// A long transaction that has the shop's lock.
pub(super) async fn locked(
    database: &Database,
    shop: ShopId,
    tries: &mut Tries,
) -> Result<Txn, StoreError> {
    loop {
        let begun = async {
            let txn = database.begin_write().await?;
            database.lock_shop(&txn, shop).await?;
            database.allow_long(&txn).await?;
            Ok::<_, Fault>(txn)
        };
        match begun.await {
            Ok(txn) => return Ok(txn),
            Err(fault) => tries.again(fault).await?,
        }
    }
}

/// Commits where a revision was made, else takes all back.
pub(super) async fn ended(
    database: &Database,
    shop: ShopId,
    txn: Txn,
    outcome: Result<(Answer, Option<i64>), Fault>,
) -> Result<Answer, Fault> {
    match outcome {
        Ok((answer, Some(revision))) => {
            database.see(txn.commit().await?, shop, revision).await?;
            Ok(answer)
        }
        Ok((answer, None)) => {
            txn.rollback().await?;
            Ok(answer)
        }
        Err(fault) => {
            let _ = txn.rollback().await;
            Err(fault)
        }
    }
}

/// What there is to write.
struct Prepared {
    plan: Plan,
    log: LogRow,
    imported: Vec<(String, String, [u8; 32])>,
}

enum Ready {
    /// A repeat, or a dry run: nothing to write.
    Answered(Answer),
    Write(Box<Prepared>),
}

async fn read(database: &Database, shop: ShopId, bulk: &mut Bulk) -> Result<Ready, StoreError> {
    let txn = database.begin_read().await?;
    database.allow_long(&txn).await?;
    let snapshot = snapshot(&txn, shop, asked(bulk)).await?;
    // The connection goes back before the decision, which may take long.
    txn.done().await?;
    Ok(decide(bulk, snapshot).await?)
}

async fn prepare(txn: &Txn, shop: ShopId, bulk: &mut Bulk) -> Result<Ready, Fault> {
    let snapshot = snapshot(txn, shop, asked(bulk)).await?;
    decide(bulk, snapshot).await
}

/// What a decision needs, or the answer of a repeat.
enum Snapshot {
    Repeat(Answer),
    New { book: Box<Book>, keys: ImportedKeys, state: ShopState },
}

/// The id and digest of a request that is to be kept.
type Asked = Option<(Uuid, [u8; 32])>;

fn asked(bulk: &Bulk) -> Asked {
    (!bulk.dry_run).then_some((bulk.request_id, bulk.digest))
}

async fn snapshot(txn: &Txn, shop: ShopId, asked: Asked) -> Result<Snapshot, Fault> {
    if let Some((id, digest)) = asked {
        let done = requests::done(txn, shop, &BTreeSet::from([id])).await?;
        if let Some(done) = done.get(&id) {
            return Ok(Snapshot::Repeat(requests::repeat(id, digest, done)?));
        }
    }
    let scope = Scope { all: true, ..Scope::default() };
    let Loaded { book, state } = load::load(txn, shop, &scope).await?;
    Ok(Snapshot::New { book: Box::new(book), keys: imported_keys(txn, shop).await?, state })
}

async fn decide(bulk: &mut Bulk, snapshot: Snapshot) -> Result<Ready, Fault> {
    let (mut book, keys, state) = match snapshot {
        Snapshot::Repeat(answer) => return Ok(Ready::Answered(answer)),
        Snapshot::New { book, keys, state } => (book, keys, state),
    };
    let before = state.revision;
    let recorded_at = micros(bulk.now);
    let mut plan = Plan::new(&book, state);
    let run = Run {
        actor: bulk.actor.clone(),
        today: today(&book, recorded_at)?,
        recorded_at,
        revision: before,
    };
    let decider = bulk.decide.take().ok_or_else(|| failed("decided by nobody"))?;
    // Thousands of rows: not on the threads that serve calls.
    let decided = tokio::task::spawn_blocking(move || {
        let mut decider = decider;
        let decided = run.decide(&mut decider, &mut book, &keys);
        (decider, decided)
    });
    let (decider, decided) = decided.await.map_err(|error| failed(&error.to_string()))?;
    bulk.decide = Some(decider);
    let BulkDecision { changes, imported, answer } =
        decided?.map_err(|refusal| Fault::Fatal(refusal.into()))?;
    if bulk.dry_run {
        let bytes = answered(answer, before, recorded_at)?;
        return Ok(Ready::Answered(Answer { bytes, replayed: false }));
    }
    let revision = before + 1;
    plan.add(revision, recorded_at, &changes);
    let summary = serde_json::json!({ "changes": changes.len(), "facts": imported.len() });
    let log = LogRow {
        revision,
        recorded_at,
        actor: bulk.actor.clone(),
        request: bulk.request_id,
        digest: bulk.digest,
        command: "Import".to_owned(),
        imports: true,
        subject: Subject::None,
        summary: summary.to_string(),
        response: answered(answer, revision, recorded_at)?,
    };
    Ok(Ready::Write(Box::new(Prepared { plan, log, imported })))
}

fn failed(text: &str) -> Fault {
    Fault::Fatal(StoreError::Corrupt(format!("an import failed: {text}")))
}

fn answered(answer: BulkAnswer, revision: i64, recorded_at: Timestamp) -> Result<Vec<u8>, Fault> {
    guarded(|| answer(revision, recorded_at))
}

/// What a decision is made with.
struct Run {
    actor: Actor,
    today: jiff::civil::Date,
    recorded_at: Timestamp,
    revision: i64,
}

impl Run {
    fn decide(
        &self,
        decider: &mut BulkDecide,
        book: &mut Book,
        keys: &ImportedKeys,
    ) -> Result<Result<BulkDecision, Refusal>, Fault> {
        let mut context = Context {
            ids: &mut TimeIds,
            today: self.today,
            recorded_at: self.recorded_at,
            by: &self.actor.name,
            secret_hash: None,
            stated_chance: None,
            stock_points: &[],
            revision: self.revision,
        };
        guarded(|| decider(book, &mut context, keys))
    }
}

/// Writes what was decided if the shop is still where it was; None: it is not.
async fn commit(
    database: &Database,
    shop: ShopId,
    prepared: Prepared,
    tries: &mut Tries,
) -> Result<Option<Answer>, Fault> {
    if let Some(txn) = database.begin_aside(prepared.plan.rows()).await? {
        return commit_aside(database, shop, prepared, txn).await;
    }
    let txn = locked(database, shop, tries).await?;
    let kept = keep_unmoved(&txn, shop, &prepared).await;
    end_unmoved(database, shop, &prepared, txn, kept).await
}

/// The same with the rows made ready first.
async fn commit_aside(
    database: &Database,
    shop: ShopId,
    prepared: Prepared,
    mut txn: Txn,
) -> Result<Option<Answer>, Fault> {
    keep(&txn, shop, &prepared).await?;
    let turn = database.write_aside(&mut txn).await?;
    let kept = keep_unmoved(&txn, shop, &prepared).await;
    let ended = end_unmoved(database, shop, &prepared, txn, kept).await;
    drop(turn);
    ended
}

async fn keep_unmoved(
    txn: &Txn,
    shop: ShopId,
    prepared: &Prepared,
) -> Result<Option<Answer>, Fault> {
    if ShopState::of(&load::shop_row(txn, shop).await?) != prepared.plan.found {
        return Ok(None);
    }
    keep(txn, shop, prepared).await.map(Some)
}

async fn end_unmoved(
    database: &Database,
    shop: ShopId,
    prepared: &Prepared,
    txn: Txn,
    kept: Result<Option<Answer>, Fault>,
) -> Result<Option<Answer>, Fault> {
    match kept {
        Ok(Some(answer)) => {
            let revision = Some(prepared.log.revision);
            ended(database, shop, txn, Ok((answer, revision))).await.map(Some)
        }
        Ok(None) => {
            txn.rollback().await?;
            Ok(None)
        }
        Err(fault) => {
            let _ = txn.rollback().await;
            Err(fault)
        }
    }
}

async fn keep(txn: &Txn, shop: ShopId, prepared: &Prepared) -> Result<Answer, Fault> {
    let Prepared { plan, log, imported } = prepared;
    let bytes = log.response.clone();
    write::apply(txn, shop, plan).await?;
    write::write_log(txn, shop, vec![log.clone()], plan).await?;
    write::write_imported(txn, shop, log.revision, imported).await?;
    Ok(Answer { bytes, replayed: false })
}

async fn imported_keys(txn: &Txn, shop: ShopId) -> Result<ImportedKeys, Fault> {
    let rows = imported::Entity::find().filter(imported::COLUMN.shop.eq(shop.0)).all(txn).await?;
    let mut keys = ImportedKeys::new();
    for row in rows {
        let digest = row.digest.try_into().map_err(|_| {
            let text = format!("the import key {} {} has no SHA-256 digest", row.kind, row.key);
            Fault::Fatal(StoreError::Corrupt(text))
        })?;
        keys.insert((row.kind, row.key), digest);
    }
    Ok(keys)
}
