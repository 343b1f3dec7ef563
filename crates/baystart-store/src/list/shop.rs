//! Bins, closed days, tokens.

use crate::api::Listed;
use crate::convert::own_instant;
use crate::entity::{bin, change_log, closure, token};
use crate::error::StoreError;
use crate::load::{Wanted, labels};
use crate::store::Store;
use baystart_core::book::model::{Bin, Closure, Token};
use baystart_core::ids::{ShopId, TokenId};
use jiff::Timestamp;
use jiff::civil::Date;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect};

impl Store {
    /// Bins by normal code, after one.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_bins(
        &self,
        shop: ShopId,
        after: Option<&str>,
        limit: u64,
    ) -> Result<Vec<Bin>, StoreError> {
        let txn = self.begin().await?;
        let rows = bin::Entity::find()
            .filter(bin::COLUMN.shop.eq(shop.0))
            .filter(bin::COLUMN.normal.gt(after.unwrap_or_default()))
            .order_by_asc(bin::Column::Normal)
            .limit(limit)
            .all(&txn)
            .await?;
        txn.done().await?;
        rows.iter().map(bin::Model::own).collect()
    }

    /// Closed days by first day, last day, supplier (the shop's own first) and
    /// name, after one; `from`: only those that end on or after it. Labels:
    /// suppliers.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_closures(
        &self,
        shop: ShopId,
        after: Option<&Closure>,
        limit: u64,
        from: Option<Date>,
    ) -> Result<Listed<Closure>, StoreError> {
        let txn = self.begin().await?;
        let found =
            closure::Entity::find().filter(closure::COLUMN.shop.eq(shop.0)).all(&txn).await?;
        let key = |row: &Closure| (row.first_day, row.last_day, row.supplier, row.name.clone());
        let mut rows = Vec::new();
        for row in &found {
            let row = row.own()?;
            let late_enough = from.is_none_or(|from| row.last_day >= from);
            if late_enough && after.is_none_or(|after| key(&row) > key(after)) {
                rows.push(row);
            }
        }
        rows.sort_by_key(key);
        rows.truncate(usize::try_from(limit).unwrap_or(usize::MAX));
        let mut wanted = Wanted::default();
        for supplier in rows.iter().filter_map(|row| row.supplier) {
            wanted.supplier(supplier.0);
        }
        let labels = labels(&txn, shop, wanted).await?;
        txn.done().await?;
        Ok(Listed { rows, labels })
    }

    /// When a revision of the shop was recorded; None: there is no such revision.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn revision_recorded_at(
        &self,
        shop: ShopId,
        revision: i64,
    ) -> Result<Option<Timestamp>, StoreError> {
        let txn = self.begin().await?;
        let row = change_log::Entity::find_by_id((shop.0, revision)).one(&txn).await?;
        txn.done().await?;
        row.map(|row| own_instant(row.recorded_at)).transpose()
    }

    /// Tokens by id, which is the order of issue; revoked ones too.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn list_tokens(
        &self,
        shop: ShopId,
        after: Option<TokenId>,
        limit: u64,
    ) -> Result<Vec<Token>, StoreError> {
        let txn = self.begin().await?;
        let rows = token::Entity::find()
            .filter(token::COLUMN.shop.eq(shop.0))
            .filter(token::COLUMN.id.gt(after.map_or_else(uuid::Uuid::nil, |after| after.0)))
            .order_by_asc(token::Column::Id)
            .limit(limit)
            .all(&txn)
            .await?;
        txn.done().await?;
        rows.iter().map(token::Model::own).collect()
    }
}
