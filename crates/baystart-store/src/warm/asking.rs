//! One statement that asks for a shop's state, for all who wait for it.

use super::ShopState;
use crate::entity::shop;
use crate::error::{Fault, StoreError};
use baystart_core::ids::ShopId;
use sea_orm::{DatabaseConnection, EntityTrait, FromQueryResult, QuerySelect};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::oneshot;
use uuid::Uuid;

/// How long the statement may take: a connection whose other end has died answers never.
const ANSWER_MAX: Duration = Duration::from_secs(10);

type Said = Result<ShopState, StoreError>;

/// Who waits for the statement that begins next, by shop; no entry: none is under way.
type Waiting = HashMap<ShopId, Vec<oneshot::Sender<Said>>>;

/// Asks for states. Each asker gets the answer of a statement that began after it asked.
#[derive(Clone, Default)]
pub(crate) struct Asking(Arc<Mutex<Waiting>>);

#[derive(FromQueryResult)]
struct Row {
    revision: i64,
    evidence_revision: i64,
    commit_id: Uuid,
}

impl Asking {
    /// The shop's state now.
    ///
    /// # Errors
    /// The database cannot be reached, or has no such shop.
    pub async fn state(&self, database: &DatabaseConnection, shop: ShopId) -> Said {
        let (tell, told) = oneshot::channel();
        let begins = {
            let mut waiting = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            match waiting.get_mut(&shop) {
                Some(next) => {
                    next.push(tell);
                    false
                }
                None => {
                    waiting.insert(shop, vec![tell]);
                    true
                }
            }
        };
        if begins {
            // A task of its own: a caller who goes away leaves nobody waiting.
            tokio::spawn(self.clone().serve(database.clone(), shop));
        }
        told.await.unwrap_or_else(|_| {
            Err(StoreError::Unavailable("the shop's state was not read: try again".to_owned()))
        })
    }

    async fn serve(self, database: DatabaseConnection, shop: ShopId) {
        // Dropped in the middle (a stop, a panic), nobody waits for ever.
        let ending = Ending { asking: &self, shop };
        loop {
            let askers = {
                let mut waiting = self.0.lock().unwrap_or_else(PoisonError::into_inner);
                match waiting.get_mut(&shop).map(std::mem::take) {
                    Some(askers) if !askers.is_empty() => askers,
                    _ => {
                        waiting.remove(&shop);
                        break;
                    }
                }
            };
            let said = match tokio::time::timeout(ANSWER_MAX, read(&database, shop)).await {
                Ok(said) => said,
                Err(_) => {
                    let text = "the database did not say the shop's state in time: try again";
                    Err(StoreError::Unavailable(text.to_owned()))
                }
            };
            for asker in askers {
                // One that went away needs no answer.
                let _ = asker.send(said.clone());
            }
        }
        std::mem::forget(ending);
    }
}

/// Lets a shop's next asker begin anew.
struct Ending<'a> {
    asking: &'a Asking,
    shop: ShopId,
}

impl Drop for Ending<'_> {
    fn drop(&mut self) {
        self.asking.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.shop);
    }
}

async fn read(database: &DatabaseConnection, shop: ShopId) -> Said {
    let row = shop::Entity::find_by_id(shop.0)
        .select_only()
        .columns([shop::Column::Revision, shop::Column::EvidenceRevision, shop::Column::CommitId])
        .into_model::<Row>()
        .one(database)
        .await
        .map_err(|error| StoreError::from(Fault::from(error)))?;
    let row = row.ok_or_else(|| StoreError::from(crate::database::no_shop(shop)))?;
    let Row { revision, evidence_revision, commit_id: commit } = row;
    Ok(ShopState { revision, evidence_revision, commit })
}
