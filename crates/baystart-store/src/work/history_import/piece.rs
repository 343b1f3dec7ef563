//! Rows as they come, written in pieces: each a short transaction of its own.

use super::End;
use super::batch::Batch;
use super::rows::{self, Written};
use crate::database::Database;
use crate::error::{Fault, StoreError};
use crate::past::{HistoryCounts, HistoryEvent, HistoryImport, HistoryStep, PastRow};
use crate::txn::Txn;
use crate::work::retry::Tries;
use sea_orm::ConnectionTrait;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;
use tokio::time::timeout;

/// How long a piece goes on writing what waits, before it lets others write.
const PIECE_MAX: Duration = Duration::from_millis(200);

/// Writes the rows until the file's end. An order line that comes twice is told,
/// and makes the end a refusal.
pub async fn take_rows(
    database: &Database,
    batch: &Batch,
    import: &mut HistoryImport,
) -> Result<End, StoreError> {
    let HistoryImport { steps, told, .. } = import;
    let mut counts = HistoryCounts::default();
    let mut twice = false;
    let mut next = None;
    loop {
        let step = match next.take() {
            Some(step) => step,
            None => wait(database, steps).await?,
        };
        let rows = match step {
            HistoryStep::Rows(rows) => rows,
            HistoryStep::Finish { digest, dry_run, refused } => {
                return Ok(End { counts, digest, dry_run, refused: refused || twice });
            }
        };
        let mut piece = vec![rows];
        let mut tries = Tries::new(database);
        let written = loop {
            match write(database, batch, &mut piece, steps, &mut next).await {
                Ok(written) => break written,
                // Rows that the database refuses, it refuses again.
                Err(fault @ Fault::Constraint(_)) => return Err(fault.into()),
                Err(fault) => tries.again(fault).await?,
            }
        };
        for part in written {
            part.add_to(&mut counts);
            twice |= !part.twice.is_empty();
            part.twice.into_iter().for_each(&mut *told);
        }
        told(HistoryEvent::Written(counts.rows()));
    }
}

/// Takes the rows without writing them; the digest, and whether it was to be a
/// dry run.
pub async fn pass_over(
    database: &Database,
    steps: &mut mpsc::Receiver<HistoryStep>,
) -> Result<([u8; 32], bool), StoreError> {
    loop {
        if let HistoryStep::Finish { digest, dry_run, .. } = wait(database, steps).await? {
            return Ok((digest, dry_run));
        }
    }
}

/// Waits for the next step, while nothing is held.
async fn wait(
    database: &Database,
    steps: &mut mpsc::Receiver<HistoryStep>,
) -> Result<HistoryStep, StoreError> {
    match timeout(database.options.step_timeout, steps.recv()).await {
        Ok(Some(step)) => Ok(step),
        Ok(None) => {
            let text = "the import ended before its last step: nothing was kept";
            Err(StoreError::Unavailable(text.to_owned()))
        }
        Err(_) => {
            let text = format!(
                "no row came for {} s: nothing was kept",
                database.options.step_timeout.as_secs()
            );
            Err(StoreError::Busy(text))
        }
    }
}

/// Writes what is there, and what has come meanwhile, as one transaction; `piece`
/// keeps what was taken, so that it can be written again.
async fn write(
    database: &Database,
    batch: &Batch,
    piece: &mut Vec<Vec<PastRow>>,
    steps: &mut mpsc::Receiver<HistoryStep>,
    next: &mut Option<HistoryStep>,
) -> Result<Vec<Written>, Fault> {
    if batch.first
        && let Some(written) = write_new(database, batch, piece).await?
    {
        return Ok(written);
    }
    let since = Instant::now();
    let txn = database.begin_write().await?;
    let outcome = async {
        plan_by_index(database, &txn).await?;
        let mut written = Vec::new();
        let mut at = 0;
        loop {
            while let Some(rows) = piece.get(at) {
                written.push(rows::write(&txn, batch, rows).await?);
                at += 1;
            }
            if next.is_some() || since.elapsed() >= PIECE_MAX {
                break;
            }
            match steps.try_recv() {
                Ok(HistoryStep::Rows(rows)) => piece.push(rows),
                Ok(end) => *next = Some(end),
                Err(_) => break,
            }
        }
        batch.touch(&txn).await?;
        Ok(written)
    };
    let outcome = outcome.await;
    ended(txn, outcome).await
}

/// The same for a shop without past lines: without looking at what is there.
async fn write_new(
    database: &Database,
    batch: &Batch,
    piece: &[Vec<PastRow>],
) -> Result<Option<Vec<Written>>, Fault> {
    let txn = database.begin_write().await?;
    let outcome = async {
        let mut written = Vec::new();
        for rows in piece {
            match rows::write_new(&txn, batch, rows).await? {
                Some(part) => written.push(part),
                None => return Ok(None),
            }
        }
        batch.touch(&txn).await?;
        Ok(Some(written))
    };
    match outcome.await {
        Ok(None) => {
            txn.rollback().await?;
            Ok(None)
        }
        outcome => ended(txn, outcome).await,
    }
}

/// Nothing is answered on the strength of a piece, so nobody looks for it.
async fn ended<T>(txn: Txn, outcome: Result<T, Fault>) -> Result<T, Fault> {
    match outcome {
        Ok(done) => {
            txn.commit().await?.seen();
            Ok(done)
        }
        Err(fault) => {
            let _ = txn.rollback().await;
            Err(fault)
        }
    }
}

/// PostgreSQL's planner knows nothing of the rows that were just written, and
/// would read the table as a whole for each piece.
async fn plan_by_index(database: &Database, txn: &Txn) -> Result<(), Fault> {
    if database.is_sqlite() {
        return Ok(());
    }
    let text = ["seqscan", "bitmapscan", "hashjoin", "mergejoin"]
        .map(|way| format!("SET LOCAL enable_{way} = off;"))
        .concat();
    txn.execute_unprepared(&text).await?;
    Ok(())
}
