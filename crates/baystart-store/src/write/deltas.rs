//! Adding to totals and balances: `usable = usable + ?`, so that the CHECK
//! constraints guard them whoever else writes.

use super::plan::{Delta, Plan};
use super::put::{add_to, put};
use crate::convert::day;
use crate::entity::{bin_balance, stock};
use crate::error::{Fault, StoreError};
use crate::txn::Txn;
use baystart_core::book::model::StockKey;
use baystart_core::ids::{BinId, OrderLineId, ShopId};
use sea_orm::{ConnectionTrait, DbBackend, Statement, Value};
use std::fmt::Write;
use uuid::Uuid;

/// Rows in one statement.
const ROWS_MAX: usize = 500;

/// A text with parameters as the database counts them best.
struct Sql {
    backend: DbBackend,
    text: String,
    values: Vec<Value>,
}

impl Sql {
    fn new(txn: &Txn, text: &str) -> Self {
        let backend = txn.get_database_backend();
        Self { backend, text: text.to_owned(), values: Vec::new() }
    }

    fn push(&mut self, text: &str) {
        self.text.push_str(text);
    }

    fn bind(&mut self, value: impl Into<Value>) {
        self.values.push(value.into());
        // SQLite takes `$1` for a name, and looks for it among all names so far.
        let _ = match self.backend {
            DbBackend::Sqlite => write!(self.text, "?"),
            _ => write!(self.text, "${}", self.values.len()),
        };
    }

    /// `($1, $2)`, with a comma before all but the first.
    fn row(&mut self, first: bool, values: Vec<Value>) {
        self.push(if first { "(" } else { ", (" });
        for (place, value) in values.into_iter().enumerate() {
            if place > 0 {
                self.push(", ");
            }
            self.bind(value);
        }
        self.push(")");
    }

    async fn run(self, txn: &Txn) -> Result<u64, Fault> {
        let statement = Statement::from_sql_and_values(self.backend, self.text, self.values);
        Ok(txn.execute_raw(statement).await?.rows_affected())
    }
}

/// Whether every row was there; in a pass that changes none it is not asked.
fn all_found(txn: &Txn, table: &str, wanted: usize, found: u64) -> Result<(), Fault> {
    if txn.pass.stages() || u64::try_from(wanted).is_ok_and(|wanted| wanted == found) {
        return Ok(());
    }
    let text = format!("{wanted} rows of {table} should have changed, {found} did");
    Err(Fault::Fatal(StoreError::Corrupt(text)))
}

/// Writes the facts of lots, makes rows for new keys, and adds to totals.
pub async fn totals(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    let empty = |key: &StockKey| stock::Model {
        shop: shop.0,
        part: key.part.0,
        lot: key.lot.0.clone(),
        usable: 0,
        reserved: 0,
        quarantined: 0,
        expires_on: None,
        first_received_on: None,
    };
    let mut lots = Vec::with_capacity(plan.lots.len());
    for (key, (expires_on, first_received_on)) in &plan.lots {
        lots.push(stock::Model {
            expires_on: expires_on.map(day),
            first_received_on: first_received_on.map(day),
            ..empty(key)
        });
    }
    put::<stock::Entity, _>(txn, lots, &["usable", "reserved", "quarantined"]).await?;
    let known = |key: &StockKey| plan.before.stock.contains_key(key) || plan.lots.contains_key(key);
    let (there, fresh): (Vec<_>, Vec<_>) = plan.stock.iter().partition(|(key, _)| known(key));
    let fresh = fresh.into_iter().map(|(key, gain)| stock::Model {
        usable: gain.usable,
        reserved: gain.reserved,
        quarantined: gain.quarantined,
        ..empty(key)
    });
    let gained = ["usable", "reserved", "quarantined"];
    add_to::<stock::Entity, _>(txn, fresh.collect(), &gained).await?;
    let rows: Vec<(&StockKey, &Delta)> = there;
    for chunk in rows.chunks(ROWS_MAX) {
        let mut sql =
            Sql::new(txn, "WITH gain (part, lot, usable, reserved, quarantined) AS (VALUES ");
        for (place, (key, gain)) in chunk.iter().enumerate() {
            let values = vec![
                key.part.0.into(),
                key.lot.0.clone().into(),
                gain.usable.into(),
                gain.reserved.into(),
                gain.quarantined.into(),
            ];
            sql.row(place == 0, values);
        }
        sql.push(
            ") UPDATE stock SET usable = stock.usable + gain.usable, \
             reserved = stock.reserved + gain.reserved, \
             quarantined = stock.quarantined + gain.quarantined FROM gain \
             WHERE stock.part = gain.part AND stock.lot = gain.lot AND stock.shop = ",
        );
        sql.bind(shop.0);
        all_found(txn, "stock", chunk.len(), sql.run(txn).await?)?;
    }
    Ok(())
}

