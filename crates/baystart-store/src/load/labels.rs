//! Rows that a page of a list needs for their names only.

use super::fetch::by_ids;
use crate::entity::{bin, build, build_line, part, supplier};
use crate::error::Fault;
use crate::txn::Txn;
use baystart_core::book::Book;
use baystart_core::book::model::{Account, Movement, Offer};
use baystart_core::ids::ShopId;
use std::collections::BTreeSet;
use uuid::Uuid;

/// Ids whose rows are wanted.
#[derive(Default)]
pub(crate) struct Wanted {
    parts: BTreeSet<Uuid>,
    suppliers: BTreeSet<Uuid>,
    bins: BTreeSet<Uuid>,
    builds: BTreeSet<Uuid>,
    lines: BTreeSet<Uuid>,
}

impl Wanted {
    pub fn supplier(&mut self, id: Uuid) {
        self.suppliers.insert(id);
    }

    pub fn part(&mut self, id: Uuid) {
        self.parts.insert(id);
    }

    pub fn offer(&mut self, row: &Offer) {
        self.parts.insert(row.part.0);
        self.suppliers.insert(row.supplier.0);
    }

    pub fn movement(&mut self, row: &Movement) {
        self.lines.extend(row.line.map(|line| line.0));
        for entry in &row.entries {
            self.parts.insert(entry.key.part.0);
            match entry.account {
                Account::Supplier(id) | Account::Finisher(id) => self.suppliers.insert(id.0),
                Account::Bin(id) | Account::Quarantine(id) => self.bins.insert(id.0),
                Account::Build(id) | Account::Customer(id) => self.builds.insert(id.0),
                Account::UnknownSupplier | Account::Making | Account::Scrap | Account::Variance => {
                    false
                }
            };
        }
    }
}

/// A book that holds nothing but the wanted rows.
pub(crate) async fn labels(txn: &Txn, shop: ShopId, mut wanted: Wanted) -> Result<Book, Fault> {
    let mut book = Book::default();
    let of_shop = build_line::COLUMN.shop.eq(shop.0);
    let column = build_line::Column::Id;
    for row in by_ids::<build_line::Entity>(txn, of_shop, column, &wanted.lines).await? {
        let row = row.own()?;
        wanted.builds.insert(row.build.0);
        book.lines.insert(row.id, row);
    }
    let of_shop = part::COLUMN.shop.eq(shop.0);
    for row in by_ids::<part::Entity>(txn, of_shop, part::Column::Id, &wanted.parts).await? {
        let row = row.own(Vec::new())?;
        book.parts.insert(row.id, row);
    }
    let of_shop = supplier::COLUMN.shop.eq(shop.0);
    let column = supplier::Column::Id;
    for row in by_ids::<supplier::Entity>(txn, of_shop, column, &wanted.suppliers).await? {
        let row = row.own()?;
        book.suppliers.insert(row.id, row);
    }
    let of_shop = bin::COLUMN.shop.eq(shop.0);
    for row in by_ids::<bin::Entity>(txn, of_shop, bin::Column::Id, &wanted.bins).await? {
        let row = row.own()?;
        book.bins.insert(row.id, row);
    }
    let of_shop = build::COLUMN.shop.eq(shop.0);
    for row in by_ids::<build::Entity>(txn, of_shop, build::Column::Id, &wanted.builds).await? {
        let row = row.own()?;
        book.builds.insert(row.id, row);
    }
    Ok(book)
}
