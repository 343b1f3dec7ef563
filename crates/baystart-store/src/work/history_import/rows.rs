//! The rows of one piece: what was there, then one statement for all.

use super::batch::Batch;
use crate::convert::{corrupt, day, own_day};
use crate::entity::past_line;
use crate::error::Fault;
use crate::past::{FirstRow, HistoryCounts, HistoryEvent, PastRow};
use crate::txn::Txn;
use crate::write;
use baystart_core::leadtime::history::CancelledBy;
use chrono::NaiveDate;
use sea_orm::{ConnectionTrait, DbBackend, Statement, Value};
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::fmt::Write as _;
use uuid::Uuid;

/// What makes an order line one line: supplier, order, line, part.
type Key = (Uuid, String, i64, String);

/// What is known of a line that is there.
struct KnownLine {
    digest: Vec<u8>,
    placed_on: NaiveDate,
    batch: i64,
    seen: i64,
    replaces: bool,
}

/// What came of some rows.
#[derive(Default)]
pub struct Written {
    pub created: i64,
    pub changed: i64,
    pub unchanged: i64,
    /// Rows that the same import had before.
    pub twice: Vec<HistoryEvent>,
}

impl Written {
    /// Adds what was written to what was before.
    pub fn add_to(&self, counts: &mut HistoryCounts) {
        counts.created += self.created;
        counts.changed += self.changed;
        counts.unchanged += self.unchanged;
    }
}

/// Writes rows that nobody had before, without looking first, which costs as
/// much again; None, and part of it is written: some were there.
pub async fn write_new(
    txn: &Txn,
    batch: &Batch,
    rows: &[PastRow],
) -> Result<Option<Written>, Fault> {
    let models: Vec<past_line::Model> = rows.iter().map(|row| model(batch, row)).collect();
    let added = write::add_missing::<past_line::Entity, _>(txn, models).await?;
    if usize::try_from(added) != Ok(rows.len()) {
        return Ok(None);
    }
    let created = i64::try_from(added).unwrap_or(i64::MAX);
    Ok(Some(Written { created, ..Written::default() }))
}

/// Writes the rows, counts them, and says which come twice.
pub async fn write(txn: &Txn, batch: &Batch, rows: &[PastRow]) -> Result<Written, Fault> {
    let mut out = Written::default();
    let mut lines: HashMap<Key, u64> = HashMap::with_capacity(rows.len());
    let mut once = Vec::with_capacity(rows.len());
    for row in rows {
        let key = key_of(row);
        if let Some(line) = lines.get(&key) {
            let first = FirstRow::Line(*line);
            out.twice.push(HistoryEvent::Twice { row: Box::new(row.clone()), first });
            continue;
        }
        lines.insert(key, row.file_line);
        once.push(row);
    }
    let kept = kept(txn, batch, lines.into_keys()).await?;
    let mut written = Vec::with_capacity(once.len());
    for row in once {
        let mut model = model(batch, row);
        match kept.get(&key_of(row)) {
            None => out.created += 1,
            Some(kept) if kept.seen == batch.number => {
                let first = FirstRow::PlacedOn(own_day(kept.placed_on)?);
                out.twice.push(HistoryEvent::Twice { row: Box::new(row.clone()), first });
                continue;
            }
            Some(kept) if kept.digest == model.digest => {
                // The row stays; only that it was seen is noted.
                model.batch = kept.batch;
                model.replaces = kept.replaces;
                out.unchanged += 1;
            }
            Some(_) => {
                model.replaces = true;
                out.changed += 1;
            }
        }
        written.push(model);
    }
    write::put::<past_line::Entity, _>(txn, written, &[]).await?;
    Ok(out)
}

fn key_of(row: &PastRow) -> Key {
    let (order, part) = (row.order.normal().to_owned(), row.part.normal().to_owned());
    (row.supplier.0, order, row.line.into(), part)
}

