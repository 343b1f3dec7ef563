//! Builds that stand in a bay or wait for one.

use super::fetch;
use super::seen::Seen;
use crate::convert::state_text;
use crate::entity::build;
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::model::BuildState;
use baystart_core::ids::ShopId;
use sea_orm::sea_query::ExprTrait as _;

/// Every build on the board counts as named: until when one stays in a bay, and when it needs one, is
/// said by its parts.
pub async fn load(txn: &Txn, shop: ShopId, seen: &mut Seen) -> Result<(), Fault> {
    let on_board = BuildState::ON_BOARD.map(state_text);
    let condition = build::COLUMN.shop.eq(shop.0).and(build::COLUMN.state.is_in(on_board));
    for row in fetch::all::<build::Entity>(txn, condition).await? {
        seen.named_builds.insert(row.id);
        seen.builds.insert(row.id, row);
    }
    Ok(())
}
