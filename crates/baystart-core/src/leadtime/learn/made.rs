//! Laws of quotes and promises that were asked for before.

use crate::leadtime::{DayLaw, SupplyKeys};
use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Laws of each kind that are kept at most; each is of some 9 kB.
const MADE_MAX: usize = 512;

/// Whose evidence speaks, and the quote in counted days.
type Quoted = (Option<u32>, Option<u32>, u32);
/// The supplier, and of a promise its notice and its counted days, with the lead-in and without.
type Promised = (Option<u32>, i64, i64, i64);

/// The laws that were asked for first, by whose evidence speaks and the quote in counted days. What is kept
/// says nothing of what the laws are: it is not copied, and not compared.
#[derive(Debug, Default)]
pub(super) struct Made {
    quoted: Kept<Quoted>,
    promised: Kept<Promised>,
}

#[derive(Debug)]
struct Kept<K>(Mutex<HashMap<K, DayLaw>>);

impl Made {
    /// The law of a quote that is kept, else the one that `make` makes.
    pub(super) fn law(
        &self,
        keys: SupplyKeys,
        quote: u32,
        make: impl FnOnce() -> DayLaw,
    ) -> DayLaw {
        self.quoted.law((keys.supplier, keys.offer, quote), make)
    }

    /// The same of a promise: its notice in calendar days, and its counted days with the lead-in and without.
    pub(super) fn promised(
        &self,
        keys: SupplyKeys,
        (notice, from_lead_in, days): (i64, i64, i64),
        make: impl FnOnce() -> DayLaw,
    ) -> DayLaw {
        self.promised.law((keys.supplier, notice, from_lead_in, days), make)
    }
}

impl<K> Default for Kept<K> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<K: Eq + Hash> Kept<K> {
    fn law(&self, key: K, make: impl FnOnce() -> DayLaw) -> DayLaw {
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

    fn lock(&self) -> MutexGuard<'_, HashMap<K, DayLaw>> {
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