/// The lines that are there already, by key: of those that count the latest; or
/// this batch's own.
async fn kept(
    txn: &Txn,
    batch: &Batch,
    keys: impl ExactSizeIterator<Item = Key>,
) -> Result<HashMap<Key, KnownLine>, Fault> {
    let mut kept: HashMap<Key, KnownLine> = HashMap::new();
    if keys.len() == 0 {
        return Ok(kept);
    }
    let backend = txn.get_database_backend();
    let text = text(backend, keys.len());
    let mut values: Vec<Value> = Vec::with_capacity(4 * keys.len() + 1);
    for (supplier, order, line, part) in keys {
        values.extend([supplier.into(), order.into(), line.into(), part.into()]);
    }
    values.push(batch.shop.0.into());
    let statement = Statement::from_sql_and_values(backend, text, values);
    for row in txn.query_all_raw(statement).await? {
        let of = row.try_get_by_index(6)?;
        if of != batch.number && !batch.counted.contains(&of) {
            continue;
        }
        let key = (
            row.try_get_by_index(0)?,
            row.try_get_by_index(1)?,
            row.try_get_by_index(2)?,
            row.try_get_by_index(3)?,
        );
        if kept.get(&key).is_some_and(|other| other.batch > of) {
            continue;
        }
        let digest: Vec<u8> = row.try_get_by_index(4)?;
        if digest.is_empty() {
            return Err(corrupt("the digest of the past line", format!("{key:?}")).into());
        }
        let (placed_on, seen) = (row.try_get_by_index(5)?, row.try_get_by_index(7)?);
        let replaces = row.try_get_by_index(8)?;
        kept.insert(key, KnownLine { digest, placed_on, batch: of, seen, replaces });
    }
    Ok(kept)
}

/// One look-up a key: SQLite keeps to the order of a CROSS JOIN; PostgreSQL
/// would else keep the plan that was good for the table when it was empty.
fn text(backend: DbBackend, keys: usize) -> String {
    let sqlite = backend == DbBackend::Sqlite;
    // Numbered marks cost SQLite a search each.
    let mark = |number: usize| if sqlite { "?".to_owned() } else { format!("${number}") };
    let mut text = "WITH wanted (supplier, order_number, line, part) AS (VALUES ".to_owned();
    for key in 0..keys {
        let comma = if key == 0 { "" } else { ", " };
        let [a, b, c, d] = [1, 2, 3, 4].map(|first| mark(4 * key + first));
        let _ = write!(text, "{comma}({a}, {b}, {c}, {d})");
    }
    let columns = "p.supplier, p.order_number, p.line, p.part, p.digest, p.placed_on, p.batch, \
                   p.seen, p.replaces";
    let is_it = format!(
        "p.shop = {} AND p.supplier = w.supplier AND p.order_number = w.order_number \
         AND p.line = w.line AND p.part = w.part",
        mark(4 * keys + 1)
    );
    let _ = match sqlite {
        true => write!(text, ") SELECT {columns} FROM wanted w CROSS JOIN past_line p ON {is_it}"),
        false => write!(
            text,
            ") SELECT p.* FROM wanted w CROSS JOIN LATERAL \
             (SELECT {columns} FROM past_line p WHERE {is_it} OFFSET 0) p"
        ),
    };
    text
}

fn model(batch: &Batch, row: &PastRow) -> past_line::Model {
    let mut promises = String::new();
    for (date, known_on) in &row.promises {
        let space = if promises.is_empty() { "" } else { " " };
        let _ = write!(promises, "{space}{date}@{known_on}");
    }
    let (supplier, order_number, line, part) = key_of(row);
    let mut model = past_line::Model {
        shop: batch.shop.0,
        supplier,
        order_number,
        line,
        part,
        batch: batch.number,
        quantity: row.quantity.milli(),
        quoted_days: row.quoted_days.map(i64::from),
        placed_on: day(row.placed_on),
        promises,
        despatched_on: row.despatched_on.map(day),
        received_on: row.received_on.map(day),
        cancelled_on: row.cancelled.map(|(_, on)| day(on)),
        cancelled_by_supplier: matches!(row.cancelled, Some((CancelledBy::Supplier, _))),
        last_known_open_on: row.last_known_open_on.map(day),
        recorded_on: row.recorded_on.map(day),
        rejected: row.rejected.milli(),
        entered: row.entered.text(),
        digest: Vec::new(),
        seen: batch.number,
        replaces: false,
    };
    model.digest = digest(&model);
    model
}

/// SHA-256 over the facts, not over the keys.
fn digest(model: &past_line::Model) -> Vec<u8> {
    let mut hash = Sha256::new();
    hash.update(model.quantity.to_le_bytes());
    hash.update(model.quoted_days.unwrap_or(-1).to_le_bytes());
    hash.update([u8::from(model.cancelled_by_supplier)]);
    let days = [
        Some(model.placed_on),
        model.despatched_on,
        model.received_on,
        model.cancelled_on,
        model.last_known_open_on,
        model.recorded_on,
    ];
    for day in days {
        let days = day.map_or(i64::MIN, |day| i64::from(chrono::Datelike::num_days_from_ce(&day)));
        hash.update(days.to_le_bytes());
    }
    hash.update(model.promises.as_bytes());
    // Lines from before rejections were told keep their digest.
    if model.rejected > 0 {
        hash.update(model.rejected.to_le_bytes());
    }
    // And those of which each fact was entered when the row was.
    hash.update(model.entered.as_bytes());
    hash.finalize().to_vec()
}
