//! A batch: the rows of one import, which count all at once or never.

use crate::convert::{instant, own_instant};
use crate::database::Database;
use crate::entity::past_batch;
use crate::error::{Fault, StoreError};
use crate::txn::Txn;
use crate::work::bulk;
use crate::work::retry::Tries;
use crate::write;
use baystart_core::ids::ShopId;
use jiff::Timestamp;
use sea_orm::sea_query::Expr;
use sea_orm::{EntityTrait, QueryFilter};
use std::collections::BTreeSet;
use std::time::{Duration, Instant};

/// An import that wrote nothing for this long has ended without a word: it must
/// be longer than an import may wait for its next rows.
const SILENT_MAX_S: i64 = 30;

/// How long another import of the shop is waited for, which may be ending.
const OTHER_WAIT: Duration = Duration::from_secs(5);
/// Between two looks at it.
const OTHER_PAUSE: Duration = Duration::from_millis(100);

/// A batch that is under way.
pub struct Batch {
    pub shop: ShopId,
    pub number: i64,
    /// Batches whose rows count.
    pub counted: BTreeSet<i64>,
    /// No row of the shop counts yet.
    pub first: bool,
}

impl Batch {
    /// Begins one. A shop has one at a time, for two could not tell which rows
    /// the other replaces; one that was just broken off is waited for, a moment.
    pub async fn open(database: &Database, shop: ShopId) -> Result<Self, StoreError> {
        let since = Instant::now();
        loop {
            match Self::try_open(database, shop).await {
                Err(StoreError::Busy(_)) if since.elapsed() < OTHER_WAIT => {
                    tokio::time::sleep(OTHER_PAUSE).await;
                }
                opened => return opened,
            }
        }
    }

    async fn try_open(database: &Database, shop: ShopId) -> Result<Self, StoreError> {
        let txn = bulk::locked(database, shop, &mut Tries::new(database)).await?;
        match begin(&txn, shop).await {
            Ok(batch) => {
                // Nothing is answered on the strength of this commit.
                txn.commit().await?.seen();
                Ok(batch)
            }
            Err(fault) => {
                let _ = txn.rollback().await;
                Err(fault.into())
            }
        }
    }

    /// Says that it goes on.
    pub async fn touch(&self, txn: &Txn) -> Result<(), Fault> {
        let set = past_batch::Entity::update_many()
            .col_expr(past_batch::Column::TouchedAt, Expr::value(instant(Timestamp::now())));
        self.only_open(set, txn).await
    }

    /// Its rows count from now on.
    pub async fn count_from(&self, txn: &Txn, revision: i64) -> Result<(), Fault> {
        let set = past_batch::Entity::update_many()
            .col_expr(past_batch::Column::Revision, Expr::value(revision))
            .col_expr(past_batch::Column::Ended, Expr::value(true));
        self.only_open(set, txn).await
    }

    /// Its rows will never count.
    pub async fn give_up(&self, database: &Database) -> Result<(), StoreError> {
        let txn = database.begin_write().await?;
        past_batch::Entity::update_many()
            .col_expr(past_batch::Column::Ended, Expr::value(true))
            .filter(past_batch::COLUMN.shop.eq(self.shop.0))
            .filter(past_batch::COLUMN.number.eq(self.number))
            .exec(&txn)
            .await?;
        txn.commit().await?.seen();
        Ok(())
    }

    async fn only_open(
        &self,
        set: sea_orm::UpdateMany<past_batch::Entity>,
        txn: &Txn,
    ) -> Result<(), Fault> {
        let done = set
            .filter(past_batch::COLUMN.shop.eq(self.shop.0))
            .filter(past_batch::COLUMN.number.eq(self.number))
            .filter(past_batch::COLUMN.ended.eq(false))
            .exec(txn)
            .await?;
        if done.rows_affected == 1 {
            return Ok(());
        }
        let text = "the import was given up, since it said nothing for long: nothing was kept";
        Err(Fault::Fatal(StoreError::Busy(text.to_owned())))
    }
}

async fn begin(txn: &Txn, shop: ShopId) -> Result<Batch, Fault> {
    let now = Timestamp::now();
    let rows =
        past_batch::Entity::find().filter(past_batch::COLUMN.shop.eq(shop.0)).all(txn).await?;
    let mut counted = BTreeSet::from([0]);
    for row in &rows {
        if row.revision.is_some() {
            counted.insert(row.number);
        }
        let silent_s = now.as_second() - own_instant(row.touched_at)?.as_second();
        // A clock that ran ahead, or runs behind here, is as good as silence.
        if !row.ended && silent_s.abs() < SILENT_MAX_S {
            let text = "another import of history is under way, or broke off within the last \
                        half minute: try again after it";
            return Err(Fault::Fatal(StoreError::Busy(text.to_owned())));
        }
    }
    past_batch::Entity::update_many()
        .col_expr(past_batch::Column::Ended, Expr::value(true))
        .filter(past_batch::COLUMN.shop.eq(shop.0))
        .filter(past_batch::COLUMN.ended.eq(false))
        .exec(txn)
        .await?;
    let number = rows.iter().map(|row| row.number).max().unwrap_or(0) + 1;
    let row = past_batch::Model {
        shop: shop.0,
        number,
        revision: None,
        ended: false,
        cleared: false,
        touched_at: instant(now),
    };
    write::add::<past_batch::Entity, _>(txn, vec![row]).await?;
    let any = crate::entity::past_line::Entity::find()
        .filter(crate::entity::past_line::COLUMN.shop.eq(shop.0));
    let first = any.one(txn).await?.is_none();
    Ok(Batch { shop, number, counted, first })
}
