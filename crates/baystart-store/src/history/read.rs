//! Reading histories: all of one, or as much as a plan needs.

use super::recorded::{self, Recorded};
use super::stages::{self, PastStages};
use super::taken_over::TakenOver;
use super::waits::{self, OtherWaits};
use super::{HistoryRead, LineLabel, ShopHistory, changes, imported, own};
use crate::api::Snapshot;
use crate::convert::corrupt;
use crate::entity::{closure, order_line, part, past_line_now, promise, purchase_order, supplier};
use crate::error::{Fault, StoreError};
use crate::load::{self, fetch};
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::book::Book;
use baystart_core::calendar::{Closures, WorkCalendar};
use baystart_core::command::Scope;
use baystart_core::ids::{OrderLineId, PartId, ShopId, SupplierId};
use baystart_core::leadtime::history::{History, order_key};
use futures::TryStreamExt as _;
use jiff::tz::TimeZone;
use sea_orm::{EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use uuid::Uuid;

impl Store {
    /// Every order line that a shop ever placed, with names and with the day on
    /// which each fact was entered, in one consistent read-only transaction.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn history(&self, shop: ShopId) -> Result<ShopHistory, StoreError> {
        let txn = self.begin().await?;
        self.database.allow_long(&txn).await?;
        let whole = whole(&txn, shop, true).await?;
        txn.done().await?;
        Ok(whole)
    }

    /// A slice, and in the same consistent read-only transaction how the shop's
    /// history stands against the one of evidence revision `known`. Every fact
    /// in it counts as entered on its own day, and the lines have no names.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn read_for_plan(
        &self,
        shop: ShopId,
        scope: &Scope,
        known: Option<i64>,
    ) -> Result<(Snapshot, HistoryRead), StoreError> {
        let txn = self.begin().await?;
        let loaded = load::load(&txn, shop, scope).await?;
        let evidence_revision = loaded.evidence_revision;
        let snapshot = Snapshot { book: loaded.book, revision: loaded.revision, evidence_revision };
        let history = match known {
            Some(known) if known == evidence_revision => HistoryRead::Same,
            Some(known) if known > evidence_revision => HistoryRead::Behind,
            Some(known) => match changes::since(&txn, shop, known, &snapshot).await? {
                Some(changes) => HistoryRead::Changed(Box::new(changes)),
                None => self.whole_for_plan(&txn, shop).await?,
            },
            None => self.whole_for_plan(&txn, shop).await?,
        };
        txn.done().await?;
        Ok((snapshot, history))
    }

    async fn whole_for_plan(&self, txn: &Txn, shop: ShopId) -> Result<HistoryRead, Fault> {
        self.database.allow_long(txn).await?;
        Ok(HistoryRead::Whole(Box::new(whole(txn, shop, false).await?)))
    }
}

/// Reads everything, a statement per table. `recorded`: with names, and with the
/// day on which each fact was entered.
async fn whole(txn: &Txn, shop: ShopId, recorded: bool) -> Result<ShopHistory, Fault> {
    let row = load::shop_row(txn, shop).await?;
    let settings = row.own()?;
    let zone = TimeZone::get(&settings.time_zone)
        .map_err(|_| corrupt("the time zone", &settings.time_zone))?;
    let mut found = ShopHistory {
        history: History::default(),
        suppliers: BTreeMap::new(),
        offers: BTreeMap::new(),
        labels: Vec::new(),
        settings,
        revision: row.revision,
        evidence_revision: row.evidence_revision,
        numbers: HashMap::new(),
        parts: HashMap::new(),
        waits: OtherWaits::default(),
        stages: PastStages::default(),
        calendar: WorkCalendar::monday_to_friday(),
        own: Vec::new(),
    };
    let mut codes: Vec<Arc<str>> = Vec::new();
    let suppliers = supplier::Entity::find().filter(supplier::COLUMN.shop.eq(shop.0));
    for (key, row) in (0..).zip(suppliers.order_by_asc(supplier::Column::Id).all(txn).await?) {
        codes.push(Arc::from(row.written.as_str()));
        found.suppliers.insert(SupplierId(row.id), key);
    }
    let rows = fetch::all::<closure::Entity>(txn, closure::COLUMN.shop.eq(shop.0)).await?;
    let mut book = Book::default();
    for row in rows {
        book.closures.insert(row.own()?);
    }
    found.history.closures = closures(&book, &found.suppliers);
    book.settings = Some(found.settings.clone());
    found.calendar = book.calendar();
    found.waits = waits::others(txn, shop, &found.calendar).await?;
    found.stages = stages::read(txn, shop).await?;
    let mut written: HashMap<Uuid, String> = HashMap::new();
    let columns = [part::Column::Id, part::Column::Normal, part::Column::Written];
    let mut parts = part::Entity::find()
        .filter(part::COLUMN.shop.eq(shop.0))
        .select_only()
        .columns(columns)
        .into_tuple::<(Uuid, String, String)>()
        .stream(txn)
        .await?;
    while let Some((id, normal, number)) = parts.try_next().await? {
        found.parts.insert(PartId(id), normal);
        if recorded {
            written.insert(id, number);
        }
    }
    drop(parts);
    // Before the imported lines: the last ones are the shop's own, by id.
    waits::add_finished(txn, shop, &mut found, recorded.then_some(codes.as_slice())).await?;
    let own = OwnRows::read(txn, shop).await?;
    add_imported(txn, shop, &mut found, &own, recorded.then_some(codes.as_slice())).await?;
    let entered = match recorded {
        true => Some(recorded::of_shop(txn, shop, &zone).await?),
        false => None,
    };
    let taken_over = TakenOver::of_shop(txn, shop, &zone).await?;
    let nothing = Recorded::default();
    for row in &own.lines {
        let promises = own.promises.get(&row.id).map_or(&[][..], Vec::as_slice);
        let entered = entered.as_ref().map(|all| (all.get(&row.id).unwrap_or(&nothing), &zone));
        let Some(mut line) = own::past_line(row, promises, entered)? else { continue };
        let (Some(order), Some(normal)) =
            (own.orders.get(&row.purchase_order), found.parts.get(&PartId(row.part)).cloned())
        else {
            continue;
        };
        let supplier = SupplierId(order.supplier);
        let Some(key) = found.suppliers.get(&supplier).copied() else { continue };
        let day = taken_over.day(order, line.placed.on);
        own::take_over(&mut line, day, recorded);
        line.supplier = key;
        line.offer = found.offer_key(key, &normal);
        line.order = Some(order_key(supplier, &order.normal));
        found.history.lines.push(line);
        found.own.push(OrderLineId(row.id));
        if recorded {
            found.labels.push(LineLabel {
                supplier,
                supplier_code: code(&codes, key),
                order: order.written.clone(),
                line: i32::try_from(row.number).unwrap_or(i32::MAX),
                part: written.get(&row.part).cloned().unwrap_or(normal),
                imported: false,
            });
        }
    }
    for (id, normal) in found.parts.clone() {
        found.link(id, &normal);
    }
    Ok(found)
}

