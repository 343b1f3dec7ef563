//! Bookings that concern no order, and found parts.

use super::answer::refused;
use super::{Answer, Bend, Faults, Model, Now, Spot};
use baystart_core::command::{BinQuantity, StockCommand};
use baystart_core::refusal::Reason;
use jiff::civil::Date;

impl Model {
    pub(super) fn play_stock(&mut self, command: &StockCommand, now: &Now<'_>) -> Answer {
        let answer = match command {
            StockCommand::Adjust { at, reason, quarantined, occurred_on, .. } => {
                self.adjust(at, reason, *quarantined, *occurred_on, now)
            }
            StockCommand::Move { at, to, occurred_on } => self.moved(at, to, *occurred_on, now),
            StockCommand::Scrap { at, reason, from_quarantine, occurred_on } => {
                self.shift(at, reason, (*from_quarantine, None), *occurred_on, now)
            }
            StockCommand::Quarantine { at, reason, occurred_on } => {
                self.shift(at, reason, (false, Some(true)), *occurred_on, now)
            }
            StockCommand::ReleaseQuarantine { at, reason, occurred_on } => {
                self.shift(at, reason, (true, Some(false)), *occurred_on, now)
            }
            StockCommand::ReturnToSupplier {
                at,
                supplier,
                reason,
                from_quarantine,
                occurred_on,
            } => {
                let mut faults = Faults::default();
                self.supplier_named(&mut faults, supplier, now);
                self.shifted(faults, at, reason, (*from_quarantine, None), *occurred_on, now)
            }
            StockCommand::Found { .. } => self.found(command, now),
            StockCommand::Receive { at, supplier, reason, occurred_on, .. } => {
                let mut faults = Faults::default();
                faults.positive(at.quantity);
                faults.text(reason, false);
                if let Some(supplier) = supplier {
                    self.supplier_named(&mut faults, supplier, now);
                }
                let spot = self.spot(&mut faults, at, *occurred_on, now);
                faults.check().map(|()| {
                    if let Some(spot) = spot {
                        self.stock.entry(spot).or_default().usable += at.quantity.milli();
                    }
                })
            }
        };
        answer.err().unwrap_or(Answer::Accepted)
    }

    fn spot(
        &self,
        faults: &mut Faults,
        at: &BinQuantity,
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Option<Spot> {
        let part = self.part_named(faults, &at.part, now);
        let bin = self.bin_named(faults, &at.bin, now);
        faults.day(now, occurred_on);
        let part = part?;
        faults.when(self.is_kit(&part), Reason::KitNotStocked);
        let lot = self.lot(faults, &part, &at.lot);
        Some((part, lot, bin?))
    }

    fn adjust(
        &mut self,
        at: &BinQuantity,
        reason: &str,
        quarantined: bool,
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        faults.when(at.quantity.is_zero(), Reason::QuantityInvalid);
        faults.text(reason, true);
        let spot = self.spot(&mut faults, at, occurred_on, now);
        faults.check()?;
        let Some(spot) = spot else { return Ok(()) };
        let mut cell = self.stock.get(&spot).copied().unwrap_or_default();
        let side = if quarantined { &mut cell.quarantined } else { &mut cell.usable };
        *side += at.quantity.milli();
        if *side < 0 && self.bend != Some(Bend::TakeBeyondStock) {
            return Err(refused(Reason::StockShort));
        }
        self.stock.insert(spot, cell);
        Ok(())
    }

    fn moved(
        &mut self,
        at: &BinQuantity,
        to: &baystart_core::refs::Ref,
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        faults.positive(at.quantity);
        let spot = self.spot(&mut faults, at, occurred_on, now);
        let to = self.bin_named(&mut faults, to, now);
        if let (Some((_, _, bin)), Some(to)) = (&spot, &to) {
            faults.when(bin == to, Reason::ValueInvalid);
        }
        faults.check()?;
        let (Some((part, lot, bin)), Some(to)) = (spot, to) else { return Ok(()) };
        self.take((part.clone(), lot.clone(), bin), false, at.quantity.milli())?;
        self.stock.entry((part, lot, to)).or_default().usable += at.quantity.milli();
        Ok(())
    }

    /// Takes from a bin's usable or quarantined stock.
    pub(super) fn take(&mut self, spot: Spot, quarantined: bool, milli: i64) -> Result<(), Answer> {
        let mut cell = self.stock.get(&spot).copied().unwrap_or_default();
        let side = if quarantined { &mut cell.quarantined } else { &mut cell.usable };
        *side -= milli;
        if *side < 0 && self.bend != Some(Bend::TakeBeyondStock) {
            return Err(refused(Reason::StockShort));
        }
        self.stock.insert(spot, cell);
        Ok(())
    }

    /// From quarantine or not; to quarantine, to usable, or out.
    fn shift(
        &mut self,
        at: &BinQuantity,
        reason: &str,
        (from, to): (bool, Option<bool>),
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        self.shifted(Faults::default(), at, reason, (from, to), occurred_on, now)
    }

    fn shifted(
        &mut self,
        mut faults: Faults,
        at: &BinQuantity,
        reason: &str,
        (from, to): (bool, Option<bool>),
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        faults.positive(at.quantity);
        faults.text(reason, true);
        let spot = self.spot(&mut faults, at, occurred_on, now);
        faults.check()?;
        let Some(spot) = spot else { return Ok(()) };
        self.take(spot.clone(), from, at.quantity.milli())?;
        let cell = self.stock.entry(spot).or_default();
        match to {
            None => {}
            Some(true) => cell.quarantined += at.quantity.milli(),
            Some(false) => cell.usable += at.quantity.milli(),
        }
        Ok(())
    }

    fn found(&mut self, command: &StockCommand, now: &Now<'_>) -> Result<(), Answer> {
        let StockCommand::Found { build, line, quantity, lot, reason, occurred_on } = command
        else {
            return Ok(());
        };
        let mut faults = Faults::default();
        faults.positive(*quantity);
        faults.text(reason, false);
        faults.day(now, *occurred_on);
        let build = self.build_named(&mut faults, build, now);
        let row = build.as_ref().and_then(|build| self.builds.get(build));
        let found = row.and_then(|row| row.line(*line));
        faults.when(row.is_some() && found.is_none(), Reason::LineUnknown);
        if let Some(found) = found {
            let kit = found.exploded || self.is_kit(&found.part);
            faults.when(kit, Reason::KitNotStocked);
            self.lot(&mut faults, &found.part, lot);
        }
        faults.check()?;
        if !row.is_some_and(|row| row.keeps()) {
            return Err(refused(Reason::BuildState));
        }
        let row = build.and_then(|build| self.builds.get_mut(&build));
        if let Some(line) = row.and_then(|row| row.line_mut(*line)) {
            line.issued += quantity.milli();
        }
        Ok(())
    }
}
