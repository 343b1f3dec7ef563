//! Goods of an order come in.

use super::answer::refused;
use super::rows::OrderLineRow;
use super::{Answer, Faults, Model, Now, Spot};
use baystart_core::command::ReceiptLine;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use jiff::civil::Date;

struct Receipt {
    line: i32,
    spot: Spot,
    milli: i64,
    over: i64,
}

impl Model {
    pub(super) fn receive(
        &mut self,
        order: &Ref,
        lines: &[ReceiptLine],
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let day = faults.day(now, occurred_on);
        faults.some(lines.len());
        let number = self.order_named(&mut faults, order, now);
        let Some(number) = number else {
            return faults.check();
        };
        let mut receipts: Vec<Receipt> = Vec::new();
        for wanted in lines {
            let bin = self.bin_named(&mut faults, &wanted.bin, now);
            let Some(row) = self.orders.get(&number).and_then(|row| row.line(wanted.line)) else {
                faults.push(Reason::LineUnknown);
                continue;
            };
            let lot = self.lot(&mut faults, &row.part, &wanted.lot);
            if !may_come(row, wanted) {
                faults.push(Reason::OrderLineState);
                continue;
            }
            let early = row.placed_on.is_some_and(|placed| day < placed);
            faults.when(early, Reason::DateInvalid);
            let before: i64 =
                receipts.iter().filter(|other| other.line == row.number).map(|r| r.milli).sum();
            let left = (row.on_order() - before).max(0);
            let milli = wanted.quantity.map_or(left, Quantity::milli);
            faults.when(milli <= 0, Reason::QuantityInvalid);
            let over = (milli - left).max(0);
            let name = wanted.over_accepted_by.as_deref().unwrap_or("").trim();
            faults.when(over > 0 && name.is_empty(), Reason::OverReceipt);
            if let Some(bin) = bin {
                let spot = (row.part.clone(), lot, bin);
                receipts.push(Receipt { line: row.number, spot, milli, over });
            }
        }
        faults.check()?;
        for receipt in receipts {
            self.stock.entry(receipt.spot).or_default().usable += receipt.milli;
            let row = self.orders.get_mut(&number).and_then(|row| row.line_mut(receipt.line));
            let Some(row) = row else { return Err(refused(Reason::LineUnknown)) };
            row.received += receipt.milli;
            row.over += receipt.over;
            row.contact_on = row.contact_on.max(Some(day));
            if row.outstanding() == 0 && row.closed_on.is_none() {
                row.closed_on = Some(day);
            }
        }
        Ok(())
    }
}

/// Placed, and on order unless somebody accepts more by name.
fn may_come(row: &OrderLineRow, wanted: &ReceiptLine) -> bool {
    row.placed_on.is_some() && (row.outstanding() > 0 || wanted.over_accepted_by.is_some())
}
