//! Laws of quotes and promises that were asked for before, and what stood behind them.

use super::Evidence;
use crate::leadtime::{DayLaw, SupplyKeys};
use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Laws of each kind that are kept at most; each is of some 9 kB.
const MADE_MAX: usize = 512;
/// The same of what stands behind them, which is small.
const EVIDENCE_MAX: usize = 8_192;

/// Whose evidence speaks, and the quote in counted days.
type Quoted = (Option<u32>, Option<u32>, u32);
/// The supplier, and of a promise its notice and its counted days, with the lead-in and without.
type Promised = (Option<u32>, i64, i64, i64);
/// Whose evidence speaks, the quote in calendar days, and the age in counted days.
type Aged = (Option<u32>, Option<u32>, Option<u32>, usize);

/// The laws that were asked for first, by whose evidence speaks and the quote in counted days. What is kept
/// says nothing of what the laws are: it is not copied, and not compared.
#[derive(Debug, Default)]
pub(super) struct Made {
    quoted: Kept<Quoted, DayLaw>,
    promised: Kept<Promised, DayLaw>,
    evidence: Kept<Aged, Evidence>,
}

#[derive(Debug)]
struct Kept<K, V>(Mutex<HashMap<K, V>>);

impl Made {
    /// The law of a quote that is kept, else the one that `make` makes.
    pub(super) fn law(
        &self,
        keys: SupplyKeys,
        quote: u32,
        make: impl FnOnce() -> DayLaw,
    ) -> DayLaw {
        self.quoted.get((keys.supplier, keys.offer, quote), MADE_MAX, make)
    }

    /// The same of a promise: its notice in calendar days, and its counted days with the lead-in and without.
    pub(super) fn promised(
        &self,
        keys: SupplyKeys,
        (notice, from_lead_in, days): (i64, i64, i64),
        make: impl FnOnce() -> DayLaw,
    ) -> DayLaw {
        self.promised.get((keys.supplier, notice, from_lead_in, days), MADE_MAX, make)
    }

    /// The same of what stands behind a lead time at an age.
    pub(super) fn evidence(
        &self,
        keys: SupplyKeys,
        (quote, age): (Option<u32>, usize),
        make: impl FnOnce() -> Evidence,
    ) -> Evidence {
        self.evidence.get((keys.supplier, keys.offer, quote, age), EVIDENCE_MAX, make)
    }
}

impl<K, V> Default for Kept<K, V> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<K: Eq + Hash, V: Clone> Kept<K, V> {
    fn get(&self, key: K, most: usize, make: impl FnOnce() -> V) -> V {
        if let Some(found) = self.lock().get(&key) {
            return found.clone();
        }
        // Not held meanwhile: others ask too.
        let made = make();
        let mut kept = self.lock();
        if kept.len() < most {
            kept.insert(key, made.clone());
        }
        made
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<K, V>> {
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
