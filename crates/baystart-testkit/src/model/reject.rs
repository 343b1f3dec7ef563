//! Goods that are not as ordered.

use super::answer::refused;
use super::{Answer, Faults, Model, Now};
use baystart_core::command::{OrderCommand, Rejection, Settlement};
use baystart_core::refusal::Reason;

impl Model {
    pub(super) fn reject(&mut self, command: &OrderCommand, now: &Now<'_>) -> Result<(), Answer> {
        let OrderCommand::Reject { order, line, quantity, how, settlement, reason, occurred_on } =
            command
        else {
            return Ok(());
        };
        let mut faults = Faults::default();
        let day = faults.day(now, *occurred_on);
        faults.positive(*quantity);
        faults.text(reason, true);
        let Some(number) = self.order_named(&mut faults, order, now) else {
            return faults.check();
        };
        let found = self.orders.get(&number).and_then(|row| row.line(*line)).cloned();
        faults.when(found.is_none(), Reason::LineUnknown);
        let mut spot = None;
        if let Some(row) = &found {
            faults.when(row.placed_on.is_none(), Reason::OrderLineState);
            faults.when(row.placed_on.is_some_and(|placed| day < placed), Reason::DateInvalid);
            if let Rejection::SentBack { bin, lot, .. } | Rejection::Quarantined { bin, lot } = how
            {
                let bin = self.bin_named(&mut faults, bin, now);
                let lot = self.lot(&mut faults, &row.part, lot);
                spot = bin.map(|bin| (row.part.clone(), lot, bin));
            }
        }
        faults.check()?;
        let Some(row) = found else { return Ok(()) };
        let milli = quantity.milli();
        let most = if spot.is_none() { row.on_order() } else { row.received };
        if milli > most {
            return Err(refused(Reason::OverReject));
        }
        let there = spot.is_some();
        if let Some(spot) = spot {
            let from_quarantine = matches!(how, Rejection::SentBack { from_quarantine: true, .. });
            self.take(spot.clone(), from_quarantine, milli)?;
            if matches!(how, Rejection::Quarantined { .. }) {
                self.stock.entry(spot).or_default().quarantined += milli;
            }
        }
        self.met = [row.part].into();
        let row = self.orders.get_mut(&number).and_then(|row| row.line_mut(*line));
        let Some(row) = row else { return Ok(()) };
        row.rejected += milli;
        row.received -= if there { milli } else { 0 };
        row.contact_on = row.contact_on.max(Some(day));
        match settlement {
            Settlement::Redelivery => row.despatched_on = None,
            Settlement::Credit => row.cancelled_by_supplier += milli.min(row.outstanding()),
        }
        row.closed_on = match (row.outstanding(), row.closed_on) {
            (0, closed_on) => closed_on.or(Some(day)),
            _ => None,
        };
        Ok(())
    }
}
