//! Parts, suppliers, offers, and parts with stock or needs.

use super::{ids, rows};
use crate::api::{Listed, OfferFilter};
use crate::entity::{kit_component, offer, part, supplier};
use crate::error::{Fault, StoreError};
use crate::load::{Wanted, by_ids, ids_of, labels, rows_of};
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::book::model::{Offer, Part, Supplier};
use baystart_core::ids::{PartId, ShopId};
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::text::normal;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Rows read at once while looking for a text.
const LOOK_AT_ONCE: u64 = 1000;

impl Store {
    /// Parts by normal number, after one; `contains` (whatever the case) in
    /// number or description.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_parts(
        &self,
        shop: ShopId,
        after: Option<&str>,
        limit: u64,
        contains: &str,
    ) -> Result<Vec<Part>, StoreError> {
        let txn = self.begin().await?;
        let text = normal(contains);
        let at_once = if text.is_empty() { limit } else { LOOK_AT_ONCE };
        let limit = usize::try_from(limit).unwrap_or(usize::MAX);
        let mut after = after.unwrap_or_default().to_owned();
        let mut found: Vec<part::Model> = Vec::new();
        // The databases fold case differently, so the text is looked for here.
        while found.len() < limit {
            let rows = part::Entity::find()
                .filter(part::COLUMN.shop.eq(shop.0))
                .filter(part::COLUMN.normal.gt(after.as_str()))
                .order_by_asc(part::Column::Normal)
                .limit(at_once)
                .all(&txn)
                .await?;
            let Some(last) = rows.last() else { break };
            after.clone_from(&last.normal);
            found.extend(rows.into_iter().filter(|row| {
                row.normal.contains(&text) || normal(&row.description).contains(&text)
            }));
        }
        found.truncate(limit);
        let parts = with_components(&txn, shop, &found).await?;
        txn.done().await?;
        Ok(parts)
    }

    /// Suppliers by normal code, after one.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_suppliers(
        &self,
        shop: ShopId,
        after: Option<&str>,
        limit: u64,
    ) -> Result<Vec<Supplier>, StoreError> {
        let txn = self.begin().await?;
        let rows = supplier::Entity::find()
            .filter(supplier::COLUMN.shop.eq(shop.0))
            .filter(supplier::COLUMN.normal.gt(after.unwrap_or_default()))
            .order_by_asc(supplier::Column::Normal)
            .limit(limit)
            .all(&txn)
            .await?;
        txn.done().await?;
        rows.iter().map(supplier::Model::own).collect()
    }

    /// Offers by normal supplier code and normal part number, after one.
    /// Labels: parts and suppliers.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_offers(
        &self,
        shop: ShopId,
        after: Option<(&str, &str)>,
        limit: u64,
        filter: &OfferFilter,
    ) -> Result<Listed<Offer>, StoreError> {
        let txn = self.begin().await?;
        let (supplier, part) = after.unwrap_or_default();
        let mut text = "SELECT offer.* FROM offer \
            JOIN supplier ON supplier.shop = offer.shop AND supplier.id = offer.supplier \
            JOIN part ON part.shop = offer.shop AND part.id = offer.part \
            WHERE offer.shop = $1 AND (supplier.normal, part.normal) > ($2, $3)"
            .to_owned();
        let mut values = vec![shop.0.into(), supplier.into(), part.into()];
        if let Some(part) = &filter.part {
            let id = part_of(&txn, shop, part).await?;
            values.push(id.into());
            text.push_str(&format!(" AND offer.part = ${}", values.len()));
        }
        if let Some(supplier) = &filter.supplier {
            let id = supplier_of(&txn, shop, supplier).await?;
            values.push(id.into());
            text.push_str(&format!(" AND offer.supplier = ${}", values.len()));
        }
        values.push(i64::try_from(limit).unwrap_or(i64::MAX).into());
        let order = " ORDER BY supplier.normal, part.normal LIMIT $";
        text.push_str(&format!("{order}{}", values.len()));
        let mut wanted = Wanted::default();
        let mut offers = Vec::new();
        for row in rows::<offer::Entity>(&txn, &text, values).await? {
            let row = row.own()?;
            wanted.offer(&row);
            offers.push(row);
        }
        let labels = labels(&txn, shop, wanted).await?;
        txn.done().await?;
        Ok(Listed { rows: offers, labels })
    }

    /// Parts that have stock, build lines or order lines, by normal number,
    /// after one.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_stock_parts(
        &self,
        shop: ShopId,
        after: Option<&str>,
        limit: u64,
    ) -> Result<Vec<PartId>, StoreError> {
        let txn = self.begin().await?;
        let text = "SELECT part.id FROM part WHERE part.shop = $1 AND part.normal > $2 AND (\
            EXISTS (SELECT 1 FROM stock WHERE stock.shop = $1 AND stock.part = part.id) OR \
            EXISTS (SELECT 1 FROM build_line WHERE build_line.shop = $1 \
                AND build_line.part = part.id AND NOT build_line.exploded) OR \
            EXISTS (SELECT 1 FROM order_line WHERE order_line.shop = $1 \
                AND order_line.part = part.id)) ORDER BY part.normal LIMIT $3";
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let after = after.unwrap_or_default();
        let found = ids(&txn, text, vec![shop.0.into(), after.into(), limit.into()]).await?;
        txn.done().await?;
        Ok(found.into_iter().map(PartId).collect())
    }
}

async fn with_components(
    txn: &Txn,
    shop: ShopId,
    rows: &[part::Model],
) -> Result<Vec<Part>, Fault> {
    let ids: BTreeSet<Uuid> = rows.iter().map(|row| row.id).collect();
    let of_shop = kit_component::COLUMN.shop.eq(shop.0);
    let kit = kit_component::Column::Kit;
    let mut found = by_ids::<kit_component::Entity>(txn, of_shop, kit, &ids).await?;
    found.sort_by_key(|row| (row.kit, row.ordinal));
    let mut lists: BTreeMap<Uuid, Vec<_>> = BTreeMap::new();
    for row in found {
        let component = (PartId(row.component), Quantity::from_milli(row.quantity));
        lists.entry(row.kit).or_default().push(component);
    }
    let mut parts = Vec::with_capacity(rows.len());
    for row in rows {
        parts.push(row.own(lists.remove(&row.id).unwrap_or_default())?);
    }
    Ok(parts)
}

/// A part's id; the nil id, which no row has, where there is none.
pub(super) async fn part_of(txn: &Txn, shop: ShopId, wanted: &Ref) -> Result<Uuid, Fault> {
    let found = ids_of(txn, shop, std::slice::from_ref(wanted)).await?;
    Ok(found.first().copied().unwrap_or_default())
}

/// A supplier's id; the nil id, which no row has, where there is none.
pub(super) async fn supplier_of(txn: &Txn, shop: ShopId, wanted: &Ref) -> Result<Uuid, Fault> {
    let of_shop = supplier::COLUMN.shop.eq(shop.0);
    let (normal, id) = (supplier::Column::Normal, supplier::Column::Id);
    let wanted = std::slice::from_ref(wanted);
    let found = rows_of::<supplier::Entity>(txn, of_shop, normal, id, wanted).await?;
    Ok(found.first().map(|row| row.id).unwrap_or_default())
}
