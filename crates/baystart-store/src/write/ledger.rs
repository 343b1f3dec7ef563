//! The one function that writes ledger rows.

use super::put::add;
use crate::entity::{entry, movement};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::model::Movement;
use baystart_core::ids::ShopId;

/// Appends movements, each with the revision that it belongs to.
pub async fn append(txn: &Txn, shop: ShopId, movements: &[(i64, Movement)]) -> Result<(), Fault> {
    let mut rows = Vec::with_capacity(movements.len());
    let mut entries = Vec::new();
    for (revision, row) in movements {
        rows.push(movement::Model::of(shop, *revision, row));
        entries.extend(entry::Model::list(shop, row));
    }
    add::<movement::Entity, _>(txn, rows).await?;
    add::<entry::Entity, _>(txn, entries).await
}
