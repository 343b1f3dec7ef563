//! Pages of lists: by key, after the last row of the page before.

mod catalogue;
pub mod changes;
mod past_rows;
mod shop;
mod work;

use crate::error::Fault;
use crate::txn::Txn;
use sea_orm::ConnectionTrait;
use sea_orm::{EntityTrait, FromQueryResult, Statement, Value};
use uuid::Uuid;

/// Rows of one entity by a text with numbered parameters.
async fn rows<E: EntityTrait>(
    txn: &Txn,
    text: &str,
    values: Vec<Value>,
) -> Result<Vec<E::Model>, Fault> {
    let statement = Statement::from_sql_and_values(txn.get_database_backend(), text, values);
    Ok(E::find().from_raw_sql(statement).all(txn).await?)
}

#[derive(FromQueryResult)]
struct IdRow {
    id: Uuid,
}

/// Ids by a text with numbered parameters.
async fn ids(txn: &Txn, text: &str, values: Vec<Value>) -> Result<Vec<Uuid>, Fault> {
    let statement = Statement::from_sql_and_values(txn.get_database_backend(), text, values);
    let rows = IdRow::find_by_statement(statement).all(txn).await?;
    Ok(rows.into_iter().map(|row| row.id).collect())
}
