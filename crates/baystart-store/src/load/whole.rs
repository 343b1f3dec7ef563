//! A whole shop, one statement per table.

use super::fetch::all;
use super::seen::Seen;
use crate::entity::{
    awaited, bin_balance, build, build_line, entry, kit_component, movement, offer, order_line,
    part, peg, promise, purchase_order, reservation, stage, stock,
};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::Book;
use baystart_core::book::model::{Entry, Movement};
use baystart_core::ids::ShopId;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder};
use std::collections::BTreeMap;
use uuid::Uuid;

pub async fn load(txn: &Txn, shop: ShopId, book: &mut Book) -> Result<(), Fault> {
    let shop = shop.0;
    let mut seen = Seen {
        part_rows: all::<part::Entity>(txn, part::COLUMN.shop.eq(shop)).await?,
        components: all::<kit_component::Entity>(txn, kit_component::COLUMN.shop.eq(shop)).await?,
        offers: all::<offer::Entity>(txn, offer::COLUMN.shop.eq(shop)).await?,
        stock: all::<stock::Entity>(txn, stock::COLUMN.shop.eq(shop)).await?,
        balances: all::<bin_balance::Entity>(txn, bin_balance::COLUMN.shop.eq(shop)).await?,
        stages: all::<stage::Entity>(txn, stage::COLUMN.shop.eq(shop)).await?,
        awaited: all::<awaited::Entity>(txn, awaited::COLUMN.shop.eq(shop)).await?,
        reservations: all::<reservation::Entity>(txn, reservation::COLUMN.shop.eq(shop)).await?,
        promises: all::<promise::Entity>(txn, promise::COLUMN.shop.eq(shop)).await?,
        pegs: all::<peg::Entity>(txn, peg::COLUMN.shop.eq(shop)).await?,
        ..Seen::default()
    };
    for row in all::<build::Entity>(txn, build::COLUMN.shop.eq(shop)).await? {
        seen.builds.insert(row.id, row);
    }
    for row in all::<build_line::Entity>(txn, build_line::COLUMN.shop.eq(shop)).await? {
        seen.lines.insert(row.id, row);
    }
    for row in all::<purchase_order::Entity>(txn, purchase_order::COLUMN.shop.eq(shop)).await? {
        seen.orders.insert(row.id, row);
    }
    for row in all::<order_line::Entity>(txn, order_line::COLUMN.shop.eq(shop)).await? {
        seen.order_lines.insert(row.id, row);
    }
    Ok(seen.into_book(book)?)
}

/// Every booking in the order in which it was committed.
pub async fn ledger(txn: &Txn, shop: ShopId) -> Result<Vec<Movement>, Fault> {
    let rows = entry::Entity::find()
        .filter(entry::COLUMN.shop.eq(shop.0))
        .order_by_asc(entry::Column::Movement)
        .order_by_asc(entry::Column::Ordinal)
        .all(txn)
        .await?;
    let mut entries: BTreeMap<Uuid, Vec<Entry>> = BTreeMap::new();
    for row in &rows {
        entries.entry(row.movement).or_default().push(row.own()?);
    }
    let rows = movement::Entity::find()
        .filter(movement::COLUMN.shop.eq(shop.0))
        .order_by_asc(movement::Column::Revision)
        .order_by_asc(movement::Column::Id)
        .all(txn)
        .await?;
    let mut ledger = Vec::with_capacity(rows.len());
    for row in &rows {
        ledger.push(row.own(entries.remove(&row.id).unwrap_or_default())?);
    }
    Ok(ledger)
}
