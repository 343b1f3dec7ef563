//! What a scope names: parts, builds and orders by number or uid, the parts of
//! their lines, and kits' components at every depth.

use super::fetch::{any_of, by_ids};
use super::seen::Seen;
use crate::entity::{build, build_line, kit_component, order_line, part, purchase_order};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::command::Scope;
use baystart_core::ids::ShopId;
use baystart_core::refs::Ref;
use sea_orm::sea_query::Expr;
use sea_orm::{EntityTrait, QueryFilter};
use std::collections::BTreeSet;
use uuid::Uuid;

/// The rows of references, by normal number or by uid.
pub async fn rows_of<E: EntityTrait>(
    txn: &Txn,
    of_shop: Expr,
    normal: E::Column,
    id: E::Column,
    refs: &[Ref],
) -> Result<Vec<E::Model>, Fault> {
    let mut numbers = BTreeSet::new();
    let mut ids = BTreeSet::new();
    for wanted in refs {
        match wanted {
            Ref::Number(number) => numbers.insert(number.normal().to_owned()),
            Ref::Uid(uid) => ids.insert(*uid),
        };
    }
    let numbers: Vec<String> = numbers.into_iter().collect();
    let mut rows = any_of::<E, String>(txn, &of_shop, normal, &numbers).await?;
    rows.extend(by_ids::<E>(txn, of_shop, id, &ids).await?);
    Ok(rows)
}

/// The ids of parts that references name.
pub async fn ids_of(txn: &Txn, shop: ShopId, refs: &[Ref]) -> Result<BTreeSet<Uuid>, Fault> {
    let of_shop = part::COLUMN.shop.eq(shop.0);
    let (normal, id) = (part::Column::Normal, part::Column::Id);
    let rows = rows_of::<part::Entity>(txn, of_shop, normal, id, refs).await?;
    Ok(rows.iter().map(|row| row.id).collect())
}

/// One line of a build and one of an order for each part that must not change if it has any.
async fn used(txn: &Txn, shop: ShopId, scope: &Scope, seen: &mut Seen) -> Result<(), Fault> {
    for part in ids_of(txn, shop, &scope.used).await? {
        let of_part = build_line::Entity::find()
            .filter(build_line::COLUMN.shop.eq(shop.0))
            .filter(build_line::COLUMN.part.eq(part));
        seen.lines.extend(of_part.one(txn).await?.map(|row| (row.id, row)));
        let of_part = order_line::Entity::find()
            .filter(order_line::COLUMN.shop.eq(shop.0))
            .filter(order_line::COLUMN.part.eq(part));
        seen.order_lines.extend(of_part.one(txn).await?.map(|row| (row.id, row)));
    }
    Ok(())
}

pub async fn load(txn: &Txn, shop: ShopId, scope: &Scope, seen: &mut Seen) -> Result<(), Fault> {
    seen.parts = ids_of(txn, shop, &scope.parts).await?;
    used(txn, shop, scope, seen).await?;
    named_builds(txn, shop, scope, seen).await?;
    named_orders(txn, shop, scope, seen).await?;
    kits(txn, shop, seen).await
}

async fn named_builds(
    txn: &Txn,
    shop: ShopId,
    scope: &Scope,
    seen: &mut Seen,
) -> Result<(), Fault> {
    let of_shop = build::COLUMN.shop.eq(shop.0);
    let (normal, id) = (build::Column::Normal, build::Column::Id);
    for row in rows_of::<build::Entity>(txn, of_shop, normal, id, &scope.builds).await? {
        seen.named_builds.insert(row.id);
        seen.builds.insert(row.id, row);
    }
    let of_shop = build_line::COLUMN.shop.eq(shop.0);
    let build = build_line::Column::Build;
    for row in by_ids::<build_line::Entity>(txn, of_shop, build, &seen.named_builds).await? {
        seen.parts.insert(row.part);
        seen.lines.insert(row.id, row);
    }
    Ok(())
}

async fn named_orders(
    txn: &Txn,
    shop: ShopId,
    scope: &Scope,
    seen: &mut Seen,
) -> Result<(), Fault> {
    let of_shop = purchase_order::COLUMN.shop.eq(shop.0);
    let (normal, id) = (purchase_order::Column::Normal, purchase_order::Column::Id);
    let mut orders = BTreeSet::new();
    for row in rows_of::<purchase_order::Entity>(txn, of_shop, normal, id, &scope.orders).await? {
        orders.insert(row.id);
        seen.orders.insert(row.id, row);
    }
    let of_shop = order_line::COLUMN.shop.eq(shop.0);
    let order = order_line::Column::PurchaseOrder;
    for row in by_ids::<order_line::Entity>(txn, of_shop, order, &orders).await? {
        seen.parts.insert(row.part);
        seen.order_lines.insert(row.id, row);
    }
    Ok(())
}

/// Reads the lists of kits until no new component appears.
async fn kits(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let mut unread = seen.parts.clone();
    while !unread.is_empty() {
        let of_shop = kit_component::COLUMN.shop.eq(shop.0);
        let kit = kit_component::Column::Kit;
        let rows = by_ids::<kit_component::Entity>(txn, of_shop, kit, &unread).await?;
        seen.kits.append(&mut unread);
        for row in &rows {
            seen.parts.insert(row.component);
            if !seen.kits.contains(&row.component) {
                unread.insert(row.component);
            }
        }
        seen.components.extend(rows);
    }
    Ok(())
}
