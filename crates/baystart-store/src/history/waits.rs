//! Waits that are no order lines: parts at finishers, which teach as a
//! supplier's orders do, and things that no order brings or work off site, which
//! teach apart.

use super::{LineLabel, ShopHistory};
use crate::convert::own_day;
use crate::entity::{awaited, build, build_line, row_history, stage};
use crate::error::Fault;
use crate::load::fetch;
use crate::txn::Txn;
use baystart_core::book::model::{Awaited, AwaitedKind, Line, Made, Promise};
use baystart_core::calendar::WorkCalendar;
use baystart_core::ids::{ShopId, SupplierId};
use baystart_core::leadtime::history::{CancelledBy, Fact, History, PastLine, PastPromise};
use jiff::civil::Date;
use sea_orm::{EntityTrait, PaginatorTrait, QueryFilter, QueryOrder};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// Things that no order brings and work off site, as a history of their own:
/// kinds count as suppliers, their sources as offers.
#[derive(Clone, Debug, Default)]
pub struct OtherWaits {
    /// The waits.
    pub history: History,
    /// Keys of each kind and source; the empty source is the kind.
    pub awaited: BTreeMap<(AwaitedKind, String), (u32, u32)>,
    /// Keys of each firm at which vehicles were.
    pub off_site: BTreeMap<SupplierId, (u32, u32)>,
}

/// Key of all work off site; the kinds of awaited things have 0 to 2.
const OFF_SITE: u32 = 3;

const fn kind_key(kind: AwaitedKind) -> u32 {
    match kind {
        AwaitedKind::Vehicle => 0,
        AwaitedKind::CustomerPart => 1,
        AwaitedKind::Paper => 2,
    }
}

fn fact(on: Date) -> Fact {
    Fact { on, recorded_on: on }
}

fn past_promises(promises: &[Promise]) -> Vec<PastPromise> {
    let past = |p: &Promise| PastPromise {
        date: p.promised_on,
        known_on: p.known_on,
        recorded_on: p.known_on,
    };
    promises.iter().map(past).collect()
}

impl OtherWaits {
    fn awaited_keys(&mut self, kind: AwaitedKind, source: &str) -> (u32, u32) {
        let next = u32::try_from(self.awaited.len() + self.off_site.len()).unwrap_or(u32::MAX);
        let key = (kind, source.to_owned());
        *self.awaited.entry(key).or_insert((kind_key(kind), next))
    }

    fn add(&mut self, row: &Awaited) {
        self.awaited_keys(row.kind, "");
        let (supplier, offer) = self.awaited_keys(row.kind, &row.source);
        let dropped = row.dropped_on.filter(|_| row.received_on.is_none());
        self.history.lines.push(PastLine {
            supplier,
            offer,
            order: None,
            quoted_days: row.quoted_days,
            placed: fact(row.asked_on),
            taken_over_on: None,
            rejected: false,
            promises: past_promises(&row.promises),
            despatched: None,
            completed: row.received_on.map(fact),
            cancelled: dropped.map(|on| (CancelledBy::Us, fact(on))),
            contacts: Vec::new(),
        });
    }

    /// A vehicle that was or is away; planned working days as calendar days.
    fn add_off_site(
        &mut self,
        row: &stage::Model,
        firm: SupplierId,
        calendar: &WorkCalendar,
    ) -> Result<(), Fault> {
        let Some(begun) = row.begun_on else { return Ok(()) };
        let begun = own_day(begun)?;
        let next = u32::try_from(self.awaited.len() + self.off_site.len()).unwrap_or(u32::MAX);
        let (supplier, offer) = *self.off_site.entry(firm).or_insert((OFF_SITE, next));
        let planned = i32::try_from(row.planned_days).unwrap_or(i32::MAX);
        let due = calendar.add_working_days(begun, planned);
        let quoted = due.map(|due| baystart_core::calendar::days_between(begun, due));
        self.history.lines.push(PastLine {
            supplier,
            offer,
            order: None,
            quoted_days: quoted.and_then(|days| u32::try_from(days).ok()),
            placed: fact(begun),
            taken_over_on: None,
            rejected: false,
            promises: Vec::new(),
            despatched: None,
            completed: row.done_on.map(own_day).transpose()?.map(fact),
            cancelled: None,
            contacts: Vec::new(),
        });
        Ok(())
    }
}

