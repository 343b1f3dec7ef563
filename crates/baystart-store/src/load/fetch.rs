//! Statements for many ids at once.

use crate::error::Fault;
use crate::txn::Txn;
use sea_orm::sea_query::Expr;
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter, Value};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Ids in one statement; a power of two.
const IDS_MAX: usize = 512;

/// Every row that a condition admits.
pub async fn all<E: EntityTrait>(txn: &Txn, condition: Expr) -> Result<Vec<E::Model>, Fault> {
    Ok(E::find().filter(condition).all(txn).await?)
}

/// Every row whose column holds one of the values and that a condition admits.
///
/// Lists are filled up to a power of two with their last value, so that a
/// database sees few different statements and can keep them prepared.
pub async fn any_of<E, V>(
    txn: &Txn,
    condition: &Expr,
    column: E::Column,
    values: &[V],
) -> Result<Vec<E::Model>, Fault>
where
    E: EntityTrait,
    V: Clone + Into<Value>,
{
    let mut rows = Vec::new();
    for chunk in values.chunks(IDS_MAX) {
        let Some(last) = chunk.last() else { continue };
        let mut list = chunk.to_vec();
        list.resize(chunk.len().next_power_of_two(), last.clone());
        let found = E::find().filter(condition.clone()).filter(column.is_in(list)).all(txn).await?;
        rows.extend(found);
    }
    Ok(rows)
}

/// Every row whose uuid column holds one of the ids.
pub async fn by_ids<E: EntityTrait>(
    txn: &Txn,
    condition: Expr,
    column: E::Column,
    ids: &BTreeSet<Uuid>,
) -> Result<Vec<E::Model>, Fault> {
    let ids: Vec<Uuid> = ids.iter().copied().collect();
    any_of::<E, Uuid>(txn, &condition, column, &ids).await
}
