//! Builds, orders, movements.

use super::catalogue::{part_of, supplier_of};
use super::{ids, rows};
use crate::api::{Listed, OrderFilter};
use crate::convert::state_text;
use crate::entity::{entry, movement};
use crate::error::{Fault, StoreError};
use crate::load::{Wanted, by_ids, labels};
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::book::model::{BuildState, Entry, Movement};
use baystart_core::ids::{BuildId, MovementId, OrderId, ShopId};
use baystart_core::refs::Ref;
use sea_orm::Value;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

impl Store {
    /// Builds by normal number, after one; no states: every state.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_builds(
        &self,
        shop: ShopId,
        after: Option<&str>,
        limit: u64,
        states: &[BuildState],
    ) -> Result<Vec<BuildId>, StoreError> {
        let mut text = "SELECT id FROM build WHERE shop = $1 AND normal > $2".to_owned();
        let mut values: Vec<Value> = vec![shop.0.into(), after.unwrap_or_default().into()];
        let mut places = Vec::new();
        for state in states {
            values.push(state_text(*state).into());
            places.push(format!("${}", values.len()));
        }
        if !places.is_empty() {
            text.push_str(&format!(" AND state IN ({})", places.join(", ")));
        }
        values.push(i64::try_from(limit).unwrap_or(i64::MAX).into());
        text.push_str(&format!(" ORDER BY normal LIMIT ${}", values.len()));
        let txn = self.begin().await?;
        let found = ids(&txn, &text, values).await?;
        txn.done().await?;
        Ok(found.into_iter().map(BuildId).collect())
    }

    /// Builds for which a delivery date was given to the customer and that were
    /// not cancelled.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn promised_builds(&self, shop: ShopId) -> Result<Vec<BuildId>, StoreError> {
        let text = "SELECT id FROM build WHERE shop = $1 AND customer_promises <> '[]' \
                    AND state <> $2 ORDER BY normal";
        let values = vec![shop.0.into(), state_text(BuildState::Cancelled).into()];
        let txn = self.begin().await?;
        let found = ids(&txn, text, values).await?;
        txn.done().await?;
        Ok(found.into_iter().map(BuildId).collect())
    }

    /// Orders by normal number, after one.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_orders(
        &self,
        shop: ShopId,
        after: Option<&str>,
        limit: u64,
        filter: &OrderFilter,
    ) -> Result<Vec<OrderId>, StoreError> {
        let txn = self.begin().await?;
        let mut text = "SELECT id FROM purchase_order WHERE shop = $1 AND normal > $2".to_owned();
        let mut values: Vec<Value> = vec![shop.0.into(), after.unwrap_or_default().into()];
        if filter.only_open {
            text.push_str(
                " AND EXISTS (SELECT 1 FROM order_line WHERE order_line.shop = $1 \
                 AND order_line.purchase_order = purchase_order.id \
                 AND received + cancelled_by_us + cancelled_by_supplier < ordered)",
            );
        }
        if let Some(supplier) = &filter.supplier {
            values.push(supplier_of(&txn, shop, supplier).await?.into());
            text.push_str(&format!(" AND supplier = ${}", values.len()));
        }
        values.push(i64::try_from(limit).unwrap_or(i64::MAX).into());
        text.push_str(&format!(" ORDER BY normal LIMIT ${}", values.len()));
        let found = ids(&txn, &text, values).await?;
        txn.done().await?;
        Ok(found.into_iter().map(OrderId).collect())
    }

    /// Movements, newest first, after one. Labels: parts, bins, suppliers,
    /// build lines and builds.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_movements(
        &self,
        shop: ShopId,
        after: Option<MovementId>,
        limit: u64,
        part: Option<&Ref>,
    ) -> Result<Listed<Movement>, StoreError> {
        let txn = self.begin().await?;
        let after = after.map_or_else(Uuid::max, |after| after.0);
        let mut text = "SELECT * FROM movement WHERE shop = $1 AND id < $2".to_owned();
        let mut values: Vec<Value> = vec![shop.0.into(), after.into()];
        if let Some(part) = part {
            values.push(part_of(&txn, shop, part).await?.into());
            text.push_str(
                " AND id IN (SELECT movement FROM entry WHERE entry.shop = $1 AND entry.part = $3)",
            );
        }
        values.push(i64::try_from(limit).unwrap_or(i64::MAX).into());
        text.push_str(&format!(" ORDER BY id DESC LIMIT ${}", values.len()));
        let found = rows::<movement::Entity>(&txn, &text, values).await?;
        let Listed { rows, labels } = whole_movements(&txn, shop, found).await?;
        txn.done().await?;
        let rows = rows.into_iter().map(|(_, movement)| movement).collect();
        Ok(Listed { rows, labels })
    }
}

/// Movements with their entries, each with the revision that booked it, and the names of what they speak of.
pub(super) async fn whole_movements(
    txn: &Txn,
    shop: ShopId,
    found: Vec<movement::Model>,
) -> Result<Listed<(i64, Movement)>, Fault> {
    let wanted: BTreeSet<Uuid> = found.iter().map(|row| row.id).collect();
    let of_shop = entry::COLUMN.shop.eq(shop.0);
    let column = entry::Column::Movement;
    let mut sides = by_ids::<entry::Entity>(txn, of_shop, column, &wanted).await?;
    sides.sort_by_key(|row| (row.movement, row.ordinal));
    let mut entries: BTreeMap<Uuid, Vec<Entry>> = BTreeMap::new();
    for row in &sides {
        entries.entry(row.movement).or_default().push(row.own()?);
    }
    let mut names = Wanted::default();
    let mut movements = Vec::with_capacity(found.len());
    for row in &found {
        let movement = row.own(entries.remove(&row.id).unwrap_or_default())?;
        names.movement(&movement);
        movements.push((row.revision, movement));
    }
    Ok(Listed { rows: movements, labels: labels(txn, shop, names).await? })
}
