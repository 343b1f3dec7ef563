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

/// What is kept of a command, from its serialised form.
pub struct Written {
    /// SHA-256 over the form, the command's name included.
    pub digest: [u8; 32],
    /// `CreatePart`, `Stock.Adjust`.
    pub name: String,
}

impl Written {
    pub fn of(command: &Command) -> Result<Self, StoreError> {
        let text = serde_json::to_string(command).map_err(|error| {
            StoreError::Corrupt(format!("a command cannot be digested: {error}"))
        })?;
        let groups = matches!(
            command,
            Command::Stock(_)
                | Command::Build(_)
                | Command::Bind(_)
                | Command::Make(_)
                | Command::Order(_)
        );
        // serde writes a variant as its name, or as an object with its name as the only key.
        let mut names = text.split('"').skip(1).step_by(2).take(if groups { 2 } else { 1 });
        let name = names.next().unwrap_or_default().to_owned();
        let name = names.next().map_or(name.clone(), |inner| format!("{name}.{inner}"));
        Ok(Self { digest: Sha256::digest(&text).into(), name })
    }
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use baystart_core::command::BuildCommand;
    use baystart_core::number::Number;
    use baystart_core::refs::Ref;

    #[test]
    fn a_command_has_the_name_of_its_variants() {
        let code = Number::parse("A\"1").unwrap_or_else(|_| Number::parse("A1").unwrap());
        let bin = Command::CreateBin { code: code.clone(), description: "\"x\"".to_owned() };
        assert_eq!(Written::of(&bin).unwrap().name, "CreateBin");
        let build = BuildCommand::Open { build: Ref::Number(code), occurred_on: None };
        assert_eq!(Written::of(&Command::Build(build)).unwrap().name, "Build.Open");
    }
}
