//! Stock that leaves to a build and comes back.

use super::answer::refused;
use super::rows::LineRow;
use super::{Answer, Faults, Model, Now};
use baystart_core::command::LineQuantity;
use baystart_core::quantity::Quantity;
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// A checked wish; lot and bin in normal form.
struct Wish {
    line: LineRow,
    milli: i64,
    lot: Option<String>,
    bin: Option<String>,
}

impl Model {
    fn wishes(
        &self,
        faults: &mut Faults,
        build: &str,
        lines: &[LineQuantity],
        default: impl Fn(&LineRow) -> i64,
        now: &Now<'_>,
    ) -> Vec<Wish> {
        let mut wishes: Vec<Wish> = Vec::new();
        for wanted in lines {
            let line = self.builds.get(build).and_then(|row| row.line(wanted.line)).cloned();
            faults.when(line.is_none(), Reason::LineUnknown);
            let bin = wanted.bin.as_ref().and_then(|bin| self.bin_named(faults, bin, now));
            let Some(line) = line else { continue };
            if line.exploded {
                faults.push(Reason::KitNotStocked);
                continue;
            }
            let no_lot = wanted.lot.is_none();
            let twice = |w: &Wish| w.line.number == line.number && w.lot.is_none() && no_lot;
            faults.when(wishes.iter().any(twice), Reason::DuplicateLine);
            let milli = wanted.quantity.map_or_else(|| default(&line), Quantity::milli);
            let wrong = match wanted.quantity {
                Some(_) => Reason::QuantityInvalid,
                None => Reason::NothingToDo,
            };
            faults.when(milli <= 0, wrong);
            let lot = wanted.lot.as_ref().map(|lot| self.lot(faults, &line.part, lot));
            wishes.push(Wish { line, milli, lot, bin });
        }
        wishes
    }

    pub(super) fn issue(
        &mut self,
        build: &Ref,
        lines: &[LineQuantity],
        stage: Option<&str>,
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        faults.day(now, occurred_on);
        let Some(build) = self.build_named(&mut faults, build, now) else {
            return faults.check();
        };
        let Some(row) = self.builds.get(&build) else { return Ok(()) };
        let stage = stage.map(|name| row.stage(name).map(|stage| stage.name.clone()));
        faults.when(stage == Some(None), Reason::StageUnknown);
        let wishes = match lines.is_empty() {
            false => self.wishes(&mut faults, &build, lines, LineRow::need, now),
            true => {
                let stage = stage.flatten();
                let mut all = Vec::new();
                for line in &row.lines {
                    let milli = self.bound.of(&(build.clone(), line.number)).held();
                    if milli > 0 && stage.as_ref().is_none_or(|stage| *stage == line.stage) {
                        all.push(Wish { line: line.clone(), milli, lot: None, bin: None });
                    }
                }
                all
            }
        };
        faults.check()?;
        self.keeps(&build)?;
        if wishes.is_empty() {
            return Err(refused(Reason::NothingToDo));
        }
        // What is held is enough where no line is named, whatever the lots.
        let sure = lines.is_empty() || one_a_part(&wishes);
        if sure {
            self.enough(&build, &wishes)?;
        }
        if now.accepted {
            self.leaves(&build, &wishes, now)?;
        }
        if sure { Ok(()) } else { Err(Answer::Unsure) }
    }

    /// Held for the line or free, by lot, and no more than lies in the bin.
    fn enough(&self, build: &str, wishes: &[Wish]) -> Result<(), Answer> {
        let mut short = Faults::default();
        for wish in wishes {
            let part = &wish.line.part;
            let held = self.bound.of(&(build.to_owned(), wish.line.number)).held;
            let mut can = 0;
            for (lot, free) in self.available(part, &self.bound) {
                if wish.lot.as_ref().is_some_and(|wanted| *wanted != lot) {
                    continue;
                }
                let here = self.stock.iter().filter(|((known, other, bin), _)| {
                    known == part && *other == lot && wish.bin.as_ref().is_none_or(|b| b == bin)
                });
                let here: i64 = here.map(|(_, cell)| cell.usable).sum();
                can += here.min(free.max(0) + held.get(&lot).copied().unwrap_or(0));
            }
            short.when(can < wish.milli, Reason::StockShort);
        }
        short.check()
    }

    /// Takes over which bins and lots were drawn on, where that was allowed.
    fn leaves(&mut self, build: &str, wishes: &[Wish], now: &Now<'_>) -> Result<(), Answer> {
        let impossible = |text: String| Err(Answer::Impossible(text));
        let mut sums: BTreeMap<String, i64> = BTreeMap::new();
        for wish in wishes {
            *sums.entry(wish.line.part.clone()).or_default() += wish.milli;
        }
        let after = super::compare::cells(now.book);
        for ((part, lot, bin), cell) in &mut self.stock {
            let left = after.get(&(part.clone(), lot.clone(), bin.clone())).copied();
            let left = left.unwrap_or_default();
            let taken = cell.usable - left.usable;
            if taken == 0 {
                continue;
            }
            let allowed = wishes.iter().any(|wish| {
                wish.line.part == *part
                    && wish.lot.as_ref().is_none_or(|wanted| wanted == lot)
                    && wish.bin.as_ref().is_none_or(|wanted| wanted == bin)
            });
            if taken < 0 || !allowed {
                return impossible(format!("an issue took {taken} of {part} {lot} from {bin}"));
            }
            *sums.entry(part.clone()).or_default() -= taken;
            cell.usable = left.usable;
        }
        if let Some((part, left)) = sums.iter().find(|(_, left)| **left != 0) {
            return impossible(format!("an issue of {part} leaves {left} unaccounted for"));
        }
        let row = self.builds.get_mut(build);
        let Some(row) = row else { return Ok(()) };
        for wish in wishes {
            if let Some(line) = row.line_mut(wish.line.number) {
                line.issued += wish.milli;
            }
        }
        Ok(())
    }

    pub(super) fn give_back(
        &mut self,
        build: &Ref,
        lines: &[LineQuantity],
        occurred_on: Option<Date>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        faults.day(now, occurred_on);
        faults.some(lines.len());
        let Some(build) = self.build_named(&mut faults, build, now) else {
            return faults.check();
        };
        let wishes = self.wishes(&mut faults, &build, lines, |line| line.issued, now);
        for wanted in lines {
            faults.when(wanted.bin.is_none(), Reason::FieldMissing);
        }
        for wish in &wishes {
            let tracked = self.is_lot_tracked(&wish.line.part);
            faults.when(wish.lot.is_none() && tracked, Reason::LotNeeded);
        }
        faults.check()?;
        let Some(row) = self.builds.get(&build) else { return Ok(()) };
        let (mut row, mut stock, mut over) = (row.clone(), self.stock.clone(), Faults::default());
        for wish in wishes {
            let Some(line) = row.line_mut(wish.line.number) else { continue };
            if line.issued < wish.milli {
                over.push(Reason::OverReturn);
                continue;
            }
            line.issued -= wish.milli;
            let spot = (wish.line.part, wish.lot.unwrap_or_default(), wish.bin.unwrap_or_default());
            stock.entry(spot).or_default().usable += wish.milli;
        }
        over.check()?;
        self.builds.insert(build, row);
        self.stock = stock;
        Ok(())
    }
}

fn one_a_part(wishes: &[Wish]) -> bool {
    wishes
        .iter()
        .enumerate()
        .all(|(i, wish)| !wishes.iter().take(i).any(|other| other.line.part == wish.line.part))
}
