//! An import of past order lines: rows are written in pieces while they come
//! in, as a batch that does not count yet; one short commit makes all of them
//! count. Evidence only: nothing is decided on a book.
//!
//! So rows that trickle in hold nobody, a million rows never hold the writer for
//! longer than a piece takes, and an import that ends early leaves nothing that
//! anybody sees. What it leaves behind is cleared away in pieces too.

mod batch;
mod clear;
mod piece;
mod rows;

use super::decide::guarded;
use super::retry::Tries;
use super::{bulk, requests};
use crate::api::Answer;
use crate::convert::micros;
use crate::database::Database;
use crate::entity::{part, past_line};
use crate::error::{Fault, StoreError};
use crate::load;
use crate::past::{HistoryCounts, HistoryDone, HistoryImport};
use crate::txn::Txn;
use crate::write::{self, LogRow};
use batch::Batch;
use baystart_core::decide::Subject;
use baystart_core::ids::ShopId;
use baystart_core::refusal::{Reason, Refusal};
use sea_orm::sea_query::{Expr, ExprTrait as _, Query};
use sea_orm::{EntityTrait, PaginatorTrait, QueryFilter};
use std::collections::BTreeSet;
use std::sync::Arc;
use uuid::Uuid;

/// How the file ended.
struct End {
    counts: HistoryCounts,
    digest: [u8; 32],
    dry_run: bool,
    refused: bool,
}

/// Takes the rows and keeps all of them, or none.
pub(crate) async fn run(
    database: &Arc<Database>,
    mut import: HistoryImport,
) -> Result<Answer, StoreError> {
    let shop = import.shop;
    if let Some(answer) = known(database, &mut import).await? {
        return Ok(answer);
    }
    let batch = Batch::open(database, shop).await?;
    let answer = match piece::take_rows(database, &batch, &mut import).await {
        Ok(end) => end_with(database, &batch, &mut import, end).await,
        Err(error) => Err(error),
    };
    if !matches!(answer, Ok((_, true))) {
        // At worst the next import finds that this one said nothing for long.
        if let Err(error) = batch.give_up(database).await {
            tracing::warn!(%shop, %error, "an import that came to nothing was left as it is");
        }
    }
    clear::later(Arc::clone(database), shop);
    answer.map(|(answer, _)| answer)
}

/// The answer of a request that took effect before: nothing is written for it.
async fn known(
    database: &Database,
    import: &mut HistoryImport,
) -> Result<Option<Answer>, StoreError> {
    let (shop, id) = (import.shop, import.request_id);
    let txn = database.begin_read().await?;
    let there = requests::done(&txn, shop, &BTreeSet::from([id])).await?.contains_key(&id);
    txn.done().await?;
    if !there {
        return Ok(None);
    }
    // The digest comes with the last step.
    let (digest, dry_run) = piece::pass_over(database, &mut import.steps).await?;
    if dry_run {
        let message = format!("request {id} was used for another command");
        return Err(Refusal::new(Reason::RequestReused, message).into());
    }
    let txn = database.begin_read().await?;
    let answer = repeat(&txn, shop, id, digest).await?;
    txn.done().await?;
    Ok(answer)
}

/// Returns the answer, and whether the batch counts now.
async fn end_with(
    database: &Database,
    batch: &Batch,
    import: &mut HistoryImport,
    end: End,
) -> Result<(Answer, bool), StoreError> {
    if end.refused || end.dry_run {
        return without_keeping(database, batch, import, end).await;
    }
    let parts_unknown = parts_unknown(database, batch).await?;
    let counts = HistoryCounts { parts_unknown, ..end.counts };
    let txn = bulk::locked(database, batch.shop, &mut Tries::new(database)).await?;
    let outcome = keep(&txn, batch, import, &End { counts, ..end }).await;
    let counts_now = counts.created + counts.changed > 0 && matches!(outcome, Ok((_, Some(_))));
    let answer = bulk::ended(database, batch.shop, txn, outcome).await?;
    Ok((answer, counts_now))
}

