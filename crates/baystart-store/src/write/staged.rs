//! Many rows in two passes, on SQLite, where a writer holds up every shop: first
//! into tables that only this connection sees, while others write; then from
//! there into their own tables by one statement each, in the transaction.
//!
//! Both passes run the same function. In the first, what is no insertion is left
//! out; in the second, the n-th insertion takes the n-th table.

use super::put::insert_from;
use crate::error::Fault;
use crate::txn::Txn;
use sea_orm::sea_query::OnConflict;
use sea_orm::{ConnectionTrait, EntityTrait, IdenStatic, Iterable};
use std::sync::atomic::{AtomicUsize, Ordering};

/// What becomes of rows that are inserted.
#[derive(Debug)]
pub(crate) enum Pass {
    /// They go where they belong.
    Direct,
    /// Into a table of this connection; counts these tables.
    Stage(AtomicUsize),
    /// From there to where they belong; counts those that were used.
    Keep(AtomicUsize),
}

impl Pass {
    pub const fn stage() -> Self {
        Self::Stage(AtomicUsize::new(0))
    }

    pub const fn keep() -> Self {
        Self::Keep(AtomicUsize::new(0))
    }

    /// Whether only insertions are done.
    pub const fn stages(&self) -> bool {
        matches!(self, Self::Stage(_))
    }

    /// Whether a statement is for the second pass.
    pub fn leaves_out(&self, sql: &str) -> bool {
        self.stages() && !sql.starts_with(&format!("INSERT INTO \"{PREFIX}"))
    }
}

/// How the tables of this connection are called.
const PREFIX: &str = "staged_";

fn next(count: &AtomicUsize) -> String {
    format!("{PREFIX}{}", count.fetch_add(1, Ordering::Relaxed))
}

/// Makes the next table of this connection, with the columns of the entity's.
pub async fn table<E: EntityTrait>(txn: &Txn, count: &AtomicUsize) -> Result<String, Fault> {
    let name = next(count);
    let like = E::default();
    let text = format!(
        "CREATE TEMP TABLE {name} AS SELECT {} FROM main.{} LIMIT 0",
        columns::<E>(),
        like.table_name()
    );
    txn.execute_unprepared(&text).await?;
    Ok(name)
}

/// Moves the rows of the next table to where they belong; says how many.
pub async fn keep<E: EntityTrait>(
    txn: &Txn,
    count: &AtomicUsize,
    conflict: Option<&OnConflict>,
) -> Result<u64, Fault> {
    let name = next(count);
    let statement = insert_from::<E>(&name, conflict);
    Ok(txn.execute(&statement).await?.rows_affected())
}

/// The entity's columns, in one order.
fn columns<E: EntityTrait>() -> String {
    let names: Vec<String> =
        E::Column::iter().map(|column| format!("\"{}\"", column.as_str())).collect();
    names.join(", ")
}
