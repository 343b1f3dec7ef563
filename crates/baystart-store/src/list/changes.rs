//! The change log, read: who did what, when, and under which token.

use super::rows;
use super::work::whole_movements;
use crate::api::Listed;
use crate::convert::{corrupt, instant, own_instant};
use crate::entity::{bin, build, change_log, movement, part, purchase_order, supplier, token};
use crate::error::{Fault, StoreError};
use crate::store::Store;
use crate::txn::Txn;
use baystart_core::book::model::Movement;
use baystart_core::ids::{BuildId, OrderId, PartId, ShopId, TokenId};
use jiff::Timestamp;
use sea_orm::{ColumnTrait as _, EntityTrait, QueryFilter, QueryOrder as _, QuerySelect};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// Of what changes are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChangesOf {
    /// The whole shop.
    Shop,
    /// A build, its stages, lines and things awaited, what is bound to its lines, and the order lines that
    /// are.
    Build(BuildId),
    /// An order and its lines.
    Order(OrderId),
    /// A part, its offers, and what moved of it.
    Part(PartId),
}

/// Which changes are listed, the newest first.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangesAsked {
    /// Of what.
    pub of: ChangesOf,
    /// By the token of that name; None: by anybody.
    pub by: Option<String>,
    /// Recorded at that instant or after; None: ever.
    pub from: Option<Timestamp>,
    /// Before that revision; None: up to the last one.
    pub before: Option<i64>,
}

/// One commanded change.
#[derive(Clone, Debug, PartialEq)]
pub struct ChangeRow {
    /// The shop's revision that it made.
    pub revision: i64,
    /// The instant at which it was entered.
    pub recorded_at: Timestamp,
    /// Name of the token under which it was done.
    pub by: String,
    /// That token; None where the program itself acted.
    pub token: Option<Uuid>,
    /// The caller's request.
    pub request: Uuid,
    /// What was asked for: `CreatePart`, `Stock.Adjust`.
    pub command: String,
    /// What it was about: `build`, `order`, ..., or nothing.
    pub subject: String,
    /// That row.
    pub subject_id: Option<Uuid>,
    /// What people call it.
    pub number: String,
    /// What it did, in sentences.
    pub effects: Vec<String>,
    /// What it booked, [`MOVEMENTS_MAX`] at most; of an import nothing.
    pub movements: Vec<Movement>,
    /// How many more it booked.
    pub movements_left_out: usize,
    /// The commit that made it; None before commits had ids.
    pub commit: Option<Uuid>,
}

/// Movements that are told of one change.
pub const MOVEMENTS_MAX: usize = 100;
/// Movements of one reading of changes that are watched, but for the first change's.
const MOVEMENTS_SUM_MAX: usize = 500;

/// What came after a revision.
#[derive(Debug)]
pub enum ChangesAfter {
    /// In the order of revisions, without a gap.
    Known(Box<Listed<ChangeRow>>),
    /// The log begins later than that: read the shop anew from this revision on.
    TooOld(i64),
    /// The shop is not there yet: it was taken back to this revision.
    Ahead(i64),
    /// That revision is another one now: the shop was taken back, and has gone on to this revision.
    Another(i64),
    /// The token can no longer be used.
    Revoked,
}

// Driven from the few rows of what is asked about, not from the history of all: hence the order of the joins.
const OF_BUILD: &str = " AND (c.subject_id = $6 OR c.revision IN (
  SELECT revision FROM row_history WHERE shop = $1 AND kind = 'build' AND id = $6
  UNION SELECT h.revision FROM stage r CROSS JOIN row_history h
    WHERE r.shop = $1 AND r.build = $6 AND h.shop = $1 AND h.kind = 'stage' AND h.id = r.id
  UNION SELECT h.revision FROM build_line r CROSS JOIN row_history h
    WHERE r.shop = $1 AND r.build = $6 AND h.shop = $1 AND h.kind IN ('build_line', 'peg')
      AND h.id = r.id
  UNION SELECT h.revision FROM awaited r CROSS JOIN row_history h
    WHERE r.shop = $1 AND r.build = $6 AND h.shop = $1 AND h.kind = 'awaited' AND h.id = r.id
  UNION SELECT h.revision FROM build_line l CROSS JOIN reservation r CROSS JOIN row_history h
    WHERE l.shop = $1 AND l.build = $6 AND r.shop = $1 AND r.line = l.id
      AND h.shop = $1 AND h.kind = 'reservation' AND h.id = r.id
  UNION SELECT h.revision FROM build_line l CROSS JOIN peg p CROSS JOIN row_history h
    WHERE l.shop = $1 AND l.build = $6 AND p.shop = $1 AND p.line = l.id
      AND h.shop = $1 AND h.kind = 'order_line' AND h.id = p.order_line))";