/// A dry run, or bad rows; a repeat of a request is answered all the same.
async fn without_keeping(
    database: &Database,
    batch: &Batch,
    import: &mut HistoryImport,
    end: End,
) -> Result<(Answer, bool), StoreError> {
    let parts_unknown = if end.refused { 0 } else { parts_unknown(database, batch).await? };
    let txn = database.begin_read().await?;
    let revision = load::shop_row(&txn, batch.shop).await?.revision;
    let repeat = match end.dry_run {
        true => None,
        false => repeat(&txn, batch.shop, import.request_id, end.digest).await?,
    };
    txn.done().await?;
    if let Some(answer) = repeat {
        return Ok((answer, false));
    }
    if end.refused {
        let text = "rows are bad; nothing was kept";
        return Err(Refusal::new(Reason::ImportRefused, text).into());
    }
    let counts = HistoryCounts { parts_unknown, ..end.counts };
    let bytes = answered(import, counts, true, revision)?;
    Ok((Answer { bytes, replayed: false }, false))
}

async fn repeat(
    txn: &Txn,
    shop: ShopId,
    id: Uuid,
    digest: [u8; 32],
) -> Result<Option<Answer>, Fault> {
    let done = requests::done(txn, shop, &BTreeSet::from([id])).await?;
    match done.get(&id) {
        Some(done) => Ok(Some(requests::repeat(id, digest, done)?)),
        None => Ok(None),
    }
}

/// The one step that makes the rows count; returns the revision that it made.
async fn keep(
    txn: &Txn,
    batch: &Batch,
    import: &mut HistoryImport,
    end: &End,
) -> Result<(Answer, Option<i64>), Fault> {
    if let Some(answer) = repeat(txn, batch.shop, import.request_id, end.digest).await? {
        return Ok((answer, None));
    }
    let found = load::shop_row(txn, batch.shop).await?;
    let revision = found.revision + 1;
    let HistoryCounts { created, changed, unchanged, .. } = end.counts;
    // Without rows of its own it is not kept as one whose rows count.
    match created + changed > 0 {
        true => batch.count_from(txn, revision).await?,
        false => batch.touch(txn).await?,
    }
    let bytes = answered(import, end.counts, false, revision)?;
    let summary =
        serde_json::json!({ "created": created, "changed": changed, "unchanged": unchanged });
    let log = LogRow {
        revision,
        recorded_at: micros(import.now),
        actor: import.actor.clone(),
        request: import.request_id,
        digest: end.digest,
        command: "ImportHistory".to_owned(),
        imports: true,
        subject: Subject::None,
        summary: summary.to_string(),
        response: bytes.clone(),
    };
    let commit = Uuid::new_v4();
    write::write_log_rows(txn, batch.shop, vec![log], [found.commit_id, commit]).await?;
    write::set_revision(txn, batch.shop, (revision, commit), created + changed > 0).await?;
    Ok((Answer { bytes, replayed: false }, Some(revision)))
}

fn answered(
    import: &mut HistoryImport,
    counts: HistoryCounts,
    dry_run: bool,
    revision: i64,
) -> Result<Vec<u8>, Fault> {
    let answer = std::mem::replace(&mut import.answer, Box::new(|_| Vec::new()));
    let done = HistoryDone { counts, dry_run, revision, recorded_at: micros(import.now) };
    guarded(|| answer(&done))
}

/// Rows of this import whose part is not in the catalogue.
async fn parts_unknown(database: &Database, batch: &Batch) -> Result<i64, Fault> {
    let known = Query::select()
        .expr(Expr::val(1))
        .from(part::Entity)
        .and_where(Expr::col((part::Entity, part::Column::Shop)).eq(batch.shop.0))
        .and_where(
            Expr::col((part::Entity, part::Column::Normal))
                .equals((past_line::Entity, past_line::Column::Part)),
        )
        .to_owned();
    let txn = database.begin_read().await?;
    database.allow_long(&txn).await?;
    let unknown = past_line::Entity::find()
        .filter(past_line::COLUMN.shop.eq(batch.shop.0))
        .filter(past_line::COLUMN.seen.eq(batch.number))
        .filter(Expr::exists(known).not())
        .count(&txn)
        .await?;
    txn.done().await?;
    Ok(i64::try_from(unknown).unwrap_or(i64::MAX))
}
