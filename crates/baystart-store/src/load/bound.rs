//! Everything that binds the slice's parts: stock, balances, offers, lines of
//! builds that are not over, reservations, open order lines, pegs.

use super::fetch::by_ids;
use super::seen::Seen;
use crate::convert::state_text;
use crate::entity::{
    awaited, bin_balance, build, build_line, kit_component, offer, order_line, part, peg, promise,
    purchase_order, reservation, stage, stock,
};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::model::BuildState;
use baystart_core::ids::ShopId;
use sea_orm::sea_query::{Expr, ExprTrait, Query};
use std::collections::BTreeSet;
use uuid::Uuid;

pub async fn load(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    if !seen.parts.is_empty() {
        supply(txn, shop, seen).await?;
        demand(txn, shop, seen).await?;
    }
    for_lines(txn, shop, seen).await?;
    builds(txn, shop, seen).await?;
    orders(txn, shop, seen).await?;
    bindings(txn, shop, seen).await?;
    parts(txn, shop, seen).await
}

async fn supply(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let ids = &seen.parts;
    let of_shop = stock::COLUMN.shop.eq(shop.0);
    seen.stock = by_ids::<stock::Entity>(txn, of_shop, stock::Column::Part, ids).await?;
    let of_shop = bin_balance::COLUMN.shop.eq(shop.0);
    let column = bin_balance::Column::Part;
    seen.balances = by_ids::<bin_balance::Entity>(txn, of_shop, column, ids).await?;
    let of_shop = offer::COLUMN.shop.eq(shop.0);
    seen.offers = by_ids::<offer::Entity>(txn, of_shop, offer::Column::Part, ids).await?;
    let open = order_line::COLUMN.shop.eq(shop.0).and(open_order_line());
    for row in by_ids::<order_line::Entity>(txn, open, order_line::Column::Part, ids).await? {
        seen.order_lines.insert(row.id, row);
    }
    Ok(())
}

/// Order lines with something outstanding, placed or not. The same expression
/// as the index `order_line_open`.
pub fn open_order_line() -> Expr {
    Expr::cust("received + cancelled_by_us + cancelled_by_supplier < ordered")
}

async fn demand(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let over = [state_text(BuildState::Delivered), state_text(BuildState::Cancelled)];
    let not_over = Query::select()
        .column(build::Column::Id)
        .from(build::Entity)
        .and_where(build::COLUMN.shop.eq(shop.0))
        .and_where(build::COLUMN.state.is_not_in(over))
        .to_owned();
    let condition = build_line::COLUMN
        .shop
        .eq(shop.0)
        .and(Expr::col(build_line::Column::Build).in_subquery(not_over));
    let column = build_line::Column::Part;
    for row in by_ids::<build_line::Entity>(txn, condition, column, &seen.parts).await? {
        seen.lines.insert(row.id, row);
    }
    Ok(())
}

/// The build lines for which order lines were ordered, whatever their builds'
/// states.
async fn for_lines(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let wanted = seen.order_lines.values().filter_map(|row| row.for_line);
    let missing: BTreeSet<Uuid> = wanted.filter(|id| !seen.lines.contains_key(id)).collect();
    let of_shop = build_line::COLUMN.shop.eq(shop.0);
    let column = build_line::Column::Id;
    for row in by_ids::<build_line::Entity>(txn, of_shop, column, &missing).await? {
        seen.lines.insert(row.id, row);
    }
    Ok(())
}

async fn builds(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let of_lines = seen.lines.values().map(|row| row.build);
    let missing: BTreeSet<Uuid> = of_lines.filter(|id| !seen.builds.contains_key(id)).collect();
    let of_shop = build::COLUMN.shop.eq(shop.0);
    for row in by_ids::<build::Entity>(txn, of_shop, build::Column::Id, &missing).await? {
        seen.builds.insert(row.id, row);
    }
    let ids: BTreeSet<Uuid> = seen.builds.keys().copied().collect();
    let of_shop = stage::COLUMN.shop.eq(shop.0);
    seen.stages = by_ids::<stage::Entity>(txn, of_shop, stage::Column::Build, &ids).await?;
    let of_shop = awaited::COLUMN.shop.eq(shop.0);
    let (column, named) = (awaited::Column::Build, &seen.named_builds);
    seen.awaited = by_ids::<awaited::Entity>(txn, of_shop, column, named).await?;
    Ok(())
}

