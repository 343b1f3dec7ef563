//! Past use of the parts that are kept in stock, summed by the database.

use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::{Book, PastUse};
use baystart_core::ids::{PartId, ShopId};
use baystart_core::quantity::Quantity;
use chrono::NaiveDate;
use sea_orm::{ConnectionTrait, FromQueryResult, Statement, Value};
use uuid::Uuid;

#[derive(FromQueryResult)]
struct DayRow {
    part: Uuid,
    day: NaiveDate,
    quantity: i64,
}

#[derive(FromQueryResult)]
struct SinceRow {
    part: Uuid,
    day: NaiveDate,
}

const SINCE: &str = "SELECT e.part AS part, MIN(m.occurred_on) AS day \
    FROM entry e JOIN movement m ON m.shop = e.shop AND m.id = e.movement \
    JOIN part p ON p.shop = e.shop AND p.id = e.part \
    WHERE e.shop = $1 AND p.stocked_permille IS NOT NULL GROUP BY e.part";

const DAYS: &str = "SELECT e.part AS part, m.occurred_on AS day, CAST(SUM(e.quantity) AS BIGINT) AS quantity \
    FROM entry e JOIN movement m ON m.shop = e.shop AND m.id = e.movement \
    JOIN part p ON p.shop = e.shop AND p.id = e.part \
    WHERE e.shop = $1 AND p.stocked_permille IS NOT NULL AND e.account IN ('build', 'making') \
    GROUP BY e.part, m.occurred_on";

async fn read<R: FromQueryResult>(txn: &Txn, shop: ShopId, text: &str) -> Result<Vec<R>, Fault> {
    let values: Vec<Value> = vec![shop.0.into()];
    let statement = Statement::from_sql_and_values(txn.get_database_backend(), text, values);
    Ok(R::find_by_statement(statement).all(txn).await?)
}

/// Loads what was used of every part of the shop that is kept in stock.
pub async fn load(txn: &Txn, shop: ShopId, book: &mut Book) -> Result<(), Fault> {
    if !book.parts.values().any(|part| part.stocked.is_some()) {
        return Ok(());
    }
    for row in read::<SinceRow>(txn, shop, SINCE).await? {
        let since = Some(crate::convert::own_day(row.day)?);
        book.used.insert(PartId(row.part), PastUse { since, ..PastUse::default() });
    }
    for row in read::<DayRow>(txn, shop, DAYS).await? {
        let used = book.used.entry(PartId(row.part)).or_default();
        used.days.insert(crate::convert::own_day(row.day)?, Quantity::from_milli(row.quantity));
    }
    Ok(())
}
