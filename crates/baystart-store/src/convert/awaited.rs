//! Things from outside that no order brings.

use super::value::{corrupt, day, days, json, of_json, own_day, own_day_option, small};
use crate::entity::awaited;
use crate::error::StoreError;
use baystart_core::book::model::{Awaited, AwaitedKind};
use baystart_core::ids::{AwaitedId, BuildId, LineId, ShopId, StageId};

const KINDS: [(AwaitedKind, &str); 3] = [
    (AwaitedKind::Vehicle, "vehicle"),
    (AwaitedKind::CustomerPart, "customer part"),
    (AwaitedKind::Paper, "paper"),
];

impl awaited::Model {
    pub fn of(shop: ShopId, row: &Awaited) -> Self {
        let kind = KINDS.iter().find(|(kind, _)| *kind == row.kind);
        Self {
            shop: shop.0,
            id: row.id.0,
            build: row.build.0,
            number: row.number.into(),
            kind: kind.map_or("", |(_, text)| text).to_owned(),
            name: row.name.clone(),
            identification: row.identification.clone(),
            source: row.source.clone(),
            stage: row.stage.map(|stage| stage.0),
            line: row.line.map(|line| line.0),
            asked_on: day(row.asked_on),
            quoted_days: row.quoted_days.map(i64::from),
            promises: json(&row.promises),
            received_on: row.received_on.map(day),
            dropped_on: row.dropped_on.map(day),
        }
    }

    pub fn own(&self) -> Result<Awaited, StoreError> {
        let kind = KINDS.iter().find(|(_, text)| *text == self.kind);
        let (kind, _) = kind.ok_or_else(|| corrupt("the kind of awaited thing", &self.kind))?;
        Ok(Awaited {
            id: AwaitedId(self.id),
            build: BuildId(self.build),
            number: small("the number of an awaited thing", self.number)?,
            kind: *kind,
            name: self.name.clone(),
            identification: self.identification.clone(),
            source: self.source.clone(),
            stage: self.stage.map(StageId),
            line: self.line.map(LineId),
            asked_on: own_day(self.asked_on)?,
            quoted_days: days("the usual days", self.quoted_days)?,
            promises: of_json("the dates of an awaited thing", &self.promises)?,
            received_on: own_day_option(self.received_on)?,
            dropped_on: own_day_option(self.dropped_on)?,
        })
    }
}
