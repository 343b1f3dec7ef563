//! Inserting and replacing many rows of one table.

use super::staged::{self, Pass};
use crate::error::Fault;
use crate::txn::Txn;
use sea_orm::sea_query::{Alias, Expr, InsertStatement, OnConflict, Query};
use sea_orm::{
    ActiveModelTrait, ConnectionTrait, EntityTrait, IdenStatic, Insert, IntoActiveModel, Iterable,
    PrimaryKeyToColumn, QueryTrait,
};

/// Parameters in one statement: below the least limit of both databases
/// (SQLite 32,766; PostgreSQL 65,535).
const PARAMETERS_MAX: usize = 16_000;

/// Inserts rows; those whose key exists replace every column that is not kept.
pub async fn put<E, A>(txn: &Txn, rows: Vec<E::Model>, kept: &[&str]) -> Result<(), Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    let keys: Vec<E::Column> = E::PrimaryKey::iter().map(PrimaryKeyToColumn::into_column).collect();
    let replaced: Vec<E::Column> = E::Column::iter()
        .filter(|column| {
            let name = sea_orm::IdenStatic::as_str(column);
            let is_key = keys.iter().any(|key| sea_orm::IdenStatic::as_str(key) == name);
            !is_key && !kept.contains(&name)
        })
        .collect();
    let conflict = OnConflict::columns(keys).update_columns(replaced).to_owned();
    insert::<E, A>(txn, rows, Some(conflict)).await.map(|_| ())
}

/// Inserts rows; one whose key exists is an error.
pub async fn add<E, A>(txn: &Txn, rows: Vec<E::Model>) -> Result<(), Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    insert::<E, A>(txn, rows, None).await.map(|_| ())
}

/// Inserts rows that nobody is known to have; to one that exists all the same,
/// the named columns are added.
///
/// Only for rows that are sound by themselves: a CHECK looks at the row as it
/// would be inserted, even where it is added.
pub async fn add_to<E, A>(txn: &Txn, rows: Vec<E::Model>, added: &[&str]) -> Result<(), Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    let keys = E::PrimaryKey::iter().map(PrimaryKeyToColumn::into_column);
    let mut conflict = OnConflict::columns(keys.collect::<Vec<E::Column>>());
    let table = E::default();
    for column in E::Column::iter().filter(|column| added.contains(&IdenStatic::as_str(column))) {
        let name = IdenStatic::as_str(&column);
        let sum = format!("\"{}\".\"{name}\" + excluded.\"{name}\"", table.table_name());
        conflict.value(column, Expr::cust(sum));
    }
    insert::<E, A>(txn, rows, Some(conflict)).await.map(|_| ())
}

/// Inserts rows; one that exists stays as it is. Answers how many were new.
pub async fn add_missing<E, A>(txn: &Txn, rows: Vec<E::Model>) -> Result<u64, Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    let conflict = OnConflict::new().do_nothing().to_owned();
    insert::<E, A>(txn, rows, Some(conflict)).await
}

async fn insert<E, A>(
    txn: &Txn,
    rows: Vec<E::Model>,
    conflict: Option<OnConflict>,
) -> Result<u64, Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    match &txn.pass {
        Pass::Direct => insert_rows::<E, A>(txn, rows, conflict.as_ref(), None).await,
        _ if rows.is_empty() => Ok(0),
        Pass::Stage(count) => {
            let table = staged::table::<E>(txn, count).await?;
            insert_rows::<E, A>(txn, rows, None, Some(&table)).await
        }
        Pass::Keep(count) => staged::keep::<E>(txn, count, conflict.as_ref()).await,
    }
}

/// Inserts rows into the entity's table, or one like it.
async fn insert_rows<E, A>(
    txn: &Txn,
    rows: Vec<E::Model>,
    conflict: Option<&OnConflict>,
    table: Option<&str>,
) -> Result<u64, Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    let mut written = 0;
    let at_once = PARAMETERS_MAX / E::Column::iter().count().max(1);
    // Taken from the front, not split off: that would copy all that is left, for each statement.
    let mut rows = rows.into_iter();
    loop {
        let some: Vec<_> = rows.by_ref().take(at_once).collect();
        if some.is_empty() {
            return Ok(written);
        }
        let mut statement = Insert::<A>::many(some).into_query();
        if let Some(conflict) = conflict {
            statement.on_conflict(conflict.clone());
        }
        if let Some(table) = table {
            statement.into_table(Alias::new(table));
        }
        written += txn.execute(&statement).await?.rows_affected();
    }
}

/// Inserts all rows of a table of this connection into the entity's own.
pub fn insert_from<E: EntityTrait>(table: &str, conflict: Option<&OnConflict>) -> InsertStatement {
    let mut rows = Query::select();
    rows.columns(E::Column::iter()).from(Alias::new(table));
    // Without a condition SQLite takes what follows for part of the selection.
    rows.and_where(Expr::cust("TRUE"));
    let mut statement = Query::insert();
    statement.into_table(E::default().table_ref()).columns(E::Column::iter());
    // As many columns as values: it cannot fail.
    let _ = statement.select_from(rows);
    if let Some(conflict) = conflict {
        statement.on_conflict(conflict.clone());
    }
    statement
}
