//! An import of past order lines: rows come in while they are written, one
//! commit at the end. Evidence only: nothing is decided on a book.

mod batch;

use super::decide::guarded;
use super::retry::Tries;
use super::{bulk, requests};
use crate::api::Answer;
use crate::convert::micros;
use crate::database::Database;
use crate::entity::{part, past_line};
use crate::error::{Fault, StoreError};
use crate::load;
use crate::past::{HistoryCounts, HistoryDone, HistoryEvent, HistoryImport, HistoryStep};
use crate::write::{self, LogRow};
use baystart_core::decide::Subject;
use baystart_core::ids::ShopId;
use baystart_core::refusal::{Reason, Refusal};
use sea_orm::sea_query::{Expr, ExprTrait as _, Query};
use sea_orm::{ConnectionTrait, DatabaseTransaction, EntityTrait, PaginatorTrait, QueryFilter};
use std::collections::BTreeSet;
use tokio::time::timeout;

pub async fn run(
    database: &Database,
    shop: ShopId,
    mut import: HistoryImport,
) -> Result<Answer, StoreError> {
    let txn = bulk::locked(database, shop, &mut Tries::new(database)).await?;
    let outcome = transact(database, &txn, shop, &mut import).await;
    Ok(bulk::ended(txn, outcome).await?)
}

/// PostgreSQL's planner knows nothing of the rows that this transaction writes,
/// and would read the table as a whole for each batch.
async fn plan_by_index(
    database: &Database,
    txn: &DatabaseTransaction,
    only: bool,
) -> Result<(), Fault> {
    if database.is_sqlite() {
        return Ok(());
    }
    let others = if only { "off" } else { "on" };
    let text = ["seqscan", "bitmapscan", "hashjoin", "mergejoin"]
        .map(|way| format!("SET LOCAL enable_{way} = {others};"))
        .concat();
    txn.execute_unprepared(&text).await?;
    Ok(())
}

/// How the file ended.
struct End {
    digest: [u8; 32],
    dry_run: bool,
    refused: bool,
}

/// Returns the answer and whether there is something to commit.
async fn transact(
    database: &Database,
    txn: &DatabaseTransaction,
    shop: ShopId,
    import: &mut HistoryImport,
) -> Result<(Answer, bool), Fault> {
    plan_by_index(database, txn, true).await?;
    let before = load::shop_row(txn, shop).await?.revision;
    let revision = before + 1;
    let (counts, end) = take_rows(database, txn, shop, revision, import).await?;
    if !end.dry_run {
        // The digest is known only now.
        let done = requests::done(txn, shop, &BTreeSet::from([import.request_id])).await?;
        if let Some(done) = done.get(&import.request_id) {
            return Ok((requests::repeat(import.request_id, end.digest, done)?, false));
        }
    }
    if end.refused {
        let refusal = Refusal::new(Reason::ImportRefused, "rows are bad; nothing was kept");
        return Err(Fault::Fatal(refusal.into()));
    }
    plan_by_index(database, txn, false).await?;
    let counts =
        HistoryCounts { parts_unknown: parts_unknown(txn, shop, revision).await?, ..counts };
    let recorded_at = micros(import.now);
    let answer = std::mem::replace(&mut import.answer, Box::new(|_| Vec::new()));
    let told = if end.dry_run { before } else { revision };
    let done = HistoryDone { counts, dry_run: end.dry_run, revision: told, recorded_at };
    let bytes = guarded(|| answer(&done))?;
    let answer = Answer { bytes: bytes.clone(), replayed: false };
    if end.dry_run {
        return Ok((answer, false));
    }
    let HistoryCounts { created, changed, unchanged, .. } = counts;
    let summary =
        serde_json::json!({ "created": created, "changed": changed, "unchanged": unchanged });
    let log = LogRow {
        revision,
        recorded_at,
        actor: import.actor.clone(),
        request: import.request_id,
        digest: end.digest,
        command: "ImportHistory".to_owned(),
        subject: Subject::None,
        summary: summary.to_string(),
        response: bytes,
    };
    write::write_log_rows(txn, shop, vec![log]).await?;
    write::set_revision(txn, shop, revision, created + changed > 0).await?;
    Ok((answer, true))
}

/// Writes the rows as they come, until the file's end. An order line that comes
/// twice is told, and makes the end a refusal.
async fn take_rows(
    database: &Database,
    txn: &DatabaseTransaction,
    shop: ShopId,
    revision: i64,
    import: &mut HistoryImport,
) -> Result<(HistoryCounts, End), Fault> {
    let HistoryImport { steps, told, .. } = import;
    let any = past_line::Entity::find().filter(past_line::COLUMN.shop.eq(shop.0));
    let empty = any.one(txn).await?.is_none();
    let target = batch::Target { database, txn, shop, revision, empty };
    let mut counts = HistoryCounts::default();
    let mut twice = false;
    loop {
        let step = timeout(database.options.step_timeout, steps.recv()).await;
        match step {
            Ok(Some(HistoryStep::Rows(rows))) => {
                let mut tell = |event: HistoryEvent| {
                    twice |= matches!(event, HistoryEvent::Twice { .. });
                    told(event);
                };
                batch::write(&target, rows, &mut counts, &mut tell).await?;
                told(HistoryEvent::Written(counts.rows()));
            }
            Ok(Some(HistoryStep::Finish { digest, dry_run, refused })) => {
                return Ok((counts, End { digest, dry_run, refused: refused || twice }));
            }
            Ok(None) => {
                let text = "the import ended before its last step: nothing was kept";
                return Err(Fault::Fatal(StoreError::Unavailable(text.to_owned())));
            }
            Err(_) => {
                let text = format!(
                    "no row came for {} s, and others wait: nothing was kept",
                    database.options.step_timeout.as_secs()
                );
                return Err(Fault::Fatal(StoreError::Busy(text)));
            }
        }
    }
}

/// Rows of this import whose part is not in the catalogue.
async fn parts_unknown(
    txn: &DatabaseTransaction,
    shop: ShopId,
    revision: i64,
) -> Result<i64, Fault> {
    let known = Query::select()
        .expr(Expr::val(1))
        .from(part::Entity)
        .and_where(Expr::col((part::Entity, part::Column::Shop)).eq(shop.0))
        .and_where(
            Expr::col((part::Entity, part::Column::Normal))
                .equals((past_line::Entity, past_line::Column::Part)),
        )
        .to_owned();
    let unknown = past_line::Entity::find()
        .filter(past_line::COLUMN.shop.eq(shop.0))
        .filter(past_line::COLUMN.revision.eq(revision))
        .filter(Expr::exists(known).not())
        .count(txn)
        .await?;
    Ok(i64::try_from(unknown).unwrap_or(i64::MAX))
}
