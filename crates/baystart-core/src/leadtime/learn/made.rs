//! Laws of quotes that were asked for before.

use crate::leadtime::{DayLaw, SupplyKeys};
use std::collections::HashMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Laws that are kept at most; each is of some 9 kB.
const MADE_MAX: usize = 512;

type Key = (Option<u32>, Option<u32>, u32);

/// The laws that were asked for first, by whose evidence speaks and the quote in counted days. What is kept
/// says nothing of what the laws are: it is not copied, and not compared.
#[derive(Debug, Default)]
pub(super) struct Made(Mutex<HashMap<Key, DayLaw>>);

impl Made {
    /// The law that is kept, else the one that `make` makes.
    pub(super) fn law(
        &self,
        keys: SupplyKeys,
        quote: u32,
        make: impl FnOnce() -> DayLaw,
    ) -> DayLaw {
        let key = (keys.supplier, keys.offer, quote);
        if let Some(law) = self.lock().get(&key) {
            return law.clone();
        }
        // Not held meanwhile: others ask too.
        let law = make();
        let mut kept = self.lock();
        if kept.len() < MADE_MAX {
            kept.insert(key, law.clone());
        }
        law
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<Key, DayLaw>> {
        // Whoever panicked with it left it whole.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Clone for Made {
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl PartialEq for Made {
    fn eq(&self, _other: &Self) -> bool {
        true
    }
}
