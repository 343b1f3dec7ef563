//! Tokens that were seen before: good while their shop's state is what it was.

use crate::api::Caller;
use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

/// Tokens that are kept; then all are looked up anew.
const TOKENS_MAX: usize = 10_000;

/// By the SHA-256 of the secret: who has it, at a state of the shop.
#[derive(Default)]
pub(crate) struct KnownTokens(Mutex<HashMap<[u8; 32], Caller>>);

impl KnownTokens {
    pub fn get(&self, hash: &[u8; 32]) -> Option<Caller> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(hash).cloned()
    }

    pub fn note(&self, hash: [u8; 32], caller: &Caller) {
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if known.len() >= TOKENS_MAX {
            known.clear();
        }
        known.insert(hash, caller.clone());
    }

    pub fn forget(&self, hash: &[u8; 32]) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).remove(hash);
    }
}