async fn orders(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let of_lines = seen.order_lines.values().map(|row| row.purchase_order);
    let missing: BTreeSet<Uuid> = of_lines.filter(|id| !seen.orders.contains_key(id)).collect();
    let of_shop = purchase_order::COLUMN.shop.eq(shop.0);
    let column = purchase_order::Column::Id;
    for row in by_ids::<purchase_order::Entity>(txn, of_shop, column, &missing).await? {
        seen.orders.insert(row.id, row);
    }
    let ids: BTreeSet<Uuid> = seen.order_lines.keys().copied().collect();
    let of_shop = promise::COLUMN.shop.eq(shop.0);
    let column = promise::Column::OrderLine;
    seen.promises = by_ids::<promise::Entity>(txn, of_shop, column, &ids).await?;
    Ok(())
}

async fn bindings(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let (mut named, mut others) = (BTreeSet::new(), BTreeSet::new());
    for row in seen.lines.values() {
        match seen.named_builds.contains(&row.build) {
            true => named.insert(row.id),
            false => others.insert(row.id),
        };
    }
    let of_shop = reservation::COLUMN.shop.eq(shop.0);
    let held = of_shop.clone().and(reservation::COLUMN.held.gt(0));
    let column = reservation::Column::Line;
    seen.reservations = by_ids::<reservation::Entity>(txn, of_shop, column, &named).await?;
    seen.reservations.extend(by_ids::<reservation::Entity>(txn, held, column, &others).await?);
    named.append(&mut others);
    let of_shop = peg::COLUMN.shop.eq(shop.0);
    seen.pegs = by_ids::<peg::Entity>(txn, of_shop.clone(), peg::Column::Line, &named).await?;
    let ids: BTreeSet<Uuid> = seen.order_lines.keys().copied().collect();
    let on_lines = by_ids::<peg::Entity>(txn, of_shop, peg::Column::OrderLine, &ids).await?;
    seen.pegs.extend(on_lines);
    Ok(())
}

/// The parts that parts name, as what replaced them or what they call for, until none is new.
async fn named_by_parts(
    txn: &Txn,
    shop: ShopId,
    seen: &mut Seen,
    ids: &mut BTreeSet<Uuid>,
) -> Result<(), Fault> {
    let mut read = 0;
    loop {
        let mut more = BTreeSet::new();
        for row in seen.part_rows.get(read..).unwrap_or_default() {
            more.extend(row.named_parts()?);
        }
        read = seen.part_rows.len();
        more.retain(|id| !ids.contains(id));
        if more.is_empty() {
            return Ok(());
        }
        let of_shop = part::COLUMN.shop.eq(shop.0);
        let rows = by_ids::<part::Entity>(txn, of_shop, part::Column::Id, &more).await?;
        seen.part_rows.extend(rows);
        ids.append(&mut more);
    }
}

/// The part rows last: lines that came late name parts whose bindings do not
/// belong to the slice, but whose numbers are needed in sentences.
async fn parts(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let mut ids = seen.parts.clone();
    ids.extend(seen.lines.values().map(|row| row.part));
    ids.extend(seen.order_lines.values().map(|row| row.part));
    for row in seen.lines.values().filter(|row| row.substituted.is_some()) {
        ids.extend(row.own()?.substituted.map(|row| row.instead_of.0));
    }
    let of_shop = part::COLUMN.shop.eq(shop.0);
    seen.part_rows = by_ids::<part::Entity>(txn, of_shop, part::Column::Id, &ids).await?;
    named_by_parts(txn, shop, seen, &mut ids).await?;
    let late: BTreeSet<Uuid> = ids.difference(&seen.kits).copied().collect();
    let of_shop = kit_component::COLUMN.shop.eq(shop.0);
    let kit = kit_component::Column::Kit;
    let rows = by_ids::<kit_component::Entity>(txn, of_shop, kit, &late).await?;
    seen.components.extend(rows);
    Ok(())
}
