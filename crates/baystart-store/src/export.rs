//! Everything that goes into export files, of one consistent snapshot: the book
//! at once, imported past lines while they are read.

use crate::api::Snapshot;
use crate::convert::{corrupt, days, own_day, own_day_option};
use crate::entity::{imported, past_line_now, supplier};
use crate::error::StoreError;
use crate::load::{self, fetch};
use crate::past::{Entered, PastRow};
use crate::store::Store;
use baystart_core::command::Scope;
use baystart_core::ids::{ShopId, SupplierId};
use baystart_core::leadtime::history::CancelledBy;
use baystart_core::number::Number;
use baystart_core::quantity::Quantity;
use futures::TryStreamExt as _;
use jiff::civil::Date;
use sea_orm::sea_query::ExprTrait as _;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder};
use std::collections::BTreeSet;
use tokio::sync::{mpsc, oneshot};

/// Past lines that travel together.
const ROWS: usize = 500;

/// The shop at the moment of an export.
#[derive(Debug)]
pub struct Exported {
    /// Everything but past lines and bookings.
    pub snapshot: Snapshot,
    /// Normal forms of the numbers of orders that came from a sheet of open
    /// orders.
    pub taken_over: BTreeSet<String>,
}

impl Store {
    /// Reads a whole shop in one consistent read-only transaction: the snapshot
    /// first, then the imported past lines by supplier's code, order, line and
    /// part. Ends early when nobody takes the rows.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn export(
        &self,
        shop: ShopId,
        snapshot: oneshot::Sender<Exported>,
        rows: mpsc::Sender<Vec<PastRow>>,
    ) -> Result<(), StoreError> {
        let txn = self.begin().await?;
        self.database.allow_long(&txn).await?;
        let scope = Scope { all: true, ..Scope::default() };
        let loaded = load::load(&txn, shop, &scope).await?;
        let condition = imported::COLUMN.shop.eq(shop.0).and(imported::COLUMN.kind.eq("order"));
        let orders = fetch::all::<imported::Entity>(&txn, condition).await?;
        let exported = Exported {
            snapshot: Snapshot {
                book: loaded.book,
                revision: loaded.revision,
                evidence_revision: loaded.evidence_revision,
            },
            taken_over: orders.into_iter().map(|row| row.key).collect(),
        };
        if snapshot.send(exported).is_err() {
            return Ok(());
        }
        let of_shop = supplier::Entity::find().filter(supplier::COLUMN.shop.eq(shop.0));
        let mut suppliers = of_shop.order_by_asc(supplier::Column::Normal).all(&txn).await?;
        suppliers.sort_by(|a, b| a.normal.cmp(&b.normal));
        for seller in suppliers {
            let mut found = past_line_now::Entity::find()
                .filter(past_line_now::COLUMN.shop.eq(shop.0))
                .filter(past_line_now::COLUMN.supplier.eq(seller.id))
                .order_by_asc(past_line_now::Column::OrderNumber)
                .order_by_asc(past_line_now::Column::Line)
                .order_by_asc(past_line_now::Column::Part)
                .stream(&txn)
                .await?;
            let mut batch = Vec::new();
            while let Some(row) = found.try_next().await? {
                batch.push(past_row(&row)?);
                if batch.len() == ROWS && rows.send(std::mem::take(&mut batch)).await.is_err() {
                    return Ok(());
                }
            }
            drop(found);
            if !batch.is_empty() && rows.send(batch).await.is_err() {
                return Ok(());
            }
        }
        txn.done().await?;
        Ok(())
    }
}

fn past_row(row: &past_line_now::Model) -> Result<PastRow, StoreError> {
    let by = match row.cancelled_by_supplier {
        true => CancelledBy::Supplier,
        false => CancelledBy::Us,
    };
    let mut promises: Vec<(Date, Date)> = Vec::new();
    for word in row.promises.split_whitespace() {
        let pair = word
            .split_once('@')
            .and_then(|(date, known)| Some((date.parse().ok()?, known.parse().ok()?)));
        promises.push(pair.ok_or_else(|| corrupt("the promise", word))?);
    }
    Ok(PastRow {
        file_line: 0,
        supplier: SupplierId(row.supplier),
        order: number(&row.order_number),
        line: u32::try_from(row.line).map_err(|_| corrupt("the line", row.line))?,
        part: number(&row.part),
        quantity: Quantity::from_milli(row.quantity),
        quoted_days: days("the quoted lead time", row.quoted_days)?,
        placed_on: own_day(row.placed_on)?,
        promises,
        despatched_on: own_day_option(row.despatched_on)?,
        received_on: own_day_option(row.received_on)?,
        cancelled: own_day_option(row.cancelled_on)?.map(|on| (by, on)),
        last_known_open_on: own_day_option(row.last_known_open_on)?,
        recorded_on: own_day_option(row.recorded_on)?,
        entered: Entered::read(&row.entered).map_err(|word| corrupt("the day of entry", word))?,
        rejected: Quantity::from_milli(row.rejected),
    })
}

/// Past lines keep the normal form alone.
fn number(text: &str) -> Number {
    Number::kept(text.to_owned(), text.to_owned())
}
