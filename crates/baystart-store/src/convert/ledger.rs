//! Movements and their entries.

use super::value::{corrupt, day, instant, own_day, own_instant, quantity};
use crate::entity::{entry, movement};
use crate::error::StoreError;
use baystart_core::book::model::{Account, Entry, Lot, Movement, MovementKind, StockKey};
use baystart_core::ids::{
    BinId, BuildId, LineId, MovementId, OrderLineId, PartId, ShopId, SupplierId,
};
use uuid::Uuid;

const KINDS: [(MovementKind, &str); 16] = [
    (MovementKind::Opening, "opening"),
    (MovementKind::Receipt, "receipt"),
    (MovementKind::Adjustment, "adjustment"),
    (MovementKind::Found, "found"),
    (MovementKind::Issue, "issue"),
    (MovementKind::ReturnToStock, "return to stock"),
    (MovementKind::Transfer, "transfer"),
    (MovementKind::Scrap, "scrap"),
    (MovementKind::Quarantine, "quarantine"),
    (MovementKind::QuarantineRelease, "quarantine release"),
    (MovementKind::SentOut, "sent out"),
    (MovementKind::CameBack, "came back"),
    (MovementKind::Made, "made"),
    (MovementKind::CustomerReceipt, "customer receipt"),
    (MovementKind::ReturnToSupplier, "return to supplier"),
    (MovementKind::Picked, "picked"),
];

fn kind_text(kind: MovementKind) -> &'static str {
    KINDS.iter().find(|(known, _)| *known == kind).map_or("", |(_, text)| text)
}

fn kind(text: &str) -> Result<MovementKind, StoreError> {
    KINDS
        .iter()
        .find(|(_, known)| *known == text)
        .map(|(kind, _)| *kind)
        .ok_or_else(|| corrupt("the kind of movement", text))
}

const fn account_columns(account: Account) -> (&'static str, Option<Uuid>) {
    match account {
        Account::Supplier(id) => ("supplier", Some(id.0)),
        Account::UnknownSupplier => ("unknown supplier", None),
        Account::Bin(id) => ("bin", Some(id.0)),
        Account::Quarantine(id) => ("quarantine", Some(id.0)),
        Account::Build(id) => ("build", Some(id.0)),
        Account::Finisher(id) => ("finisher", Some(id.0)),
        Account::Making => ("making", None),
        Account::Customer(id) => ("customer", Some(id.0)),
        Account::Scrap => ("scrap", None),
        Account::Variance => ("variance", None),
    }
}

fn account(text: &str, id: Option<Uuid>) -> Result<Account, StoreError> {
    match (text, id) {
        ("supplier", Some(id)) => Ok(Account::Supplier(SupplierId(id))),
        ("unknown supplier", None) => Ok(Account::UnknownSupplier),
        ("bin", Some(id)) => Ok(Account::Bin(BinId(id))),
        ("quarantine", Some(id)) => Ok(Account::Quarantine(BinId(id))),
        ("build", Some(id)) => Ok(Account::Build(BuildId(id))),
        ("finisher", Some(id)) => Ok(Account::Finisher(SupplierId(id))),
        ("making", None) => Ok(Account::Making),
        ("customer", Some(id)) => Ok(Account::Customer(BuildId(id))),
        ("scrap", None) => Ok(Account::Scrap),
        ("variance", None) => Ok(Account::Variance),
        _ => Err(corrupt("the account", text)),
    }
}

impl movement::Model {
    pub fn of(shop: ShopId, revision: i64, row: &Movement) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            revision,
            kind: kind_text(row.kind).to_owned(),
            occurred_on: day(row.occurred_on),
            recorded_at: instant(row.recorded_at),
            recorded_by: row.recorded_by.clone(),
            reason: row.reason.clone(),
            line: row.line.map(|line| line.0),
            order_line: row.order_line.map(|line| line.0),
        }
    }

    pub fn own(&self, entries: Vec<Entry>) -> Result<Movement, StoreError> {
        Ok(Movement {
            id: MovementId(self.id),
            kind: kind(&self.kind)?,
            occurred_on: own_day(self.occurred_on)?,
            recorded_at: own_instant(self.recorded_at)?,
            recorded_by: self.recorded_by.clone(),
            reason: self.reason.clone(),
            line: self.line.map(LineId),
            order_line: self.order_line.map(OrderLineId),
            entries,
        })
    }
}

impl entry::Model {
    pub fn list(shop: ShopId, row: &Movement) -> Vec<Self> {
        let mut rows = Vec::with_capacity(row.entries.len());
        for (ordinal, side) in (0..).zip(&row.entries) {
            let (account, account_id) = account_columns(side.account);
            rows.push(Self {
                shop: shop.0,
                movement: row.id.0,
                ordinal,
                part: side.key.part.0,
                lot: side.key.lot.0.clone(),
                account: account.to_owned(),
                account_id,
                quantity: side.quantity.milli(),
            });
        }
        rows
    }

    pub fn own(&self) -> Result<Entry, StoreError> {
        Ok(Entry {
            key: StockKey { part: PartId(self.part), lot: Lot(self.lot.clone()) },
            account: account(&self.account, self.account_id)?,
            quantity: quantity(self.quantity),
        })
    }
}
