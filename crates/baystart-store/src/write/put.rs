//! Inserting and replacing many rows of one table.

use crate::error::Fault;
use crate::txn::Txn;
use sea_orm::sea_query::OnConflict;
use sea_orm::{
    ActiveModelTrait, EntityTrait, Insert, IntoActiveModel, Iterable, PrimaryKeyToColumn,
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
    mut rows: Vec<E::Model>,
    conflict: Option<OnConflict>,
) -> Result<u64, Fault>
where
    E: EntityTrait,
    E::Model: IntoActiveModel<A>,
    A: ActiveModelTrait<Entity = E>,
{
    let mut written = 0;
    let at_once = PARAMETERS_MAX / E::Column::iter().count().max(1);
    while !rows.is_empty() {
        let rest = rows.split_off(rows.len().min(at_once));
        let mut statement = Insert::<A>::many(rows);
        if let Some(conflict) = &conflict {
            statement = statement.on_conflict(conflict.clone());
        }
        written += statement.exec_without_returning(txn).await?;
        rows = rest;
    }
    Ok(written)
}
