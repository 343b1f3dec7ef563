//! Builds that hold a bay, or are booked into one.

use super::fetch;
use super::seen::Seen;
use crate::convert::state_text;
use crate::entity::build;
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::model::BuildState;
use baystart_core::ids::ShopId;
use sea_orm::sea_query::ExprTrait as _;

/// Builds in the bay and on hold count as named, since their parts say until when they stay; of
/// booked ones the row is enough, their stages come with it.
pub async fn load(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let staying = [BuildState::InBay, BuildState::OnHold].map(state_text);
    let booked = build::COLUMN
        .state
        .eq(state_text(BuildState::Open))
        .and(build::COLUMN.planned_start.is_not_null());
    let condition =
        build::COLUMN.shop.eq(shop.0).and(build::COLUMN.state.is_in(staying).or(booked));
    for row in fetch::all::<build::Entity>(txn, condition).await? {
        if staying.contains(&row.state.as_str()) {
            seen.named_builds.insert(row.id);
        }
        seen.builds.insert(row.id, row);
    }
    Ok(())
}