/// Makes rows for new keys and adds to what lies in the bins.
pub async fn balances(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    let (rows, fresh): (Vec<_>, Vec<_>) =
        plan.balances.iter().partition(|(key, _)| plan.before.balances.contains_key(*key));
    let fresh = fresh.into_iter().map(|((key, bin), gain)| bin_balance::Model {
        shop: shop.0,
        part: key.part.0,
        lot: key.lot.0.clone(),
        bin: bin.0,
        usable: gain.usable,
        quarantined: gain.quarantined,
    });
    add_to::<bin_balance::Entity, _>(txn, fresh.collect(), &["usable", "quarantined"]).await?;
    let rows: Vec<(&(StockKey, BinId), &Delta)> = rows;
    for chunk in rows.chunks(ROWS_MAX) {
        let mut sql = Sql::new(txn, "WITH gain (part, lot, bin, usable, quarantined) AS (VALUES ");
        for (place, ((key, bin), gain)) in chunk.iter().enumerate() {
            let values = vec![
                key.part.0.into(),
                key.lot.0.clone().into(),
                bin.0.into(),
                gain.usable.into(),
                gain.quarantined.into(),
            ];
            sql.row(place == 0, values);
        }
        sql.push(
            ") UPDATE bin_balance SET usable = bin_balance.usable + gain.usable, \
             quarantined = bin_balance.quarantined + gain.quarantined FROM gain \
             WHERE bin_balance.part = gain.part AND bin_balance.lot = gain.lot \
             AND bin_balance.bin = gain.bin AND bin_balance.shop = ",
        );
        sql.bind(shop.0);
        all_found(txn, "bin_balance", chunk.len(), sql.run(txn).await?)?;
    }
    Ok(())
}

/// Adds to what is pegged on order lines.
pub async fn pegged(txn: &Txn, shop: ShopId, gains: &[(OrderLineId, i64)]) -> Result<(), Fault> {
    for chunk in gains.chunks(ROWS_MAX) {
        let mut sql = Sql::new(txn, "WITH gain (id, pegged) AS (VALUES ");
        for (place, (line, gain)) in chunk.iter().enumerate() {
            sql.row(place == 0, vec![line.0.into(), (*gain).into()]);
        }
        sql.push(
            ") UPDATE order_line SET pegged = order_line.pegged + gain.pegged FROM gain \
             WHERE order_line.id = gain.id AND order_line.shop = ",
        );
        sql.bind(shop.0);
        all_found(txn, "order_line", chunk.len(), sql.run(txn).await?)?;
    }
    Ok(())
}

/// Removes pegs.
pub async fn unpeg(txn: &Txn, shop: ShopId, keys: &[(Uuid, Uuid)]) -> Result<(), Fault> {
    for chunk in keys.chunks(ROWS_MAX) {
        let mut sql = Sql::new(txn, "DELETE FROM peg WHERE shop = ");
        sql.bind(shop.0);
        sql.push(" AND (line, order_line) IN (VALUES ");
        for (place, (line, order_line)) in chunk.iter().enumerate() {
            sql.row(place == 0, vec![(*line).into(), (*order_line).into()]);
        }
        sql.push(")");
        sql.run(txn).await?;
    }
    Ok(())
}
