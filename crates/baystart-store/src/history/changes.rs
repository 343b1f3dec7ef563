//! What changed in a shop's history since a revision.

use super::stages::{self, PastStages};
use super::taken_over::TakenOver;
use super::{own, waits};
use crate::api::Snapshot;
use crate::convert::corrupt;
use crate::entity::{
    change_log, order_line, part, past_line_now, promise, purchase_order, row_history,
};
use crate::error::Fault;
use crate::load::{by_ids, fetch};
use crate::txn::Txn;
use baystart_core::book::Book;
use baystart_core::ids::{OrderLineId, PartId, ShopId, SupplierId};
use baystart_core::leadtime::history::{PastLine, order_key};
use jiff::tz::TimeZone;
use sea_orm::sea_query::ExprTrait as _;
use sea_orm::{EntityTrait, PaginatorTrait, QueryFilter, QuerySelect};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use uuid::Uuid;

/// More changed rows than this are read together with all others.
const ROWS_MAX: usize = 2_000;

/// Rows that changed between two evidence revisions.
#[derive(Clone, Debug)]
pub struct HistoryChanges {
    /// The revision since which they changed.
    pub(super) since: i64,
    pub(super) revision: i64,
    pub(super) evidence_revision: i64,
    /// Settings, suppliers and closures as they are now.
    pub(super) book: Book,
    /// Parts that were made or changed, with their numbers' normal forms.
    pub(super) parts: Vec<(PartId, String)>,
    /// All stages that have begun, as they are now.
    pub(super) stages: PastStages,
    /// Order lines that were placed or changed, by id.
    pub(super) lines: Vec<ChangedLine>,
}

/// An order line as it is now.
#[derive(Clone, Debug)]
pub(super) struct ChangedLine {
    pub id: OrderLineId,
    pub supplier: SupplierId,
    pub part: PartId,
    /// Without keys.
    pub line: PastLine,
    /// Whether an imported line goes by the same supplier, order and part.
    pub imported_too: bool,
}

/// Reads what changed since the evidence revision `since`; None: too much, or a
/// history was imported.
pub(super) async fn since(
    txn: &Txn,
    shop: ShopId,
    since: i64,
    now: &Snapshot,
) -> Result<Option<HistoryChanges>, Fault> {
    if imported_since(txn, shop, since).await? || waits::changed_since(txn, shop, since).await? {
        return Ok(None);
    }
    let changed = row_history::Entity::find()
        .filter(row_history::COLUMN.shop.eq(shop.0))
        .filter(row_history::COLUMN.revision.gt(since))
        .filter(row_history::COLUMN.kind.is_in(["order_line", "part"]))
        .select_only()
        .columns([row_history::Column::Kind, row_history::Column::Id])
        .distinct()
        .limit(ROWS_MAX as u64 + 1)
        .into_tuple::<(String, Uuid)>()
        .all(txn)
        .await?;
    if changed.len() > ROWS_MAX {
        return Ok(None);
    }
    let ids = |wanted: &str| -> BTreeSet<Uuid> {
        changed.iter().filter(|(kind, _)| kind == wanted).map(|(_, id)| *id).collect()
    };
    let named = &now.book.settings.as_ref().map_or("UTC", |settings| &settings.time_zone);
    let zone = TimeZone::get(named).map_err(|_| corrupt("the time zone", named))?;
    let of_shop = part::COLUMN.shop.eq(shop.0);
    let parts = by_ids::<part::Entity>(txn, of_shop, part::Column::Id, &ids("part")).await?;
    let mut book = Book { settings: now.book.settings.clone(), ..Book::default() };
    book.closures.clone_from(&now.book.closures);
    book.suppliers.clone_from(&now.book.suppliers);
    Ok(Some(HistoryChanges {
        since,
        revision: now.revision,
        evidence_revision: now.evidence_revision,
        book,
        parts: parts.into_iter().map(|row| (PartId(row.id), row.normal)).collect(),
        stages: stages::read(txn, shop).await?,
        lines: lines(txn, shop, &zone, &ids("order_line")).await?,
    }))
}

