//! Stages that have begun, from which their lengths are learned.

use crate::convert::state_text;
use crate::entity::{build, stage};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::model::{BuildState, Stage};
use baystart_core::ids::{BuildId, ShopId};
use sea_orm::sea_query::{Expr, ExprTrait as _, Query};
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Stages of a shop that have begun.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PastStages {
    /// By id; those of cancelled builds only where they are done.
    pub stages: Vec<Stage>,
    /// Builds that are in the bay, not on hold there.
    pub in_bay: BTreeSet<BuildId>,
}

/// Reads them all: a few thousand rows for years of work.
pub(super) async fn read(txn: &Txn, shop: ShopId) -> Result<PastStages, Fault> {
    let cancelled = Query::select()
        .column(build::Column::Id)
        .from(build::Entity)
        .and_where(build::COLUMN.shop.eq(shop.0))
        .and_where(build::COLUMN.state.eq(state_text(BuildState::Cancelled)))
        .to_owned();
    let open_of_cancelled =
        stage::COLUMN.done_on.is_null().and(Expr::col(stage::Column::Build).in_subquery(cancelled));
    let rows = stage::Entity::find()
        .filter(stage::COLUMN.shop.eq(shop.0))
        .filter(stage::COLUMN.begun_on.is_not_null())
        .filter(open_of_cancelled.not())
        .order_by_asc(stage::Column::Id);
    let mut found = PastStages::default();
    for row in rows.all(txn).await? {
        found.stages.push(row.own()?);
    }
    let in_bay = build::Entity::find()
        .filter(build::COLUMN.shop.eq(shop.0))
        .filter(build::COLUMN.state.eq(state_text(BuildState::InBay)))
        .select_only()
        .column(build::Column::Id)
        .into_tuple::<Uuid>();
    found.in_bay = in_bay.all(txn).await?.into_iter().map(BuildId).collect();
    Ok(found)
}
