//! Clearing away what no longer counts, in pieces and in the background: rows
//! that later ones replaced, and rows of batches that came to nothing. Until
//! then nobody looks at them.

use crate::database::Database;
use crate::entity::{past_batch, past_line};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::ids::ShopId;
use sea_orm::sea_query::{Expr, ExprTrait as _, Query};
use sea_orm::{
    ColumnTrait, ConnectionTrait, DbBackend, EntityTrait, FromQueryResult, QueryFilter, QueryOrder,
    QuerySelect, Statement, Value,
};
use std::fmt::Write as _;
use std::sync::Arc;
use uuid::Uuid;

/// Rows of one piece.
const ROWS: u64 = 900;

/// A row's key within its shop.
#[derive(Clone, Debug, FromQueryResult)]
struct Key {
    supplier: Uuid,
    order_number: String,
    line: i64,
    part: String,
    batch: i64,
}

/// Clears a shop's past lines, as a task that nobody waits for.
pub fn later(database: Arc<Database>, shop: ShopId) {
    tokio::spawn(async move {
        if let Err(fault) = clear(&database, shop).await {
            // It is tried again after the next import.
            tracing::warn!(%shop, ?fault, "past lines that do not count were not cleared away");
        }
    });
}

async fn clear(database: &Database, shop: ShopId) -> Result<(), Fault> {
    let of_shop = past_batch::Entity::find().filter(past_batch::COLUMN.shop.eq(shop.0));
    let batches = of_shop.all(&database.single).await?;
    while replaced(database, shop).await? {}
    let last = batches.iter().map(|batch| batch.number).max().unwrap_or(0);
    let given_up = batches.iter().filter(|batch| batch.ended && batch.revision.is_none());
    for number in given_up.filter(|batch| !batch.cleared).map(|batch| batch.number) {
        let mut after = None;
        while given_up_rows(database, shop, number, &mut after).await? {}
        let txn = database.begin_write().await?;
        past_batch::Entity::update_many()
            .col_expr(past_batch::Column::Cleared, Expr::value(true))
            .filter(past_batch::COLUMN.shop.eq(shop.0))
            .filter(past_batch::COLUMN.number.eq(number))
            .exec(&txn)
            .await?;
        // The last one stays, so that no number is ever used again.
        past_batch::Entity::delete_many()
            .filter(past_batch::COLUMN.shop.eq(shop.0))
            .filter(past_batch::COLUMN.cleared.eq(true))
            .filter(past_batch::COLUMN.number.lt(last))
            .exec(&txn)
            .await?;
        txn.commit().await?.seen();
    }
    Ok(())
}

/// One piece of the rows that stand behind others; whether there may be more.
async fn replaced(database: &Database, shop: ShopId) -> Result<bool, Fault> {
    let counted = Query::select()
        .column(past_batch::Column::Number)
        .from(past_batch::Entity)
        .and_where(past_batch::COLUMN.shop.eq(shop.0))
        .and_where(past_batch::Column::Revision.is_not_null())
        .to_owned();
    let fronts = keys()
        .filter(past_line::COLUMN.shop.eq(shop.0))
        .filter(past_line::COLUMN.replaces.eq(true))
        .filter(past_line::Column::Batch.in_subquery(counted))
        .into_model::<Key>()
        .all(&database.single)
        .await?;
    if fronts.is_empty() {
        return Ok(false);
    }
    let txn = database.begin_write().await?;
    by_index(&txn).await?;
    let behind = "SELECT p.supplier, p.order_number, p.line, p.part, p.batch FROM past_line p";
    let same = "p.supplier = w.supplier AND p.order_number = w.order_number AND p.line = w.line \
                AND p.part = w.part AND p.batch < w.batch";
    let text = match txn.get_database_backend() {
        DbBackend::Sqlite => {
            behind.replace(" FROM past_line p", " FROM wanted w CROSS JOIN past_line p")
        }
        _ => behind.replace(" FROM past_line p", " FROM wanted w JOIN past_line p ON TRUE"),
    };
    let text = format!("{text} WHERE {same} AND p.shop = ");
    let behind = Key::find_by_statement(wanted(&txn, &text, &fronts, shop)).all(&txn).await?;
    if !behind.is_empty() {
        txn.execute_raw(of_keys(&txn, "DELETE FROM past_line", &behind, shop)).await?;
    }
    let text = "UPDATE past_line SET replaces = FALSE";
    txn.execute_raw(of_keys(&txn, text, &fronts, shop)).await?;
    txn.commit().await?.seen();
    Ok(true)
}

