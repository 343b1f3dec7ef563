//! Writing a plan, in an order that no foreign key and no CHECK objects to.

use super::plan::Plan;
use super::put::{add, add_missing, put};
use super::{deltas, ledger};
use crate::convert::day;
use crate::entity::{
    awaited, bin, build, build_line, closure, kit_component, offer, order_line, part, peg, promise,
    purchase_order, reservation, shop, stage, supplier, token,
};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::model::{Closure, Settings};
use baystart_core::ids::{OrderLineId, PartId, ShopId};
use sea_orm::sea_query::Expr;
use sea_orm::{ColumnTrait, EntityTrait, QueryFilter};
use uuid::Uuid;

/// Writes everything but the change log.
pub(crate) async fn apply(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    catalogue(txn, shop, plan).await?;
    let rows = plan.bins.values().map(|row| bin::Model::of(shop, row)).collect();
    put::<bin::Entity, _>(txn, rows, &[]).await?;
    deltas::totals(txn, shop, plan).await?;
    deltas::balances(txn, shop, plan).await?;
    builds(txn, shop, plan).await?;
    orders(txn, shop, plan).await?;
    ledger::append(txn, shop, &plan.movements).await?;
    let rows = plan.tokens.values().map(|row| token::Model::of(shop, row)).collect();
    put::<token::Entity, _>(txn, rows, &[]).await
}

async fn catalogue(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    if let Some(row) = &plan.settings {
        settings(txn, shop, row).await?;
    }
    let rows = plan.suppliers.values().map(|row| supplier::Model::of(shop, row)).collect();
    put::<supplier::Entity, _>(txn, rows, &[]).await?;
    let rows = plan.parts.values().map(|row| part::Model::of(shop, row)).collect();
    put::<part::Entity, _>(txn, rows, &[]).await?;
    kits(txn, shop, plan).await?;
    let rows = plan.offers.values().map(|row| offer::Model::of(shop, row)).collect();
    put::<offer::Entity, _>(txn, rows, &[]).await?;
    let mut added = Vec::new();
    for (row, there) in &plan.closures {
        match there {
            true => added.push(closure::Model::of(shop, Uuid::now_v7(), row)),
            false => reopen(txn, shop, row).await?,
        }
    }
    add_missing::<closure::Entity, _>(txn, added).await.map(|_| ())
}

/// All of the shop's row but its revision, which the commit sets.
async fn settings(txn: &Txn, shop: ShopId, row: &Settings) -> Result<(), Fault> {
    let model = shop::Model::of(shop, 0, row);
    shop::Entity::update_many()
        .col_expr(shop::Column::Name, Expr::value(model.name))
        .col_expr(shop::Column::TimeZone, Expr::value(model.time_zone))
        .col_expr(shop::Column::Currency, Expr::value(model.currency))
        .col_expr(shop::Column::WorkingDays, Expr::value(model.working_days))
        .col_expr(shop::Column::OrderingDays, Expr::value(model.ordering_days))
        .col_expr(shop::Column::ReserveWindowDays, Expr::value(model.reserve_window_days))
        .col_expr(shop::Column::StallTolerance, Expr::value(model.stall_tolerance))
        .col_expr(shop::Column::Bays, Expr::value(model.bays))
        .col_expr(shop::Column::Learning, Expr::value(model.learning))
        .col_expr(shop::Column::Ways, Expr::value(model.ways))
        .col_expr(shop::Column::Version, Expr::value(model.version))
        .filter(shop::COLUMN.id.eq(shop.0))
        .exec(txn)
        .await?;
    Ok(())
}

async fn reopen(txn: &Txn, shop: ShopId, row: &Closure) -> Result<(), Fault> {
    let of = match row.supplier {
        Some(supplier) => closure::Column::Supplier.eq(supplier.0),
        None => closure::Column::Supplier.is_null(),
    };
    closure::Entity::delete_many()
        .filter(closure::COLUMN.shop.eq(shop.0))
        .filter(of)
        .filter(closure::COLUMN.first_day.eq(day(row.first_day)))
        .filter(closure::COLUMN.last_day.eq(day(row.last_day)))
        .filter(closure::COLUMN.name.eq(row.name.clone()))
        .exec(txn)
        .await?;
    Ok(())
}

/// A changed kit's list is written anew.
async fn kits(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    let was_kit =
        |id: &&PartId| plan.before.parts.get(id).is_some_and(|part| !part.components.is_empty());
    let were_kits: Vec<PartId> = plan.parts.keys().filter(was_kit).copied().collect();
    for chunk in were_kits.chunks(500) {
        kit_component::Entity::delete_many()
            .filter(kit_component::COLUMN.shop.eq(shop.0))
            .filter(kit_component::Column::Kit.is_in(chunk.iter().map(|id| id.0)))
            .exec(txn)
            .await?;
    }
    let mut rows = Vec::new();
    for part in plan.parts.values() {
        rows.extend(kit_component::Model::list(shop, part));
    }
    add::<kit_component::Entity, _>(txn, rows).await
}

async fn builds(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    let rows = plan.builds.values().map(|row| build::Model::of(shop, row)).collect();
    put::<build::Entity, _>(txn, rows, &[]).await?;
    let rows = plan.stages.values().map(|row| stage::Model::of(shop, row)).collect();
    put::<stage::Entity, _>(txn, rows, &[]).await?;
    let rows = plan.lines.values().map(|row| build_line::Model::of(shop, row)).collect();
    put::<build_line::Entity, _>(txn, rows, &[]).await?;
    let rows = plan.awaited.values().map(|row| awaited::Model::of(shop, row)).collect();
    put::<awaited::Entity, _>(txn, rows, &[]).await?;
    let rows = plan.reservations.values().map(|row| reservation::Model::of(shop, row)).collect();
    put::<reservation::Entity, _>(txn, rows, &[]).await
}

/// What is pegged less goes before the order lines change, what is pegged more
/// after them: so PO-2 holds at each statement.
async fn orders(txn: &Txn, shop: ShopId, plan: &Plan) -> Result<(), Fault> {
    let rows = plan.orders.values().map(|row| purchase_order::Model::of(shop, row)).collect();
    put::<purchase_order::Entity, _>(txn, rows, &[]).await?;
    let gains = plan.pegged();
    let less: Vec<(OrderLineId, i64)> =
        gains.iter().filter(|(_, gain)| **gain < 0).map(|(id, gain)| (*id, *gain)).collect();
    deltas::pegged(txn, shop, &less).await?;
    let rows = plan.order_lines.values().map(|(row, _)| order_line::Model::of(shop, row)).collect();
    put::<order_line::Entity, _>(txn, rows, &["pegged"]).await?;
    let mut promises = Vec::new();
    for (row, recorded_at) in plan.order_lines.values() {
        promises.extend(promise::Model::list(shop, row, *recorded_at));
    }
    put::<promise::Entity, _>(txn, promises, &["recorded_at"]).await?;
    let more: Vec<(OrderLineId, i64)> =
        gains.iter().filter(|(_, gain)| **gain > 0).map(|(id, gain)| (*id, *gain)).collect();
    deltas::pegged(txn, shop, &more).await?;
    let gone = plan.pegs.values().filter(|peg| peg.quantity.is_zero());
    let gone: Vec<(Uuid, Uuid)> = gone.map(|peg| (peg.line.0, peg.order_line.0)).collect();
    deltas::unpeg(txn, shop, &gone).await?;
    let kept = plan.pegs.values().filter(|peg| !peg.quantity.is_zero());
    let kept = kept.map(|peg| peg::Model::of(shop, peg)).collect();
    put::<peg::Entity, _>(txn, kept, &[]).await
}
