//! An import: everything decided on the whole shop's book, one commit.

use super::decide::{TimeIds, guarded, today};
use super::requests;
use super::retry::Tries;
use crate::api::{Answer, Bulk, BulkDecision, ImportedKeys};
use crate::convert::micros;
use crate::database::Database;
use crate::entity::imported;
use crate::error::{Fault, StoreError};
use crate::load::{self, Loaded};
use crate::write::{self, LogRow, Plan};
use baystart_core::command::Scope;
use baystart_core::decide::{Context, Subject};
use baystart_core::ids::ShopId;
use sea_orm::{DatabaseTransaction, EntityTrait, QueryFilter};
use std::collections::BTreeSet;

pub async fn run(database: &Database, shop: ShopId, bulk: Bulk) -> Result<Answer, StoreError> {
    let mut tries = Tries::new(database);
    let txn = locked(database, shop, &mut tries).await?;
    let outcome = transact(&txn, shop, bulk).await;
    match ended(txn, outcome).await {
        Ok(answer) => Ok(answer),
        // A second constraint fault is the last: the same words for both.
        Err(Fault::Constraint(text)) => {
            tries.again(Fault::Constraint(text.clone())).await?;
            tries.again(Fault::Constraint(text)).await?;
            Err(StoreError::Busy("the import lost a race: try again".to_owned()))
        }
        Err(other) => Err(other.into()),
    }
}

/// A long transaction that has the shop's lock. Only getting it is tried again:
/// an import is decided, or comes in, once.
pub(super) async fn locked(
    database: &Database,
    shop: ShopId,
    tries: &mut Tries,
) -> Result<DatabaseTransaction, StoreError> {
    loop {
        match begin(database, shop).await {
            Ok(txn) => return Ok(txn),
            Err(fault) => tries.again(fault).await?,
        }
    }
}

async fn begin(database: &Database, shop: ShopId) -> Result<DatabaseTransaction, Fault> {
    let txn = database.begin_write().await?;
    database.lock_shop(&txn, shop).await?;
    database.allow_long(&txn).await?;
    Ok(txn)
}

/// Commits where there is something to commit, else takes all back.
pub(super) async fn ended(
    txn: DatabaseTransaction,
    outcome: Result<(Answer, bool), Fault>,
) -> Result<Answer, Fault> {
    match outcome {
        Ok((answer, true)) => {
            txn.commit().await?;
            Ok(answer)
        }
        Ok((answer, false)) => {
            txn.rollback().await?;
            Ok(answer)
        }
        Err(fault) => {
            let _ = txn.rollback().await;
            Err(fault)
        }
    }
}

/// Returns the answer and whether there is something to commit.
async fn transact(
    txn: &DatabaseTransaction,
    shop: ShopId,
    bulk: Bulk,
) -> Result<(Answer, bool), Fault> {
    if !bulk.dry_run {
        let done = requests::done(txn, shop, &BTreeSet::from([bulk.request_id])).await?;
        if let Some(done) = done.get(&bulk.request_id) {
            return Ok((requests::repeat(bulk.request_id, bulk.digest, done)?, false));
        }
    }
    let scope = Scope { all: true, ..Scope::default() };
    let Loaded { mut book, revision, .. } = load::load(txn, shop, &scope).await?;
    let keys = imported_keys(txn, shop).await?;
    let recorded_at = micros(bulk.now);
    let mut plan = Plan::new(&book);
    let decided = {
        let mut context = Context {
            ids: &mut TimeIds,
            today: today(&book, recorded_at)?,
            recorded_at,
            by: &bulk.actor.name,
            secret_hash: None,
            stated_chance: None,
            stock_points: &[],
            revision,
        };
        let decide = bulk.decide;
        off_the_reactor(|| guarded(|| decide(&mut book, &mut context, &keys)))?
    };
    let BulkDecision { changes, imported, answer } =
        decided.map_err(|refusal| Fault::Fatal(refusal.into()))?;
    if bulk.dry_run {
        let bytes = guarded(|| answer(revision, recorded_at))?;
        return Ok((Answer { bytes, replayed: false }, false));
    }
    let revision = revision + 1;
    let bytes = guarded(|| answer(revision, recorded_at))?;
    plan.add(revision, recorded_at, &changes);
    write::apply(txn, shop, &plan).await?;
    let summary = serde_json::json!({ "changes": changes.len(), "facts": imported.len() });
    let log = LogRow {
        revision,
        recorded_at,
        actor: bulk.actor,
        request: bulk.request_id,
        digest: bulk.digest,
        command: "Import".to_owned(),
        subject: Subject::None,
        summary: summary.to_string(),
        response: bytes.clone(),
    };
    write::write_log(txn, shop, vec![log], &plan).await?;
    write::write_imported(txn, shop, revision, imported).await?;
    Ok((Answer { bytes, replayed: false }, true))
}

async fn imported_keys(txn: &DatabaseTransaction, shop: ShopId) -> Result<ImportedKeys, Fault> {
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

/// Lets other tasks go on while thousands of rows are decided; a runtime with
/// one thread has no other thread to give.
fn off_the_reactor<T>(run: impl FnOnce() -> T) -> T {
    match tokio::runtime::Handle::current().runtime_flavor() {
        tokio::runtime::RuntimeFlavor::MultiThread => tokio::task::block_in_place(run),
        _ => run(),
    }
}
