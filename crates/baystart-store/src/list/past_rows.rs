//! Rows as they were known at an earlier revision.

use crate::convert::{corrupt, instant};
use crate::entity::change_log;
use crate::error::StoreError;
use crate::store::Store;
use baystart_core::book::PastRow;
use baystart_core::ids::{
    AwaitedId, BuildId, LineId, OrderId, OrderLineId, ReservationId, ShopId, StageId,
};
use jiff::Timestamp;
use sea_orm::{
    ConnectionTrait, EntityTrait, FromQueryResult, QueryFilter, QueryOrder, QuerySelect, Statement,
};
use serde::de::DeserializeOwned;
use uuid::Uuid;

/// Rows that changed since, at most; a past further off is not reckoned.
const ROWS_MAX: usize = 100_000;

#[derive(FromQueryResult)]
struct State {
    kind: String,
    id: Uuid,
    other_id: Uuid,
    /// None: there was no such row yet.
    state: Option<String>,
}

const STATES: &str = "SELECT n.kind, n.id, n.other_id, h.state
  FROM (SELECT DISTINCT kind, id, other_id FROM row_history
    WHERE shop = $1 AND revision > $2 AND revision <= $3
      AND kind IN ('settings', 'build', 'stage', 'build_line', 'awaited', 'reservation',
        'purchase_order', 'order_line', 'peg') LIMIT $4) n
  LEFT JOIN row_history h ON h.shop = $1 AND h.kind = n.kind AND h.id = n.id
    AND h.other_id = n.other_id AND h.revision = (SELECT MAX(p.revision) FROM row_history p
      WHERE p.shop = $1 AND p.kind = n.kind AND p.id = n.id AND p.other_id = n.other_id
        AND p.revision <= $2)
  ORDER BY n.kind, n.id, n.other_id";

impl Store {
    /// The last revision up to `now` that was recorded before an instant; 0: none.
    ///
    /// # Errors
    /// The database cannot be reached.
    pub async fn revision_before(
        &self,
        shop: ShopId,
        end: Timestamp,
        now: i64,
    ) -> Result<i64, StoreError> {
        let txn = self.begin().await?;
        let last = change_log::Entity::find()
            .filter(change_log::COLUMN.shop.eq(shop.0))
            .filter(change_log::COLUMN.revision.lte(now))
            .filter(change_log::COLUMN.recorded_at.lt(instant(end)))
            .order_by_desc(change_log::Column::Revision)
            .select_only()
            .column(change_log::Column::Revision)
            .limit(1)
            .into_tuple::<i64>()
            .one(&txn)
            .await?;
        txn.done().await?;
        Ok(last.unwrap_or(0))
    }

    /// Every row that was changed after revision `then`, up to revision `now`, as it stood at `then`; None:
    /// too many.
    ///
    /// # Errors
    /// The database cannot be reached, or holds a state that does not read.
    pub async fn past_rows(
        &self,
        shop: ShopId,
        then: i64,
        now: i64,
    ) -> Result<Option<Vec<PastRow>>, StoreError> {
        let txn = self.begin().await?;
        let most = i64::try_from(ROWS_MAX).unwrap_or(i64::MAX) + 1;
        let values = [shop.0.into(), then.into(), now.into(), most.into()];
        let backend = txn.get_database_backend();
        let statement = Statement::from_sql_and_values(backend, STATES, values);
        let rows = State::find_by_statement(statement).all(&txn).await?;
        txn.done().await?;
        if rows.len() > ROWS_MAX {
            return Ok(None);
        }
        let mut past = Vec::new();
        for row in &rows {
            past.extend(own(row)?);
        }
        Ok(Some(past))
    }
}

fn own(row: &State) -> Result<Option<PastRow>, StoreError> {
    let State { id, other_id, .. } = *row;
    Ok(Some(match row.kind.as_str() {
        // The first settings were written before there was a log.
        "settings" => return Ok(of::<Box<_>>(row)?.map(PastRow::Settings)),
        "build" => PastRow::Build(BuildId(id), of(row)?),
        "stage" => PastRow::Stage(StageId(id), of(row)?),
        "build_line" => PastRow::Line(LineId(id), of(row)?),
        "awaited" => PastRow::Awaited(AwaitedId(id), of(row)?),
        "reservation" => PastRow::Reservation(ReservationId(id), of(row)?),
        "purchase_order" => PastRow::Order(OrderId(id), of(row)?),
        "order_line" => PastRow::OrderLine(OrderLineId(id), of(row)?),
        "peg" => PastRow::Peg((LineId(id), OrderLineId(other_id)), of(row)?),
        other => return Err(corrupt("the kind of a row's history", other)),
    }))
}

fn of<T: DeserializeOwned>(row: &State) -> Result<Option<T>, StoreError> {
    let text = row.state.as_deref();
    text.map(|text| serde_json::from_str(text).map_err(|_| corrupt("a row's history", text)))
        .transpose()
}
