//! Orders that came in from a sheet of open orders, and when.
//!
//! Such a sheet holds what had not come by then and nothing of what had, so that
//! the waiting until that day is no evidence.

use crate::convert::own_instant;
use crate::entity::{change_log, imported, purchase_order};
use crate::error::Fault;
use crate::load::fetch;
use crate::txn::Txn;
use baystart_core::ids::ShopId;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use sea_orm::sea_query::ExprTrait as _;
use sea_orm::{EntityTrait, QueryFilter};
use std::collections::{BTreeSet, HashMap};

/// Under which kind an import remembers orders.
const ORDER: &str = "order";

/// The day of the shop on which each order was taken over, by the normal form of
/// its number.
pub struct TakenOver(HashMap<String, Date>);

impl TakenOver {
    /// Of every order of the shop.
    pub async fn of_shop(txn: &Txn, shop: ShopId, zone: &TimeZone) -> Result<Self, Fault> {
        let condition = imported::COLUMN.shop.eq(shop.0).and(imported::COLUMN.kind.eq(ORDER));
        Self::dated(txn, shop, zone, fetch::all::<imported::Entity>(txn, condition).await?).await
    }

    /// Of some orders.
    pub async fn of_orders(
        txn: &Txn,
        shop: ShopId,
        zone: &TimeZone,
        orders: impl Iterator<Item = &purchase_order::Model>,
    ) -> Result<Self, Fault> {
        let condition = imported::COLUMN.shop.eq(shop.0).and(imported::COLUMN.kind.eq(ORDER));
        let numbers: BTreeSet<String> = orders.map(|order| order.normal.clone()).collect();
        let numbers: Vec<String> = numbers.into_iter().collect();
        let column = imported::Column::Key;
        let rows = fetch::any_of::<imported::Entity, String>(txn, &condition, column, &numbers);
        Self::dated(txn, shop, zone, rows.await?).await
    }

    async fn dated(
        txn: &Txn,
        shop: ShopId,
        zone: &TimeZone,
        rows: Vec<imported::Model>,
    ) -> Result<Self, Fault> {
        let revisions: BTreeSet<i64> = rows.iter().map(|row| row.revision).collect();
        let mut days: HashMap<i64, Date> = HashMap::new();
        for revision in revisions {
            let change = change_log::Entity::find()
                .filter(change_log::COLUMN.shop.eq(shop.0))
                .filter(change_log::COLUMN.revision.eq(revision))
                .one(txn)
                .await?;
            if let Some(change) = change {
                let day = zone.to_datetime(own_instant(change.recorded_at)?).date();
                days.insert(revision, day);
            }
        }
        let dated = rows.into_iter().filter_map(|row| Some((row.key, *days.get(&row.revision)?)));
        Ok(Self(dated.collect()))
    }

    /// The day on which an order's line was taken over, if it was placed before.
    pub fn day(&self, order: &purchase_order::Model, placed_on: Date) -> Option<Date> {
        self.0.get(&order.normal).copied().filter(|day| *day > placed_on)
    }
}
