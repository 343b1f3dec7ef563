//! Bins, totals and balances.

use super::value::{number, own_day_option, quantity};
use crate::entity::{bin, bin_balance, stock};
use crate::error::StoreError;
use baystart_core::book::model::{Bin, BinBalance, Lot, Stock, StockKey};
use baystart_core::ids::{BinId, PartId, ShopId};

impl bin::Model {
    pub fn of(shop: ShopId, row: &Bin) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            normal: row.code.normal().to_owned(),
            written: row.code.written().to_owned(),
            description: row.description.clone(),
        }
    }

    pub fn own(&self) -> Result<Bin, StoreError> {
        Ok(Bin {
            id: BinId(self.id),
            code: number(&self.written, &self.normal),
            description: self.description.clone(),
        })
    }
}

impl stock::Model {
    pub fn key(&self) -> StockKey {
        StockKey { part: PartId(self.part), lot: Lot(self.lot.clone()) }
    }

    pub fn own(&self) -> Result<Stock, StoreError> {
        Ok(Stock {
            usable: quantity(self.usable),
            reserved: quantity(self.reserved),
            quarantined: quantity(self.quarantined),
            expires_on: own_day_option(self.expires_on)?,
            first_received_on: own_day_option(self.first_received_on)?,
        })
    }
}

impl bin_balance::Model {
    pub fn key(&self) -> (StockKey, BinId) {
        let key = StockKey { part: PartId(self.part), lot: Lot(self.lot.clone()) };
        (key, BinId(self.bin))
    }

    pub const fn own(&self) -> BinBalance {
        BinBalance { usable: quantity(self.usable), quarantined: quantity(self.quarantined) }
    }
}
