//! What a history's offers are called.

use super::ShopHistory;
use crate::api::Listed;
use crate::entity::offer;
use crate::error::StoreError;
use crate::load::{self, Wanted, fetch};
use crate::store::Store;
use baystart_core::book::model::Offer;
use baystart_core::ids::{PartId, ShopId, SupplierId};
use sea_orm::sea_query::ExprTrait as _;

impl Store {
    /// A supplier's offers, with the rows of their parts and of some more.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn offers_of(
        &self,
        shop: ShopId,
        supplier: SupplierId,
        parts: &[PartId],
    ) -> Result<Listed<Offer>, StoreError> {
        let txn = self.begin().await?;
        let mut wanted = Wanted::default();
        for part in parts {
            wanted.part(part.0);
        }
        let mut rows = Vec::new();
        let condition = offer::COLUMN.shop.eq(shop.0).and(offer::COLUMN.supplier.eq(supplier.0));
        for row in fetch::all::<offer::Entity>(&txn, condition).await? {
            let row = row.own()?;
            wanted.offer(&row);
            rows.push(row);
        }
        let labels = load::labels(&txn, shop, wanted).await?;
        txn.done().await?;
        Ok(Listed { rows, labels })
    }
}

impl ShopHistory {
    /// A supplier's offers that the history knows: key, and part number in its
    /// normal form; the part need not be in the catalogue.
    #[must_use]
    pub fn offers_of(&self, supplier: u32) -> Vec<(u32, &str)> {
        let own = self.numbers.iter().filter(|((key, _), _)| *key == supplier);
        own.map(|((_, number), offer)| (*offer, number.as_str())).collect()
    }
}