const OF_ORDER: &str = " AND (c.subject_id = $6 OR c.revision IN (
  SELECT revision FROM row_history WHERE shop = $1 AND kind = 'purchase_order' AND id = $6
  UNION SELECT h.revision FROM order_line r CROSS JOIN row_history h
    WHERE r.shop = $1 AND r.purchase_order = $6 AND h.shop = $1 AND h.kind = 'order_line'
      AND h.id = r.id))";
const OF_PART: &str = " AND (c.subject_id = $6 OR c.revision IN (
  SELECT revision FROM row_history WHERE shop = $1 AND kind = 'part' AND id = $6
  UNION SELECT h.revision FROM offer r CROSS JOIN row_history h
    WHERE r.shop = $1 AND r.part = $6 AND h.shop = $1 AND h.kind = 'offer' AND h.id = r.id
  UNION SELECT m.revision FROM entry e CROSS JOIN movement m
    WHERE e.shop = $1 AND e.part = $6 AND m.shop = $1 AND m.id = e.movement))";

impl Store {
    /// Changes of a shop, the newest first, `limit` at most.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn list_changes(
        &self,
        shop: ShopId,
        asked: &ChangesAsked,
        limit: u64,
    ) -> Result<Listed<ChangeRow>, StoreError> {
        let mut values = vec![
            shop.0.into(),
            asked.before.unwrap_or(i64::MAX).into(),
            asked.by.clone().unwrap_or_default().into(),
            instant(asked.from.unwrap_or(Timestamp::UNIX_EPOCH)).into(),
            i64::try_from(limit).unwrap_or(i64::MAX).into(),
        ];
        let of = match asked.of {
            ChangesOf::Shop => "",
            ChangesOf::Build(id) => {
                values.push(id.0.into());
                OF_BUILD
            }
            ChangesOf::Order(id) => {
                values.push(id.0.into());
                OF_ORDER
            }
            ChangesOf::Part(id) => {
                values.push(id.0.into());
                OF_PART
            }
        };
        let text = format!(
            "SELECT c.* FROM change_log c WHERE c.shop = $1 AND c.revision < $2
               AND ($3 = '' OR c.actor = $3) AND c.recorded_at >= $4{of}
             ORDER BY c.revision DESC LIMIT $5"
        );
        let txn = self.begin().await?;
        let found = rows::<change_log::Entity>(&txn, &text, values).await?;
        let found = told(&txn, shop, found).await?;
        txn.done().await?;
        Ok(found)
    }

    /// The changes after a revision, in order, `limit` at most (WT-1), for the holder of a token; `commit`: the
    /// commit that made the revision, as far as it is known.
    ///
    /// # Errors
    /// The database cannot be reached, or holds what it must not hold.
    pub async fn changes_after(
        &self,
        (shop, holder): (ShopId, TokenId),
        (revision, commit): (i64, Option<Uuid>),
        limit: usize,
    ) -> Result<ChangesAfter, StoreError> {
        const AFTER: &str = "SELECT * FROM change_log WHERE shop = $1 AND revision > $2
            ORDER BY revision LIMIT $3";
        let txn = self.begin().await?;
        let now = shop_revision(&txn, shop).await?;
        let token = token::Entity::find_by_id((shop.0, holder.0)).one(&txn).await?;
        let gone = match () {
            () if token.is_none_or(|row| row.revoked_at.is_some()) => Some(ChangesAfter::Revoked),
            () if revision > now => Some(ChangesAfter::Ahead(now)),
            () => match commit {
                Some(commit)
                    if made_by(&txn, shop, revision).await?.is_some_and(|by| by != commit) =>
                {
                    Some(ChangesAfter::Another(now))
                }
                _ => None,
            },
        };
        if let Some(gone) = gone {
            txn.done().await?;
            return Ok(gone);
        }
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let values = vec![shop.0.into(), revision.into(), limit.into()];
        let found = rows::<change_log::Entity>(&txn, AFTER, values).await?;
        // Revisions are counted without a gap: a first one that is missing is no longer there.
        let missing = match found.first() {
            Some(first) => first.revision > revision + 1,
            None => revision < now,
        };
        let mut found = told(&txn, shop, found).await?;
        txn.done().await?;
        let mut sum = 0;
        let fit = found.rows.iter().take_while(|row| {
            let before = sum;
            sum += row.movements.len();
            before == 0 || sum <= MOVEMENTS_SUM_MAX
        });
        let fit = fit.count();
        found.rows.truncate(fit);
        Ok(if missing { ChangesAfter::TooOld(now) } else { ChangesAfter::Known(Box::new(found)) })
    }
}

