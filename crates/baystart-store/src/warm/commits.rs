//! Word of commits, for whoever waits for a shop's next one.

use baystart_core::ids::ShopId;
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};
use tokio::sync::watch;

/// By shop: who is told. Other servers' commits are not known here.
#[derive(Default)]
pub(crate) struct Commits(Mutex<HashMap<ShopId, watch::Sender<()>>>);

impl Commits {
    /// Tells of a commit.
    pub fn tell(&self, shop: ShopId) {
        let mut told = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(sender) = told.get(&shop)
            && sender.send(()).is_err()
        {
            told.remove(&shop);
        }
    }

    /// Is told of every commit from now on.
    pub fn listen(&self, shop: ShopId) -> watch::Receiver<()> {
        let mut told = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        told.retain(|_, sender| sender.receiver_count() > 0);
        told.entry(shop).or_insert_with(|| watch::channel(()).0).subscribe()
    }
}
