//! The store's handle.

#![allow(clippy::todo, clippy::unused_async, unused_variables, missing_docs)]

use crate::api::{
    Answer, Bulk, Caller, Listed, NewToken, OfferFilter, OrderFilter, Snapshot, StoreOptions,
    Submission,
};
use crate::error::StoreError;
use baystart_core::book::model::{
    Bin, BuildState, Closure, Movement, Offer, Part, Settings, Supplier, Token,
};
use baystart_core::command::Scope;
use baystart_core::ids::{BuildId, MovementId, OrderId, PartId, ShopId, TokenId};
use baystart_core::invariants::Violation;
use baystart_core::refs::{Ref, RefKind};
use jiff::civil::Date;
use std::sync::Arc;

/// A database of shops. Clones share it.
#[derive(Clone)]
pub struct Store(Arc<()>);

// The signatures, published first; the bodies follow.
impl Store {
    pub async fn open(url: &str, options: StoreOptions) -> Result<Store, StoreError> {
        todo!()
    }
    pub async fn close(&self) {
        todo!()
    }
    pub async fn ping(&self) -> Result<(), StoreError> {
        todo!()
    }
    pub async fn create_shop(&self, settings: Settings, admin: NewToken) -> Result<ShopId, StoreError> {
        todo!()
    }
    pub async fn shops(&self) -> Result<Vec<(ShopId, String)>, StoreError> {
        todo!()
    }
    pub async fn caller(&self, hash: [u8; 32]) -> Result<Option<Caller>, StoreError> {
        todo!()
    }
    pub async fn submit(&self, submission: Submission) -> Result<Answer, StoreError> {
        todo!()
    }
    pub async fn submit_bulk(&self, bulk: Bulk) -> Result<Answer, StoreError> {
        todo!()
    }
    pub async fn read(&self, shop: ShopId, scope: &Scope) -> Result<Snapshot, StoreError> {
        todo!()
    }
    pub async fn unknown(&self, shop: ShopId, refs: &[(RefKind, Ref)]) -> Result<Vec<bool>, StoreError> {
        todo!()
    }
    pub async fn verify(&self, shop: ShopId) -> Result<Vec<Violation>, StoreError> {
        todo!()
    }
    pub async fn list_parts(&self, shop: ShopId, after: Option<&str>, limit: u64, contains: &str) -> Result<Vec<Part>, StoreError> {
        todo!()
    }
    pub async fn list_suppliers(&self, shop: ShopId, after: Option<&str>, limit: u64) -> Result<Vec<Supplier>, StoreError> {
        todo!()
    }
    pub async fn list_bins(&self, shop: ShopId, after: Option<&str>, limit: u64) -> Result<Vec<Bin>, StoreError> {
        todo!()
    }
    /// After (supplier's normal code, part's normal number).
    pub async fn list_offers(&self, shop: ShopId, after: Option<(&str, &str)>, limit: u64, filter: &OfferFilter) -> Result<Listed<Offer>, StoreError> {
        todo!()
    }
    /// By first day, last day, supplier (the shop's own first); `from`: only those that end on or after it.
    /// Labels: suppliers.
    pub async fn list_closures(&self, shop: ShopId, after: Option<&Closure>, limit: u64, from: Option<Date>) -> Result<Listed<Closure>, StoreError> {
        todo!()
    }
    pub async fn list_tokens(&self, shop: ShopId, after: Option<TokenId>, limit: u64) -> Result<Vec<Token>, StoreError> {
        todo!()
    }
    /// Newest first. Labels: parts, bins, suppliers, builds.
    pub async fn list_movements(&self, shop: ShopId, after: Option<MovementId>, limit: u64, part: Option<&Ref>) -> Result<Listed<Movement>, StoreError> {
        todo!()
    }
    /// By normal number; `states` empty: every state.
    pub async fn list_builds(&self, shop: ShopId, after: Option<&str>, limit: u64, states: &[BuildState]) -> Result<Vec<BuildId>, StoreError> {
        todo!()
    }
    pub async fn list_orders(&self, shop: ShopId, after: Option<&str>, limit: u64, filter: &OrderFilter) -> Result<Vec<OrderId>, StoreError> {
        todo!()
    }
    /// Parts that have stock, lines or orders, by normal number.
    pub async fn list_stock_parts(&self, shop: ShopId, after: Option<&str>, limit: u64) -> Result<Vec<PartId>, StoreError> {
        todo!()
    }
}