/// Everything that a shop ever awaited, and its work off site.
pub(super) async fn others(
    txn: &Txn,
    shop: ShopId,
    calendar: &WorkCalendar,
) -> Result<OtherWaits, Fault> {
    let mut found = OtherWaits::default();
    let rows = awaited::Entity::find().filter(awaited::COLUMN.shop.eq(shop.0));
    for row in rows.order_by_asc(awaited::Column::Id).all(txn).await? {
        found.add(&row.own()?);
    }
    let rows = stage::Entity::find()
        .filter(stage::COLUMN.shop.eq(shop.0))
        .filter(stage::COLUMN.off_site.is_not_null())
        .order_by_asc(stage::Column::Id);
    for row in rows.all(txn).await? {
        if let Some(firm) = row.off_site {
            found.add_off_site(&row, SupplierId(firm), calendar)?;
        }
    }
    Ok(found)
}

/// Adds what was sent to finishers, the last sending of each line, as orders of
/// the finished part.
pub(super) async fn add_finished(
    txn: &Txn,
    shop: ShopId,
    found: &mut ShopHistory,
    codes: Option<&[Arc<str>]>,
) -> Result<(), Fault> {
    let rows = build_line::Entity::find()
        .filter(build_line::COLUMN.shop.eq(shop.0))
        .filter(build_line::COLUMN.making.is_not_null())
        .order_by_asc(build_line::Column::Id);
    let mut lines: Vec<Line> = Vec::new();
    for row in rows.all(txn).await? {
        lines.push(row.own()?);
    }
    let mut builds: HashMap<uuid::Uuid, String> = HashMap::new();
    if codes.is_some() && !lines.is_empty() {
        for row in fetch::all::<build::Entity>(txn, build::COLUMN.shop.eq(shop.0)).await? {
            builds.insert(row.id, row.written);
        }
    }
    for line in lines {
        let Some(making) = &line.making else { continue };
        let (Made::AtFinisher { supplier, quoted_days }, Some(sent_on)) =
            (making.how, making.sent_on)
        else {
            continue;
        };
        let Some(key) = found.suppliers.get(&supplier).copied() else { continue };
        let Some(normal) = found.parts.get(&line.part).cloned() else { continue };
        let offer = found.offer_key(key, &normal);
        found.history.lines.push(PastLine {
            supplier: key,
            offer,
            order: None,
            quoted_days,
            placed: fact(sent_on),
            taken_over_on: None,
            rejected: false,
            promises: past_promises(&making.promises),
            despatched: None,
            completed: making.back_on.map(fact),
            cancelled: None,
            contacts: Vec::new(),
        });
        if let Some(codes) = codes {
            let at = usize::try_from(key).unwrap_or(usize::MAX);
            found.labels.push(LineLabel {
                supplier,
                supplier_code: codes.get(at).cloned().unwrap_or_default(),
                order: builds.get(&line.build.0).cloned().unwrap_or_default(),
                line: line.number,
                part: normal,
                imported: false,
            });
        }
    }
    Ok(())
}

/// Whether any of these waits changed since a revision.
pub(super) async fn changed_since(txn: &Txn, shop: ShopId, since: i64) -> Result<bool, Fault> {
    let changed = row_history::Entity::find()
        .filter(row_history::COLUMN.shop.eq(shop.0))
        .filter(row_history::COLUMN.revision.gt(since))
        .filter(row_history::COLUMN.waits_apart.eq(true))
        .count(txn)
        .await?;
    Ok(changed > 0)
}
