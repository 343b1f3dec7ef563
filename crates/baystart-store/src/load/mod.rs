//! Loading a slice of one shop, or all of it, inside the caller's transaction:
//! few statements, each for many rows.

mod bound;
mod changed;
pub(crate) mod fetch;
mod holders;
mod labels;
mod named;
mod seen;
mod used;
mod whole;

pub(crate) use changed::bring;
pub(crate) use fetch::by_ids;
pub(crate) use labels::{Wanted, labels};
pub(crate) use named::{ids_of, rows_of};

use crate::database::no_shop;
use crate::entity::{bin, closure, shop, supplier, token};
use crate::error::Fault;
use crate::txn::Txn;
use crate::warm::ShopState;
use baystart_core::book::Book;
use baystart_core::command::Scope;
use baystart_core::ids::ShopId;
use sea_orm::EntityTrait;
use seen::Seen;

/// A slice with the shop's last revision.
pub(crate) struct Loaded {
    pub book: Book,
    pub state: ShopState,
}

/// The shop's own row.
pub(crate) async fn shop_row(txn: &Txn, shop: ShopId) -> Result<shop::Model, Fault> {
    shop::Entity::find_by_id(shop.0).one(txn).await?.ok_or_else(|| no_shop(shop))
}

/// Loads what a scope asks for; references that do not exist are absent.
pub(crate) async fn load(txn: &Txn, shop: ShopId, scope: &Scope) -> Result<Loaded, Fault> {
    let row = shop_row(txn, shop).await?;
    load_of(txn, shop, &row, scope).await
}

/// The same of a shop whose row was read in this transaction.
pub(crate) async fn load_of(
    txn: &Txn,
    shop: ShopId,
    row: &shop::Model,
    scope: &Scope,
) -> Result<Loaded, Fault> {
    let mut book = Book::default();
    small_tables(txn, shop, row, &mut book).await?;
    if scope.tokens {
        for row in fetch::all::<token::Entity>(txn, token::COLUMN.shop.eq(shop.0)).await? {
            let row = row.own()?;
            book.tokens.insert(row.id, row);
        }
    }
    if scope.all {
        whole::load(txn, shop, &mut book).await?;
    } else {
        let mut seen = Seen::default();
        if scope.bays && row.bays > 0 {
            holders::load(txn, shop, &mut seen).await?;
        }
        named::load(txn, shop, scope, &mut seen).await?;
        bound::load(txn, shop, &mut seen).await?;
        seen.into_book(&mut book)?;
    }
    if scope.used_up {
        used::load(txn, shop, &mut book).await?;
    }
    Ok(Loaded { book, state: ShopState::of(row) })
}

/// The whole shop with its ledger and tokens, for checks.
pub(crate) async fn load_with_ledger(txn: &Txn, shop: ShopId) -> Result<Loaded, Fault> {
    let scope = Scope { all: true, tokens: true, ..Scope::default() };
    let mut loaded = load(txn, shop, &scope).await?;
    loaded.book.ledger = whole::ledger(txn, shop).await?;
    loaded.book.keep_ledger = true;
    Ok(loaded)
}

/// Settings, closures, suppliers and bins, in the place of those that the book has.
async fn small_tables(
    txn: &Txn,
    shop: ShopId,
    row: &shop::Model,
    book: &mut Book,
) -> Result<(), Fault> {
    book.settings = Some(row.own()?);
    book.closures.clear();
    for row in fetch::all::<closure::Entity>(txn, closure::COLUMN.shop.eq(shop.0)).await? {
        book.closures.insert(row.own()?);
    }
    for row in fetch::all::<supplier::Entity>(txn, supplier::COLUMN.shop.eq(shop.0)).await? {
        let row = row.own()?;
        book.suppliers.insert(row.id, row);
    }
    for row in fetch::all::<bin::Entity>(txn, bin::COLUMN.shop.eq(shop.0)).await? {
        let row = row.own()?;
        book.bins.insert(row.id, row);
    }
    Ok(())
}
