//! Books that stay warm: the whole book of each shop that is being used, so that a read or a decision
//! loads nothing.
//!
//! A book is good while the shop's row says the revision and the commit id that it was read or left at.
//! Both are asked for once in every call ([`asking`]), after it came: so it sees all that was answered
//! before, whichever server wrote it. A commit id is random: a restored database, another server's
//! commits and rows that were changed by hand do not go by unseen. A call whose shop has no warm book,
//! or an old one, reads its slice as if there were none, and the whole book is read beside it for the
//! next.

mod asking;
mod books;
mod commits;
mod tokens;

pub(crate) use books::{Looked, Then, WarmBooks};
use commits::Commits;

use crate::api::Caller;
use crate::convert::roles_of;
use crate::database::Database;
use crate::entity::{shop, token};
use crate::error::{Fault, StoreError};
use crate::load::{self, Loaded};
use crate::txn::Txn;
use asking::Asking;
use baystart_core::book::Book;
use baystart_core::command::Scope;
use baystart_core::ids::{ShopId, TokenId};
use sea_orm::{EntityTrait, QueryFilter};
use std::sync::Arc;
use std::time::Duration;
use tokens::KnownTokens;
use tokio::sync::Semaphore;
use uuid::Uuid;

/// Books that are read at once to be kept: calls read beside them.
const READINGS_MAX: usize = 2;
/// How long the reading of a whole book may take.
const WHOLE_MAX: Duration = Duration::from_secs(120);
/// How long it is not tried again after it failed.
const PAUSE: Duration = Duration::from_secs(60);

/// A state of a shop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ShopState {
    /// The last revision.
    pub revision: i64,
    /// The last revision that changed what lead times are learned from.
    pub evidence_revision: i64,
    /// Random, renewed by every commit.
    pub commit: Uuid,
}

impl ShopState {
    pub(crate) const fn of(row: &shop::Model) -> Self {
        Self {
            revision: row.revision,
            evidence_revision: row.evidence_revision,
            commit: row.commit_id,
        }
    }
}

/// Whether a whole book has what a scope asks for: tokens and past use are not kept in it.
pub(crate) const fn covers(scope: &Scope) -> bool {
    !scope.tokens && !scope.used_up
}

/// What a server keeps of its shops.
pub(crate) struct Warm {
    database: Arc<Database>,
    pub books: WarmBooks,
    pub commits: Commits,
    asking: Asking,
    tokens: KnownTokens,
    readings: Semaphore,
}

impl Warm {
    pub fn new(database: Arc<Database>) -> Self {
        let books = WarmBooks::new(database.options.warm_bytes_max);
        Self {
            database,
            books,
            commits: Commits::default(),
            asking: Asking::default(),
            tokens: KnownTokens::default(),
            readings: Semaphore::new(READINGS_MAX),
        }
    }

    /// A shop's state, by a statement that begins after the call.
    pub async fn state(&self, shop: ShopId) -> Result<ShopState, StoreError> {
        self.asking.state(&self.database.single, shop).await
    }

    /// Who has a secret, and the shop's state at which that was found.
    pub async fn caller(&self, hash: [u8; 32]) -> Result<Option<Caller>, StoreError> {
        let known = self.tokens.get(&hash);
        // A first look, for nothing but the shop, where the token was never seen.
        let shop = match &known {
            Some(caller) => caller.shop,
            None => match token_of(&self.database, hash).await? {
                Some(row) => ShopId(row.shop),
                None => return Ok(None),
            },
        };
        let at = self.state(shop).await?;
        if let Some(caller) = known.filter(|caller| caller.at == at) {
            return Ok(Some(caller));
        }
        // Read after the state: if that is still the same later, so is the token.
        let Some(row) = token_of(&self.database, hash).await? else {
            self.tokens.forget(&hash);
            return Ok(None);
        };
        let (roles, token) = (roles_of(&row)?, TokenId(row.id));
        let caller = Caller { shop: ShopId(row.shop), name: row.name, roles, token, at };
        self.tokens.note(hash, &caller);
        Ok(Some(caller))
    }