/// The suppliers that are ever closed, by key.
pub(super) fn closures(
    book: &Book,
    suppliers: &BTreeMap<SupplierId, u32>,
) -> BTreeMap<u32, Closures> {
    let mut closures = BTreeMap::new();
    for supplier in book.closures.iter().filter_map(|closure| closure.supplier) {
        if let Some(key) = suppliers.get(&supplier) {
            closures.entry(*key).or_insert_with(|| book.closures_of(supplier));
        }
    }
    closures
}

fn code(codes: &[Arc<str>], key: u32) -> Arc<str> {
    let at = usize::try_from(key).unwrap_or(usize::MAX);
    codes.get(at).cloned().unwrap_or_default()
}

/// The shop's own orders, as they stand.
struct OwnRows {
    /// By id.
    lines: Vec<order_line::Model>,
    orders: HashMap<Uuid, purchase_order::Model>,
    /// By order line, in the order in which they became known.
    promises: HashMap<Uuid, Vec<promise::Model>>,
}

impl OwnRows {
    async fn read(txn: &Txn, shop: ShopId) -> Result<Self, Fault> {
        let lines = order_line::Entity::find()
            .filter(order_line::COLUMN.shop.eq(shop.0))
            .filter(order_line::COLUMN.placed_on.is_not_null())
            // A package is as late as its pieces, which are lines of their own.
            .filter(order_line::COLUMN.package.eq(false))
            .order_by_asc(order_line::Column::Id)
            .all(txn)
            .await?;
        let mut orders = HashMap::new();
        let of_shop = purchase_order::COLUMN.shop.eq(shop.0);
        for row in fetch::all::<purchase_order::Entity>(txn, of_shop).await? {
            orders.insert(row.id, row);
        }
        let mut promises: HashMap<Uuid, Vec<promise::Model>> = HashMap::new();
        let rows = promise::Entity::find()
            .filter(promise::COLUMN.shop.eq(shop.0))
            .order_by_asc(promise::Column::OrderLine)
            .order_by_asc(promise::Column::Ordinal);
        for row in rows.all(txn).await? {
            promises.entry(row.order_line).or_default().push(row);
        }
        Ok(Self { lines, orders, promises })
    }

    /// Supplier, order number and part: an imported line that goes by them is
    /// the same order once more.
    fn keys<'a>(&'a self, parts: &'a HashMap<PartId, String>) -> HashSet<(Uuid, &'a str, &'a str)> {
        let mut keys = HashSet::new();
        for row in &self.lines {
            let order = self.orders.get(&row.purchase_order);
            if let (Some(order), Some(part)) = (order, parts.get(&PartId(row.part))) {
                keys.insert((order.supplier, order.normal.as_str(), part.as_str()));
            }
        }
        keys
    }
}

/// Adds the imported lines, one after another: a million rows are not held twice.
async fn add_imported(
    txn: &Txn,
    shop: ShopId,
    found: &mut ShopHistory,
    own: &OwnRows,
    codes: Option<&[Arc<str>]>,
) -> Result<(), Fault> {
    let parts = std::mem::take(&mut found.parts);
    let known_better = own.keys(&parts);
    let mut rows = past_line_now::Entity::find()
        .filter(past_line_now::COLUMN.shop.eq(shop.0))
        .order_by_asc(past_line_now::Column::Supplier)
        .order_by_asc(past_line_now::Column::OrderNumber)
        .order_by_asc(past_line_now::Column::Line)
        .order_by_asc(past_line_now::Column::Part)
        .stream(txn)
        .await?;
    while let Some(row) = rows.try_next().await? {
        let supplier = SupplierId(row.supplier);
        let Some(key) = found.suppliers.get(&supplier).copied() else { continue };
        if known_better.contains(&(row.supplier, row.order_number.as_str(), row.part.as_str())) {
            continue;
        }
        let mut line = imported::past_line(&row, codes.is_some())?;
        line.supplier = key;
        line.offer = found.offer_key(key, &row.part);
        line.order = Some(order_key(supplier, &row.order_number));
        found.history.lines.push(line);
        if let Some(codes) = codes {
            found.labels.push(LineLabel {
                supplier,
                supplier_code: code(codes, key),
                order: row.order_number,
                line: i32::try_from(row.line).unwrap_or(i32::MAX),
                part: row.part,
                imported: true,
            });
        }
    }
    drop(rows);
    drop(known_better);
    found.parts = parts;
    Ok(())
}
