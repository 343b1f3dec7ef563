//! The change log, requests with their answers, row history, import keys.

use super::plan::Plan;
use super::put::{add, put};
use crate::api::Actor;
use crate::convert::instant;
use crate::entity::{change_log, imported, request, row_history, shop};
use crate::error::Fault;
use crate::txn::Txn;
use crate::warm::ShopState;
use baystart_core::book::Book;
use baystart_core::decide::words::said;
use baystart_core::decide::{Decision, Subject};
use baystart_core::ids::ShopId;
use jiff::Timestamp;
use sea_orm::sea_query::Expr;
use sea_orm::{EntityTrait, QueryFilter};
use std::collections::BTreeMap;
use uuid::Uuid;

/// One command as it will stand in the log.
#[derive(Clone)]
pub(crate) struct LogRow {
    pub revision: i64,
    pub recorded_at: Timestamp,
    pub actor: Actor,
    pub request: Uuid,
    pub digest: [u8; 32],
    pub command: String,
    /// It brings in rows of files.
    pub imports: bool,
    pub subject: Subject,
    /// JSON.
    pub summary: String,
    pub response: Vec<u8>,
}

impl LogRow {
    /// What a decision did, for people; `book` is the one that it left.
    pub fn summary(book: &Book, decision: &Decision) -> String {
        let effects = decision.effects.iter().map(|effect| said(book, effect));
        serde_json::json!({ "effects": effects.collect::<Vec<_>>() }).to_string()
    }
}

const fn subject_columns(subject: Subject) -> (&'static str, Option<Uuid>) {
    match subject {
        Subject::None => ("", None),
        Subject::Settings => ("settings", None),
        Subject::Part(id) => ("part", Some(id.0)),
        Subject::Supplier(id) => ("supplier", Some(id.0)),
        Subject::Offer(id) => ("offer", Some(id.0)),
        Subject::Bin(id) => ("bin", Some(id.0)),
        Subject::Build(id) => ("build", Some(id.0)),
        Subject::Order(id) => ("order", Some(id.0)),
        Subject::Token(id) => ("token", Some(id.0)),
    }
}

/// Writes the log rows of a commit, the rows' history, and the new revision; the shop's state after them.
pub(crate) async fn write_log(
    txn: &Txn,
    shop_id: ShopId,
    rows: Vec<LogRow>,
    plan: &Plan,
) -> Result<Option<ShopState>, Fault> {
    let Some(last) = rows.last().map(|row| row.revision) else { return Ok(None) };
    let commit = plan.commit;
    write_log_rows(txn, shop_id, rows, [plan.found.commit, commit]).await?;
    let mut history = Vec::with_capacity(plan.history.len());
    for ((revision, kind, id, other_id), written) in &plan.history {
        history.push(row_history::Model {
            shop: shop_id.0,
            revision: *revision,
            kind: (*kind).to_owned(),
            id: *id,
            other_id: *other_id,
            state: written.state.clone(),
            waits_apart: written.waits_apart,
        });
    }
    add::<row_history::Entity, _>(txn, history).await?;
    let touches = plan.touches_evidence();
    set_revision(txn, shop_id, (last, commit), touches).await?;
    let evidence_revision = if touches { last } else { plan.found.evidence_revision };
    Ok(Some(ShopState { revision: last, evidence_revision, commit }))
}

/// Writes rows of the change log, and their requests with the answers, for a commit that found one id and
/// has another.
pub(crate) async fn write_log_rows(
    txn: &Txn,
    shop_id: ShopId,
    rows: Vec<LogRow>,
    [found, commit]: [Uuid; 2],
) -> Result<(), Fault> {
    let mut log = Vec::with_capacity(rows.len());
    let mut requests = Vec::with_capacity(rows.len());
    for row in rows {
        let (subject, subject_id) = subject_columns(row.subject);
        log.push(change_log::Model {
            shop: shop_id.0,
            revision: row.revision,
            recorded_at: instant(row.recorded_at),
            actor: row.actor.name,
            token: row.actor.token.map(|token| token.0),
            request: row.request,
            command: row.command,
            subject: subject.to_owned(),
            subject_id,
            summary: row.summary,
            commit_id: Some(commit),
            commit_before: Some(found),
            imports_history: row.imports,
        });
        requests.push(request::Model {
            shop: shop_id.0,
            id: row.request,
            digest: row.digest.to_vec(),
            revision: row.revision,
            response: row.response,
        });
    }
    add::<change_log::Entity, _>(txn, log).await?;
    add::<request::Entity, _>(txn, requests).await
}

/// Sets the shop's revision and commit id, and notes whether it changed what lead times are learned from.
pub(crate) async fn set_revision(
    txn: &Txn,
    shop_id: ShopId,
    (revision, commit): (i64, Uuid),
    touches_evidence: bool,
) -> Result<(), Fault> {
    let mut update = shop::Entity::update_many()
        .col_expr(shop::Column::Revision, Expr::value(revision))
        .col_expr(shop::Column::CommitId, Expr::value(commit));
    if touches_evidence {
        update = update.col_expr(shop::Column::EvidenceRevision, Expr::value(revision));
    }
    update.filter(shop::COLUMN.id.eq(shop_id.0)).exec(txn).await?;
    Ok(())
}

/// Remembers where imported facts came from.
pub(crate) async fn write_imported(
    txn: &Txn,
    shop: ShopId,
    revision: i64,
    facts: &[(String, String, [u8; 32])],
) -> Result<(), Fault> {
    let mut rows = BTreeMap::new();
    for (kind, key, digest) in facts {
        let row = imported::Model {
            shop: shop.0,
            kind: kind.clone(),
            key: key.clone(),
            digest: digest.to_vec(),
            revision,
        };
        rows.insert((kind, key), row);
    }
    let rows = rows.into_values().collect();
    put::<imported::Entity, _>(txn, rows, &[]).await
}
