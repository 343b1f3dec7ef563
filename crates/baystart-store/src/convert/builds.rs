//! Builds, stages, lines, reservations.

use super::value::{
    corrupt, day, instant, json, number, of_json, own_day_option, own_instant, quantity, small,
};
use crate::entity::{build, build_line, reservation, stage};
use crate::error::StoreError;
use baystart_core::book::model::{Build, BuildState, Line, Lot, Reservation, Stage, StockKey};
use baystart_core::ids::{
    BinId, BuildId, LineId, PartId, ReservationId, ShopId, StageId, SupplierId,
};

const STATES: [BuildState; 7] = [
    BuildState::Quoted,
    BuildState::Open,
    BuildState::InBay,
    BuildState::ReadyForHandover,
    BuildState::Delivered,
    BuildState::OnHold,
    BuildState::Cancelled,
];

/// A build's state as the database has it.
pub fn state_text(state: BuildState) -> &'static str {
    state.text()
}

fn state(text: &str) -> Result<BuildState, StoreError> {
    STATES
        .into_iter()
        .find(|state| state.text() == text)
        .ok_or_else(|| corrupt("the build state", text))
}

impl build::Model {
    pub fn of(shop: ShopId, row: &Build) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            normal: row.number.normal().to_owned(),
            written: row.number.written().to_owned(),
            vehicle: row.vehicle.clone(),
            customer: row.customer.clone(),
            state: state_text(row.state).to_owned(),
            held_from: row.held_from.map(|state| state_text(state).to_owned()),
            priority: row.priority.into(),
            planned_start: row.planned_start.map(day),
            required_by: row.required_by.map(day),
            note: row.note.clone(),
            opened_at: row.opened_at.map(instant),
            version: row.version,
            for_stock: row.for_stock,
            staging_bin: row.staging_bin.map(|bin| bin.0),
            customer_promises: json(&row.customer_promises),
            delivered_on: row.delivered_on.map(day),
        }
    }

    pub fn own(&self) -> Result<Build, StoreError> {
        Ok(Build {
            id: BuildId(self.id),
            number: number(&self.written, &self.normal),
            vehicle: self.vehicle.clone(),
            customer: self.customer.clone(),
            state: state(&self.state)?,
            held_from: self.held_from.as_deref().map(state).transpose()?,
            priority: small("the priority", self.priority)?,
            planned_start: own_day_option(self.planned_start)?,
            required_by: own_day_option(self.required_by)?,
            note: self.note.clone(),
            for_stock: self.for_stock,
            staging_bin: self.staging_bin.map(BinId),
            customer_promises: of_json("the promises to the customer", &self.customer_promises)?,
            delivered_on: own_day_option(self.delivered_on)?,
            opened_at: self.opened_at.map(own_instant).transpose()?,
            version: self.version,
        })
    }
}

impl stage::Model {
    pub fn of(shop: ShopId, row: &Stage) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            build: row.build.0,
            ordinal: row.ordinal.into(),
            normal: row.name.normal().to_owned(),
            written: row.name.written().to_owned(),
            planned_days: row.planned_days.into(),
            begun_on: row.begun_on.map(day),
            done_on: row.done_on.map(day),
            off_site: row.off_site.map(|firm| firm.0),
        }
    }

    pub fn own(&self) -> Result<Stage, StoreError> {
        Ok(Stage {
            id: StageId(self.id),
            build: BuildId(self.build),
            ordinal: small("the stage's place", self.ordinal)?,
            name: number(&self.written, &self.normal),
            planned_days: small("the planned days", self.planned_days)?,
            begun_on: own_day_option(self.begun_on)?,
            done_on: own_day_option(self.done_on)?,
            off_site: self.off_site.map(SupplierId),
        })
    }
}

impl build_line::Model {
    pub fn of(shop: ShopId, row: &Line) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            build: row.build.0,
            stage: row.stage.0,
            number: row.number.into(),
            part: row.part.0,
            required: row.required.milli(),
            issued: row.issued.milli(),
            kit_line: row.kit_line.into(),
            exploded: row.exploded,
            made_for: row.made_for.into(),
            making: row.making.as_ref().map(json),
            customer_supplied: row.customer_supplied,
            substituted: row.substituted.as_ref().map(json),
        }
    }

    pub fn own(&self) -> Result<Line, StoreError> {
        Ok(Line {
            id: LineId(self.id),
            build: BuildId(self.build),
            stage: StageId(self.stage),
            number: small("the line number", self.number)?,
            part: PartId(self.part),
            required: quantity(self.required),
            issued: quantity(self.issued),
            kit_line: small("the kit line", self.kit_line)?,
            exploded: self.exploded,
            made_for: small("the made line", self.made_for)?,
            making: self.making.as_deref().map(|t| of_json("a making", t)).transpose()?,
            customer_supplied: self.customer_supplied,
            substituted: self
                .substituted
                .as_deref()
                .map(|text| of_json("a substitution", text))
                .transpose()?,
        })
    }
}

/// Of which stock a reservation is.
pub fn reservation_key(row: &reservation::Model) -> StockKey {
    StockKey { part: PartId(row.part), lot: Lot(row.lot.clone()) }
}

impl reservation::Model {
    pub fn of(shop: ShopId, row: &Reservation) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            line: row.line.0,
            part: row.key.part.0,
            lot: row.key.lot.0.clone(),
            made: row.made.milli(),
            held: row.held.milli(),
            issued: row.issued.milli(),
            released: row.released.milli(),
            moved: row.moved.milli(),
        }
    }

    pub fn own(&self) -> Reservation {
        Reservation {
            id: ReservationId(self.id),
            line: LineId(self.line),
            key: reservation_key(self),
            made: quantity(self.made),
            held: quantity(self.held),
            issued: quantity(self.issued),
            released: quantity(self.released),
            moved: quantity(self.moved),
        }
    }
}
