//! Requests that took effect: ID-1 and ID-2.

use crate::api::Answer;
use crate::entity::request;
use crate::error::{Fault, StoreError};
use crate::load::by_ids;
use crate::txn::Txn;
use baystart_core::command::Command;
use baystart_core::ids::ShopId;
use baystart_core::refusal::{Reason, Refusal};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A request's digest and answer.
pub struct Done {
    pub digest: Vec<u8>,
    pub response: Vec<u8>,
}

/// SHA-256 over the command's serialised form, its name included.
pub fn digest_of(command: &Command) -> Result<[u8; 32], StoreError> {
    let text = serde_json::to_vec(command)
        .map_err(|error| StoreError::Corrupt(format!("a command cannot be digested: {error}")))?;
    Ok(Sha256::digest(text).into())
}

/// Which of the requests took effect before.
pub async fn done(
    txn: &Txn,
    shop: ShopId,
    ids: &BTreeSet<Uuid>,
) -> Result<BTreeMap<Uuid, Done>, Fault> {
    let of_shop = request::COLUMN.shop.eq(shop.0);
    let mut done = BTreeMap::new();
    for row in by_ids::<request::Entity>(txn, of_shop, request::Column::Id, ids).await? {
        done.insert(row.id, Done { digest: row.digest, response: row.response });
    }
    Ok(done)
}

/// What answers a repeat.
pub fn repeat(id: Uuid, digest: [u8; 32], done: &Done) -> Result<Answer, StoreError> {
    if done.digest != digest {
        let message = format!("request {id} was used for another command");
        return Err(Refusal::new(Reason::RequestReused, message).with("request_id", id).into());
    }
    Ok(Answer { bytes: done.response.clone(), replayed: true })
}