    /// The whole book at the state that was asked for, or at a later one, if it is warm or was lately.
    pub async fn book(
        self: &Arc<Self>,
        shop: ShopId,
        at: ShopState,
    ) -> Result<Option<(Book, ShopState)>, StoreError> {
        let mut at = at;
        // A state from the beginning of a long call is old, and this server may have written since.
        for _ in 0..2 {
            match self.books.look(shop, at) {
                Looked::Warm(book) => return Ok(Some((*book, at))),
                Looked::Cold { is_old: true } => at = self.state(shop).await?,
                Looked::Cold { is_old: false } => {
                    self.read_beside(shop);
                    return Ok(None);
                }
            }
        }
        self.brought(shop).await
    }

    /// An old book with what others wrote since; one caller does it, and the rest read their slices.
    async fn brought(
        self: &Arc<Self>,
        shop: ShopId,
    ) -> Result<Option<(Book, ShopState)>, StoreError> {
        let Some((old, from)) = self.books.old(shop) else { return Ok(None) };
        let Some(reading) = Reading::begin(self, shop) else { return Ok(None) };
        let txn = self.database.begin_read().await?;
        let brought = load::bring(&txn, shop, old, from).await?;
        txn.done().await?;
        match brought {
            Some(Loaded { book, state }) => {
                reading.keep(state, book.clone());
                Ok(Some((book, state)))
            }
            None => {
                drop(reading);
                self.books.forget(shop);
                self.read_beside(shop);
                Ok(None)
            }
        }
    }

    /// The book to decide on, in a transaction that holds the shop's lock.
    pub async fn at_lock(
        &self,
        txn: &Txn,
        shop: ShopId,
        at: ShopState,
    ) -> Result<Option<Book>, Fault> {
        match self.books.look(shop, at) {
            Looked::Warm(book) => Ok(Some(*book)),
            Looked::Cold { is_old: false } => Ok(None),
            Looked::Cold { is_old: true } => {
                let Some((old, from)) = self.books.old(shop) else { return Ok(None) };
                let brought = load::bring(txn, shop, old, from).await?;
                Ok(brought.map(|Loaded { book, state }| {
                    // What the transaction sees is what was committed before: its lock is held.
                    self.books.read(shop, state, book.clone());
                    book
                }))
            }
        }
    }

    /// Reads a shop's book for the calls to come.
    fn read_beside(self: &Arc<Self>, shop: ShopId) {
        let Some(reading) = Reading::begin(self, shop) else { return };
        let warm = Arc::clone(self);
        tokio::spawn(async move {
            let _turn = warm.readings.acquire().await;
            let read = tokio::time::timeout(WHOLE_MAX, warm.read_whole(shop)).await;
            match read.map(|read| read.map_err(StoreError::from)) {
                Ok(Ok(Loaded { book, state })) => {
                    let kept = reading.keep(state, book);
                    let (shops, bytes) = warm.books.size();
                    tracing::info!(%shop, kept, shops, mib = bytes >> 20, "a shop's book was read to be kept");
                }
                Ok(Err(error)) => {
                    warm.books.not_before(shop, PAUSE);
                    tracing::debug!(%shop, %error, "a book was not read to be kept");
                }
                Err(_) => {
                    warm.books.not_before(shop, PAUSE);
                    tracing::warn!(%shop, "a shop's book was not read in time");
                }
            }
        });
    }

    async fn read_whole(&self, shop: ShopId) -> Result<Loaded, Fault> {
        let txn = self.database.begin_read().await?;
        self.database.allow_long(&txn).await?;
        let scope = Scope { all: true, ..Scope::default() };
        let loaded = load::load(&txn, shop, &scope).await?;
        txn.done().await?;
        Ok(loaded)
    }
}

/// One reading of a shop's book at a time; it ends when this is dropped, whoever goes away.
struct Reading {
    warm: Arc<Warm>,
    shop: ShopId,
}

impl Reading {
    fn begin(warm: &Arc<Warm>, shop: ShopId) -> Option<Self> {
        warm.books.begin_reading(shop).then(|| Self { warm: Arc::clone(warm), shop })
    }

    fn keep(self, at: ShopState, book: Book) -> bool {
        self.warm.books.read(self.shop, at, book)
    }
}

impl Drop for Reading {
    fn drop(&mut self) {
        self.warm.books.end_reading(self.shop);
    }
}

async fn token_of(database: &Database, hash: [u8; 32]) -> Result<Option<token::Model>, StoreError> {
    let good = token::Entity::find()
        .filter(token::COLUMN.hash.eq(hash.to_vec()))
        .filter(token::COLUMN.revoked_at.is_null());
    good.one(&database.single).await.map_err(|error| Fault::from(error).into())
}