/// An import may leave no history of rows.
async fn imported_since(txn: &Txn, shop: ShopId, since: i64) -> Result<bool, Fault> {
    let imports = change_log::Entity::find()
        .filter(change_log::COLUMN.shop.eq(shop.0))
        .filter(change_log::COLUMN.revision.gt(since))
        .filter(change_log::COLUMN.imports_history.eq(true))
        .count(txn)
        .await?;
    Ok(imports > 0)
}

async fn lines(
    txn: &Txn,
    shop: ShopId,
    zone: &TimeZone,
    ids: &BTreeSet<Uuid>,
) -> Result<Vec<ChangedLine>, Fault> {
    let of_shop = order_line::COLUMN.shop.eq(shop.0);
    let mut rows = by_ids::<order_line::Entity>(txn, of_shop, order_line::Column::Id, ids).await?;
    rows.sort_by_key(|row| row.id);
    let of_shop = promise::COLUMN.shop.eq(shop.0);
    let mut promises: BTreeMap<Uuid, Vec<promise::Model>> = BTreeMap::new();
    for row in by_ids::<promise::Entity>(txn, of_shop, promise::Column::OrderLine, ids).await? {
        promises.entry(row.order_line).or_default().push(row);
    }
    let wanted = rows.iter().map(|row| row.purchase_order).collect();
    let of_shop = purchase_order::COLUMN.shop.eq(shop.0);
    let column = purchase_order::Column::Id;
    let mut orders = HashMap::new();
    for row in by_ids::<purchase_order::Entity>(txn, of_shop, column, &wanted).await? {
        orders.insert(row.id, row);
    }
    let imported = imported_parts(txn, shop, orders.values()).await?;
    let taken_over = TakenOver::of_orders(txn, shop, zone, orders.values()).await?;
    let wanted = rows.iter().map(|row| row.part).collect();
    let of_shop = part::COLUMN.shop.eq(shop.0);
    let mut numbers = HashMap::new();
    for row in by_ids::<part::Entity>(txn, of_shop, part::Column::Id, &wanted).await? {
        numbers.insert(row.id, row.normal);
    }
    let mut lines = Vec::with_capacity(rows.len());
    for row in &rows {
        let mut of_line = promises.remove(&row.id).unwrap_or_default();
        of_line.sort_by_key(|promise| promise.ordinal);
        let Some(mut line) = own::past_line(row, &of_line, None)? else { continue };
        let (Some(order), Some(number)) = (orders.get(&row.purchase_order), numbers.get(&row.part))
        else {
            continue;
        };
        let day = taken_over.day(order, line.placed.on);
        own::take_over(&mut line, day, false);
        line.order = Some(order_key(SupplierId(order.supplier), &order.normal));
        let key = (order.supplier, order.normal.clone(), number.clone());
        lines.push(ChangedLine {
            id: OrderLineId(row.id),
            supplier: SupplierId(order.supplier),
            part: PartId(row.part),
            line,
            imported_too: imported.contains(&key),
        });
    }
    Ok(lines)
}

/// Supplier, order number and part of the imported lines of some orders.
async fn imported_parts<'a>(
    txn: &Txn,
    shop: ShopId,
    orders: impl Iterator<Item = &'a purchase_order::Model>,
) -> Result<BTreeSet<(Uuid, String, String)>, Fault> {
    let (mut suppliers, mut numbers) = (BTreeSet::new(), BTreeSet::new());
    for order in orders {
        suppliers.insert(order.supplier);
        numbers.insert(order.normal.clone());
    }
    let condition =
        past_line_now::COLUMN.shop.eq(shop.0).and(past_line_now::COLUMN.supplier.is_in(suppliers));
    let numbers: Vec<String> = numbers.into_iter().collect();
    let column = past_line_now::Column::OrderNumber;
    let rows = fetch::any_of::<past_line_now::Entity, String>(txn, &condition, column, &numbers);
    Ok(rows.await?.into_iter().map(|row| (row.supplier, row.order_number, row.part)).collect())
}
