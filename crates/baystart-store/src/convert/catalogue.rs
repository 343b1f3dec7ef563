//! Settings, closed days, parts, suppliers, offers.

use super::value::{
    amount, code, corrupt, day, days, json, money, number, of_json, own_day, quantity, small,
};
use crate::entity::{closure, kit_component, offer, part, shop, supplier};
use crate::error::StoreError;
use baystart_core::book::model::{Closure, Made, Offer, Part, Settings, StockPolicy, Supplier};
use baystart_core::ids::{OfferId, PartId, ShopId, SupplierId};
use baystart_core::money::Currency;
use baystart_core::quantity::Quantity;
use baystart_core::units::Unit;
use uuid::Uuid;

fn week_text(days: [bool; 7]) -> String {
    days.iter().map(|open| if *open { '1' } else { '0' }).collect()
}

fn week(text: &str) -> Result<[bool; 7], StoreError> {
    let days: Vec<bool> = text.chars().map(|sign| sign == '1').collect();
    days.try_into().map_err(|_| corrupt("the week", text))
}

impl shop::Model {
    pub fn of(id: ShopId, revision: i64, row: &Settings) -> Self {
        Self {
            id: id.0,
            revision,
            name: row.name.clone(),
            time_zone: row.time_zone.clone(),
            currency: row.currency.code().to_owned(),
            working_days: week_text(row.working_days),
            ordering_days: week_text(row.ordering_days),
            reserve_window_days: row.reserve_window_days.into(),
            stall_tolerance: row.stall_tolerance,
            bays: row.bays.into(),
            version: row.version,
            learning: json(&row.learning),
            ways: json(&row.ways),
            evidence_revision: revision,
            commit_id: Uuid::new_v4(),
        }
    }

    pub fn own(&self) -> Result<Settings, StoreError> {
        let currency =
            Currency::parse(&self.currency).map_err(|_| corrupt("the currency", &self.currency))?;
        Ok(Settings {
            name: self.name.clone(),
            time_zone: self.time_zone.clone(),
            currency,
            working_days: week(&self.working_days)?,
            ordering_days: week(&self.ordering_days)?,
            reserve_window_days: small("the reserve window", self.reserve_window_days)?,
            stall_tolerance: self.stall_tolerance,
            bays: small("the bays", self.bays)?,
            learning: of_json("the learning settings", &self.learning)?,
            ways: of_json("the rules of deciding", &self.ways)?,
            version: self.version,
        })
    }
}

impl closure::Model {
    pub fn of(shop: ShopId, id: Uuid, row: &Closure) -> Self {
        Self {
            shop: shop.0,
            id,
            supplier: row.supplier.map(|supplier| supplier.0),
            first_day: day(row.first_day),
            last_day: day(row.last_day),
            name: row.name.clone(),
        }
    }

    pub fn own(&self) -> Result<Closure, StoreError> {
        Ok(Closure {
            supplier: self.supplier.map(SupplierId),
            first_day: own_day(self.first_day)?,
            last_day: own_day(self.last_day)?,
            name: self.name.clone(),
        })
    }
}

/// How a part is made: word, days, by whom.
fn made_columns(made: Made) -> (&'static str, Option<i64>, Option<Uuid>) {
    match made {
        Made::Listed => ("listed", None, None),
        Made::InShop { working_days } => ("in shop", Some(working_days.into()), None),
        Made::AtFinisher { supplier, quoted_days } => {
            ("at finisher", quoted_days.map(i64::from), Some(supplier.0))
        }
    }
}

fn made(row: &part::Model) -> Result<Made, StoreError> {
    match (row.made.as_str(), row.made_days, row.made_by) {
        ("listed", _, _) => Ok(Made::Listed),
        ("in shop", Some(working_days), _) => {
            Ok(Made::InShop { working_days: small("the working days of a part", working_days)? })
        }
        ("at finisher", quoted, Some(supplier)) => Ok(Made::AtFinisher {
            supplier: SupplierId(supplier),
            quoted_days: days("the finisher's days", quoted)?,
        }),
        _ => Err(corrupt("how a part is made", &row.made)),
    }
}

fn stocked(row: &part::Model) -> Result<Option<StockPolicy>, StoreError> {
    let (Some(permille), Some(days)) = (row.stocked_permille, row.stocked_days) else {
        return Ok(None);
    };
    let small = |what, value: i64| u16::try_from(value).map_err(|_| corrupt(what, value));
    Ok(Some(StockPolicy {
        service_permille: small("the service level of a part", permille)?,
        cover_days: small("the days that an order of a part covers", days)?,
        least: Quantity::from_milli(row.stocked_least.unwrap_or(0)),
    }))
}

