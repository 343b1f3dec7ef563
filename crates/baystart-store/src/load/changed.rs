//! A whole book brought from one state of its shop to the present: only the rows that changed are read.

use super::fetch::by_ids;
use super::seen::Seen;
use super::{Loaded, shop_row, small_tables};
use crate::entity::{
    awaited, bin_balance, build, build_line, change_log, entry, kit_component, movement, offer,
    order_line, part, peg, promise, purchase_order, reservation, row_history, stage, stock,
};
use crate::error::Fault;
use crate::txn::Txn;
use crate::warm::ShopState;
use baystart_core::book::Book;
use baystart_core::book::model::StockKey;
use baystart_core::ids::{BinId, LineId, OrderLineId, PartId, ShopId};
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Changed rows from which the whole book is read instead. By judgement.
const CHANGED_MAX: u64 = 2_000;

/// Ids of changed rows by their kind.
#[derive(Default)]
struct Changed {
    kinds: BTreeMap<String, BTreeSet<Uuid>>,
    pegs: BTreeSet<(Uuid, Uuid)>,
}

impl Changed {
    fn of(&self, kind: &str) -> BTreeSet<Uuid> {
        self.kinds.get(kind).cloned().unwrap_or_default()
    }
}

/// The book as the transaction sees it, from what it was at a state. None: the log does not lead from
/// there, or it is far: read it anew.
pub(crate) async fn bring(
    txn: &Txn,
    shop: ShopId,
    mut book: Book,
    from: ShopState,
) -> Result<Option<Loaded>, Fault> {
    let row = shop_row(txn, shop).await?;
    let state = ShopState::of(&row);
    if state == from {
        return Ok(Some(Loaded { book, state }));
    }
    if state.revision <= from.revision || !leads(txn, shop, from, state).await? {
        return Ok(None);
    }
    let Some(changed) = changed(txn, shop, from.revision).await? else { return Ok(None) };
    small_tables(txn, shop, &row, &mut book).await?;
    let Some((mut seen, stocked)) = rows(txn, shop, &changed, from.revision).await? else {
        return Ok(None);
    };
    for key in &changed.pegs {
        book.pegs.remove(&(LineId(key.0), OrderLineId(key.1)));
    }
    for part in &stocked {
        let keys: Vec<StockKey> =
            book.stock_of(PartId(*part)).map(|(key, _)| key.clone()).collect();
        for key in keys {
            let bins: Vec<BinId> = book.bins_of(&key).map(|(bin, _)| bin).collect();
            for bin in bins {
                book.balances.remove(&(key.clone(), bin));
            }
            book.stock.remove(&key);
        }
    }
    // An order line comes with all its promises.
    let ids: BTreeSet<Uuid> = seen.order_lines.keys().copied().collect();
    let of_shop = promise::COLUMN.shop.eq(shop.0);
    seen.promises =
        by_ids::<promise::Entity>(txn, of_shop, promise::Column::OrderLine, &ids).await?;
    seen.into_book(&mut book)?;
    Ok(Some(Loaded { book, state }))
}

/// Whether the log leads from one state to another without a gap: each commit found the id that the one
/// before it left. A change by hand, a step of the schema and another past break it.
async fn leads(txn: &Txn, shop: ShopId, from: ShopState, to: ShopState) -> Result<bool, Fault> {
    let rows: Vec<(Option<Uuid>, Option<Uuid>)> = change_log::Entity::find()
        .filter(change_log::COLUMN.shop.eq(shop.0))
        .filter(change_log::COLUMN.revision.gt(from.revision))
        .order_by_asc(change_log::Column::Revision)
        .select_only()
        .columns([change_log::Column::CommitBefore, change_log::Column::CommitId])
        .limit(CHANGED_MAX)
        .into_tuple()
        .all(txn)
        .await?;
    let mut at = from.commit;
    for (found, left) in rows {
        match (found, left) {
            // Several commands of one commit.
            (_, Some(left)) if left == at => {}
            (Some(found), Some(left)) if found == at => at = left,
            _ => return Ok(false),
        }
    }
    Ok(at == to.commit)
}