async fn shop_revision(txn: &Txn, shop: ShopId) -> Result<i64, Fault> {
    Ok(crate::load::shop_row(txn, shop).await?.revision)
}

/// The commit that made a revision; None: not known.
async fn made_by(txn: &Txn, shop: ShopId, revision: i64) -> Result<Option<Uuid>, Fault> {
    let row = change_log::Entity::find_by_id((shop.0, revision)).one(txn).await?;
    Ok(row.and_then(|row| row.commit_id))
}

/// With what people call what they are about.
async fn told(
    txn: &Txn,
    shop: ShopId,
    found: Vec<change_log::Model>,
) -> Result<Listed<ChangeRow>, Fault> {
    let mut ids: BTreeMap<&str, BTreeSet<Uuid>> = BTreeMap::new();
    for row in &found {
        if let Some(id) = row.subject_id {
            ids.entry(&row.subject).or_default().insert(id);
        }
    }
    let mut names: BTreeMap<Uuid, String> = BTreeMap::new();
    macro_rules! name {
        ($kind:literal, $entity:ident, $name:ident) => {
            if let Some(ids) = ids.get($kind) {
                let rows = $entity::Entity::find()
                    .filter($entity::Column::Shop.eq(shop.0))
                    .filter($entity::Column::Id.is_in(ids.iter().copied()))
                    .select_only()
                    .column($entity::Column::Id)
                    .column($entity::Column::$name)
                    .into_tuple::<(Uuid, String)>();
                names.extend(rows.all(txn).await?);
            }
        };
    }
    name!("build", build, Written);
    name!("order", purchase_order, Written);
    name!("part", part, Written);
    name!("supplier", supplier, Written);
    name!("bin", bin, Written);
    name!("token", token, Name);
    // An import may have booked a whole stock: who needs it reads it.
    let revisions = found.iter().filter(|row| !row.imports_history).map(|row| row.revision);
    let booked = movement::Entity::find()
        .filter(movement::Column::Shop.eq(shop.0))
        .filter(movement::Column::Revision.is_in(revisions))
        .order_by_asc(movement::Column::Id);
    let Listed { rows: booked, labels } =
        whole_movements(txn, shop, booked.all(txn).await?).await?;
    let mut movements: BTreeMap<i64, Vec<Movement>> = BTreeMap::new();
    for (revision, movement) in booked {
        movements.entry(revision).or_default().push(movement);
    }
    let mut rows = Vec::with_capacity(found.len());
    for row in found {
        let number = row.subject_id.and_then(|id| names.get(&id)).cloned().unwrap_or_default();
        let mut movements = movements.remove(&row.revision).unwrap_or_default();
        let left_out = movements.len().saturating_sub(MOVEMENTS_MAX);
        movements.truncate(MOVEMENTS_MAX);
        rows.push(change(row, number, (movements, left_out))?);
    }
    Ok(Listed { rows, labels })
}

fn change(
    row: change_log::Model,
    number: String,
    (movements, movements_left_out): (Vec<Movement>, usize),
) -> Result<ChangeRow, Fault> {
    let summary: serde_json::Value = serde_json::from_str(&row.summary)
        .map_err(|_| corrupt("the summary of a change", &row.summary))?;
    let effects = summary.get("effects").and_then(serde_json::Value::as_array);
    let effects = effects.into_iter().flatten();
    let text = |effect: &serde_json::Value| effect.get("text")?.as_str().map(str::to_owned);
    let mut effects: Vec<String> = effects.filter_map(text).collect();
    let count = |name: &str| summary.get(name).and_then(serde_json::Value::as_u64);
    if let Some(facts) = count("facts") {
        effects.push(format!("Files were imported: {facts} rows that were not there"));
    }
    if let (Some(created), Some(changed)) = (count("created"), count("changed")) {
        effects.push(format!("Past orders were imported: {created} lines new, {changed} changed"));
    }
    Ok(ChangeRow {
        revision: row.revision,
        recorded_at: own_instant(row.recorded_at)?,
        by: row.actor,
        token: row.token,
        request: row.request,
        command: row.command,
        subject: row.subject,
        subject_id: row.subject_id,
        number,
        effects,
        movements,
        movements_left_out,
        commit: row.commit_id,
    })
}