impl part::Model {
    pub fn of(shop: ShopId, row: &Part) -> Self {
        let (made, made_days, made_by) = made_columns(row.made);
        Self {
            made: made.to_owned(),
            made_days,
            made_by,
            family: row.family.clone(),
            finish: row.finish.clone(),
            made_to_order: row.made_to_order,
            superseded_by: row.superseded_by.map(|part| part.0),
            companions: json(&row.companions),
            stocked_permille: row.stocked.map(|policy| policy.service_permille.into()),
            stocked_days: row.stocked.map(|policy| policy.cover_days.into()),
            stocked_least: row.stocked.map(|policy| policy.least.milli()),
            shop: shop.0,
            id: row.id.0,
            normal: row.number.normal().to_owned(),
            written: row.number.written().to_owned(),
            description: row.description.clone(),
            unit: row.unit.code().to_owned(),
            consumable: row.consumable,
            safety_related: row.safety_related,
            lot_tracked: row.lot_tracked,
            gtin: row.gtin.clone(),
            handling_note: row.handling_note.clone(),
            version: row.version,
        }
    }

    /// The parts that it names beside its components.
    pub fn named_parts(&self) -> Result<Vec<Uuid>, StoreError> {
        let companions: Vec<PartId> = of_json("the companions of a part", &self.companions)?;
        let companions = companions.into_iter().map(|part| part.0);
        Ok(companions.chain(self.superseded_by).collect())
    }

    pub fn own(&self, components: Vec<(PartId, Quantity)>) -> Result<Part, StoreError> {
        Ok(Part {
            id: PartId(self.id),
            number: number(&self.written, &self.normal),
            description: self.description.clone(),
            unit: Unit::parse(&self.unit).map_err(|_| corrupt("the unit", &self.unit))?,
            consumable: self.consumable,
            safety_related: self.safety_related,
            lot_tracked: self.lot_tracked,
            components,
            made: made(self)?,
            family: self.family.clone(),
            finish: self.finish.clone(),
            made_to_order: self.made_to_order,
            superseded_by: self.superseded_by.map(PartId),
            companions: of_json("the companions of a part", &self.companions)?,
            stocked: stocked(self)?,
            gtin: self.gtin.clone(),
            handling_note: self.handling_note.clone(),
            version: self.version,
        })
    }
}

impl kit_component::Model {
    /// A kit's list, in its order.
    pub fn list(shop: ShopId, row: &Part) -> Vec<Self> {
        let mut rows = Vec::with_capacity(row.components.len());
        for (ordinal, (component, quantity)) in (0..).zip(&row.components) {
            rows.push(Self {
                shop: shop.0,
                kit: row.id.0,
                ordinal,
                component: component.0,
                quantity: quantity.milli(),
            });
        }
        rows
    }
}

impl supplier::Model {
    pub fn of(shop: ShopId, row: &Supplier) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            normal: row.code.normal().to_owned(),
            written: row.code.written().to_owned(),
            name: row.name.clone(),
            version: row.version,
        }
    }

    pub fn own(&self) -> Result<Supplier, StoreError> {
        Ok(Supplier {
            id: SupplierId(self.id),
            code: number(&self.written, &self.normal),
            name: self.name.clone(),
            version: self.version,
        })
    }
}

impl offer::Model {
    pub fn of(shop: ShopId, row: &Offer) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            supplier: row.supplier.0,
            part: row.part.0,
            item_number: row.item_number.clone(),
            price: amount(row.price),
            currency: code(row.price),
            pack_size: row.pack_size.map(Quantity::milli),
            minimum_quantity: row.minimum_quantity.map(Quantity::milli),
            quoted_days: row.quoted_days.map(i64::from),
            preferred: row.preferred,
            version: row.version,
        }
    }

    pub fn own(&self) -> Result<Offer, StoreError> {
        Ok(Offer {
            id: OfferId(self.id),
            supplier: SupplierId(self.supplier),
            part: PartId(self.part),
            item_number: self.item_number.clone(),
            price: money(self.price, self.currency.as_deref())?,
            pack_size: self.pack_size.map(quantity),
            minimum_quantity: self.minimum_quantity.map(quantity),
            quoted_days: days("the quoted lead time", self.quoted_days)?,
            preferred: self.preferred,
            version: self.version,
        })
    }
}