async fn changed(txn: &Txn, shop: ShopId, since: i64) -> Result<Option<Changed>, Fault> {
    let rows: Vec<(String, Uuid, Uuid)> = row_history::Entity::find()
        .filter(row_history::COLUMN.shop.eq(shop.0))
        .filter(row_history::COLUMN.revision.gt(since))
        .select_only()
        .columns([row_history::Column::Kind, row_history::Column::Id, row_history::Column::OtherId])
        .limit(CHANGED_MAX + 1)
        .into_tuple()
        .all(txn)
        .await?;
    if u64::try_from(rows.len()).is_ok_and(|rows| rows > CHANGED_MAX) {
        return Ok(None);
    }
    let mut changed = Changed::default();
    for (kind, id, other) in rows {
        match kind.as_str() {
            "peg" => {
                changed.pegs.insert((id, other));
            }
            // Read with the small tables.
            "settings" | "supplier" => {}
            "part" | "offer" | "build" | "stage" | "build_line" | "awaited" | "reservation"
            | "purchase_order" | "order_line" => {
                changed.kinds.entry(kind).or_default().insert(id);
            }
            // A newer server's: it knows of rows that this one does not.
            _ => return Ok(None),
        }
    }
    Ok(Some(changed))
}

/// The rows as they are, and the parts whose stock was read; None: too much was booked.
async fn rows(
    txn: &Txn,
    shop: ShopId,
    changed: &Changed,
    since: i64,
) -> Result<Option<(Seen, BTreeSet<Uuid>)>, Fault> {
    let moved: Vec<Uuid> = movement::Entity::find()
        .filter(movement::COLUMN.shop.eq(shop.0))
        .filter(movement::COLUMN.revision.gt(since))
        .select_only()
        .column(movement::Column::Id)
        .limit(CHANGED_MAX + 1)
        .into_tuple()
        .all(txn)
        .await?;
    if u64::try_from(moved.len()).is_ok_and(|moved| moved > CHANGED_MAX) {
        return Ok(None);
    }
    macro_rules! of {
        ($table:ident, $kind:literal) => {{
            let of_shop = $table::COLUMN.shop.eq(shop.0);
            by_ids::<$table::Entity>(txn, of_shop, $table::Column::Id, &changed.of($kind)).await?
        }};
    }
    let mut seen = Seen {
        part_rows: of!(part, "part"),
        offers: of!(offer, "offer"),
        stages: of!(stage, "stage"),
        awaited: of!(awaited, "awaited"),
        reservations: of!(reservation, "reservation"),
        ..Seen::default()
    };
    seen.builds.extend(of!(build, "build").into_iter().map(|row| (row.id, row)));
    seen.lines.extend(of!(build_line, "build_line").into_iter().map(|row| (row.id, row)));
    seen.orders.extend(of!(purchase_order, "purchase_order").into_iter().map(|row| (row.id, row)));
    seen.order_lines.extend(of!(order_line, "order_line").into_iter().map(|row| (row.id, row)));
    let of_shop = kit_component::COLUMN.shop.eq(shop.0);
    let kit = kit_component::Column::Kit;
    seen.components =
        by_ids::<kit_component::Entity>(txn, of_shop, kit, &changed.of("part")).await?;
    let lines: BTreeSet<Uuid> = changed.pegs.iter().map(|key| key.0).collect();
    let of_shop = peg::COLUMN.shop.eq(shop.0);
    seen.pegs = by_ids::<peg::Entity>(txn, of_shop, peg::Column::Line, &lines).await?;
    // Stock moves with bookings, and its totals with what is held of it.
    let moved: BTreeSet<Uuid> = moved.into_iter().collect();
    let of_shop = entry::COLUMN.shop.eq(shop.0);
    let entries = by_ids::<entry::Entity>(txn, of_shop, entry::Column::Movement, &moved).await?;
    let mut stocked: BTreeSet<Uuid> = entries.iter().map(|row| row.part).collect();
    stocked.extend(seen.reservations.iter().map(|row| row.part));
    let of_shop = stock::COLUMN.shop.eq(shop.0);
    seen.stock = by_ids::<stock::Entity>(txn, of_shop, stock::Column::Part, &stocked).await?;
    let of_shop = bin_balance::COLUMN.shop.eq(shop.0);
    let column = bin_balance::Column::Part;
    seen.balances = by_ids::<bin_balance::Entity>(txn, of_shop, column, &stocked).await?;
    Ok(Some((seen, stocked)))
}