/// One piece of the rows of a batch that never counts; whether there may be more.
async fn given_up_rows(
    database: &Database,
    shop: ShopId,
    number: i64,
    after: &mut Option<Key>,
) -> Result<bool, Fault> {
    let mut found =
        keys().filter(past_line::COLUMN.shop.eq(shop.0)).filter(past_line::COLUMN.batch.eq(number));
    if let Some(key) = after {
        let columns = Expr::tuple(KEY.map(Expr::col));
        let values = Expr::tuple([
            Expr::value(key.supplier),
            Expr::value(key.order_number.clone()),
            Expr::value(key.line),
            Expr::value(key.part.clone()),
            Expr::value(key.batch),
        ]);
        found = found.filter(columns.gt(values));
    }
    let rows = found.into_model::<Key>().all(&database.single).await?;
    let Some(last) = rows.last().cloned() else { return Ok(false) };
    let txn = database.begin_write().await?;
    by_index(&txn).await?;
    txn.execute_raw(of_keys(&txn, "DELETE FROM past_line", &rows, shop)).await?;
    txn.commit().await?.seen();
    *after = Some(last);
    Ok(true)
}

const KEY: [past_line::Column; 5] = [
    past_line::Column::Supplier,
    past_line::Column::OrderNumber,
    past_line::Column::Line,
    past_line::Column::Part,
    past_line::Column::Batch,
];

/// The keys of rows, in their order, one piece.
fn keys() -> sea_orm::Select<past_line::Entity> {
    let mut found = past_line::Entity::find().select_only().columns(KEY).limit(ROWS);
    for column in KEY {
        found = found.order_by_asc(column);
    }
    found
}

/// PostgreSQL's planner guesses wrongly at lists of keys.
async fn by_index(txn: &Txn) -> Result<(), Fault> {
    if txn.get_database_backend() != DbBackend::Sqlite {
        let text = "SET LOCAL enable_seqscan = off; SET LOCAL enable_hashjoin = off;
            SET LOCAL enable_mergejoin = off";
        txn.execute_unprepared(text).await?;
    }
    Ok(())
}

/// `rest` ends where the shop's value comes.
fn wanted(txn: &Txn, rest: &str, keys: &[Key], shop: ShopId) -> Statement {
    let text = "WITH wanted (supplier, order_number, line, part, batch) AS (VALUES ";
    listed(txn, text, &format!(") {rest}"), keys, shop)
}

fn of_keys(txn: &Txn, text: &str, keys: &[Key], shop: ShopId) -> Statement {
    let text = format!("{text} WHERE (supplier, order_number, line, part, batch) IN (VALUES ");
    listed(txn, &text, ") AND shop = ", keys, shop)
}

fn listed(txn: &Txn, before: &str, after: &str, keys: &[Key], shop: ShopId) -> Statement {
    let backend = txn.get_database_backend();
    let mark = |number: usize| match backend {
        // Numbered marks cost SQLite a search each.
        DbBackend::Sqlite => "?".to_owned(),
        _ => format!("${number}"),
    };
    let mut text = before.to_owned();
    let mut values: Vec<Value> = Vec::with_capacity(5 * keys.len() + 1);
    for (i, key) in keys.iter().enumerate() {
        let comma = if i == 0 { "" } else { ", " };
        let [a, b, c, d, e] = [1, 2, 3, 4, 5].map(|first| mark(5 * i + first));
        let _ = write!(text, "{comma}({a}, {b}, {c}, {d}, {e})");
        values.extend([
            key.supplier.into(),
            key.order_number.clone().into(),
            key.line.into(),
            key.part.clone().into(),
            key.batch.into(),
        ]);
    }
    let _ = write!(text, "{after}{}", mark(5 * keys.len() + 1));
    values.push(shop.0.into());
    Statement::from_sql_and_values(backend, text, values)
}
