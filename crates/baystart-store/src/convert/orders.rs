//! Orders, their lines, promises and pegs.

use super::value::{
    amount, code, day, days, instant, money, number, own_day, own_day_option, quantity, small,
};
use crate::entity::{order_line, peg, promise, purchase_order};
use crate::error::StoreError;
use baystart_core::book::model::{Order, OrderLine, Peg, Promise, TakenBack};
use baystart_core::ids::{LineId, OrderId, OrderLineId, PartId, ShopId, SupplierId};
use jiff::Timestamp;

impl purchase_order::Model {
    pub fn of(shop: ShopId, row: &Order) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            normal: row.number.normal().to_owned(),
            written: row.number.written().to_owned(),
            supplier: row.supplier.0,
            supplier_reference: row.supplier_reference.clone(),
            version: row.version,
        }
    }

    pub fn own(&self) -> Result<Order, StoreError> {
        Ok(Order {
            id: OrderId(self.id),
            number: number(&self.written, &self.normal),
            supplier: SupplierId(self.supplier),
            supplier_reference: self.supplier_reference.clone(),
            version: self.version,
        })
    }
}

impl order_line::Model {
    /// A row with nothing pegged: pegs have a writer of their own.
    pub fn of(shop: ShopId, row: &OrderLine) -> Self {
        Self {
            shop: shop.0,
            id: row.id.0,
            purchase_order: row.order.0,
            number: row.number.into(),
            part: row.part.0,
            ordered: row.ordered.milli(),
            received: row.received.milli(),
            over_accepted: row.over_accepted.milli(),
            cancelled_by_us: row.cancelled_by_us.milli(),
            cancelled_by_supplier: row.cancelled_by_supplier.milli(),
            pegged: 0,
            price: amount(row.price),
            currency: code(row.price),
            quoted_days: row.quoted_days.map(i64::from),
            placed_on: row.placed_on.map(day),
            acknowledged_on: row.acknowledged_on.map(day),
            despatched_on: row.despatched_on.map(day),
            last_contact_on: row.last_contact_on.map(day),
            closed_on: row.closed_on.map(day),
            for_line: row.for_line.map(|line| line.0),
            package_line: row.package_line.into(),
            package: row.package,
            rejected: row.rejected.milli(),
        }
    }

    /// The row with its promises, by ordinal.
    pub fn own(&self, rows: &[promise::Model]) -> Result<OrderLine, StoreError> {
        let (mut promises, mut taken_back) = (Vec::new(), Vec::new());
        for (place, row) in rows.iter().enumerate() {
            let promise = row.own()?;
            match own_day_option(row.taken_back_on)? {
                None => promises.push(promise),
                Some(on) => {
                    let reason = row.taken_back_reason.clone().unwrap_or_default();
                    taken_back.push(TakenBack { promise, place, on, reason });
                }
            }
        }
        Ok(OrderLine {
            id: OrderLineId(self.id),
            order: OrderId(self.purchase_order),
            number: small("the order line number", self.number)?,
            part: PartId(self.part),
            ordered: quantity(self.ordered),
            received: quantity(self.received),
            over_accepted: quantity(self.over_accepted),
            cancelled_by_us: quantity(self.cancelled_by_us),
            cancelled_by_supplier: quantity(self.cancelled_by_supplier),
            price: money(self.price, self.currency.as_deref())?,
            quoted_days: days("the quoted lead time", self.quoted_days)?,
            placed_on: own_day_option(self.placed_on)?,
            acknowledged_on: own_day_option(self.acknowledged_on)?,
            despatched_on: own_day_option(self.despatched_on)?,
            last_contact_on: own_day_option(self.last_contact_on)?,
            closed_on: own_day_option(self.closed_on)?,
            for_line: self.for_line.map(LineId),
            promises,
            taken_back,
            package_line: small("the package line", self.package_line)?,
            package: self.package,
            rejected: quantity(self.rejected),
        })
    }
}

impl promise::Model {
    /// An order line's promises, in the order in which they became known; those that were taken back
    /// keep their places.
    pub fn list(shop: ShopId, row: &OrderLine, recorded_at: Timestamp) -> Vec<Self> {
        let count = row.promises.len() + row.taken_back.len();
        let mut rows = Vec::with_capacity(count);
        let (mut counting, mut taken) = (row.promises.iter(), row.taken_back.iter().peekable());
        for (ordinal, place) in (0..).zip(0..count) {
            let back = taken.next_if(|taken| taken.place == place);
            let Some(promise) = back.map(|taken| &taken.promise).or_else(|| counting.next()) else {
                break;
            };
            rows.push(Self {
                shop: shop.0,
                order_line: row.id.0,
                ordinal,
                promised_on: day(promise.promised_on),
                known_on: day(promise.known_on),
                recorded_at: instant(recorded_at),
                taken_back_on: back.map(|taken| day(taken.on)),
                taken_back_reason: back.map(|taken| taken.reason.clone()),
            });
        }
        rows
    }

    pub fn own(&self) -> Result<Promise, StoreError> {
        Ok(Promise { promised_on: own_day(self.promised_on)?, known_on: own_day(self.known_on)? })
    }
}

impl peg::Model {
    pub const fn of(shop: ShopId, row: &Peg) -> Self {
        Self {
            shop: shop.0,
            line: row.line.0,
            order_line: row.order_line.0,
            quantity: row.quantity.milli(),
            kept: row.kept,
        }
    }

    pub const fn own(&self) -> Peg {
        Peg {
            line: LineId(self.line),
            order_line: OrderLineId(self.order_line),
            quantity: quantity(self.quantity),
            kept: self.kept,
        }
    }
}
