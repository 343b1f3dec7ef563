//! Parts, suppliers, offers, bins, closed days, settings and tokens.

use super::answer::refused;
use super::rows::PartRow;
use super::{Answer, Faults, KnownToken, Model, Now};
use baystart_core::book::model::{Role, Settings};
use baystart_core::command::{Command, NewClosure, NewOffer, NewPart};
use baystart_core::refs::Ref;
use baystart_core::refusal::Reason;
use baystart_core::units::gtin_is_valid;
use std::collections::BTreeSet;

fn same_etag(version: i64, etag: &str) -> Result<(), Answer> {
    match etag == format!("v{version}") {
        true => Ok(()),
        false => Err(refused(Reason::EtagMismatch)),
    }
}

impl Model {
    pub(super) fn play_catalogue(&mut self, command: &Command, now: &Now<'_>) -> Answer {
        self.catalogue(command, now).err().unwrap_or(Answer::Accepted)
    }

    fn catalogue(&mut self, command: &Command, now: &Now<'_>) -> Result<(), Answer> {
        let mut faults = Faults::default();
        match command {
            Command::UpdateSettings { settings, etag, .. } => self.settings(settings, etag),
            Command::AddClosures { closures } => {
                let rows = self.closed(closures, now)?;
                self.closures.extend(rows);
                Ok(())
            }
            Command::RemoveClosures { closures } => {
                let rows = self.closed(closures, now)?;
                if rows.iter().any(|row| !self.closures.contains(row)) {
                    return Err(refused(Reason::ClosureUnknown));
                }
                for row in rows {
                    self.closures.remove(&row);
                }
                Ok(())
            }
            Command::CreatePart { part } => self.create_part(part, now),
            Command::UpdatePart { target, part, etag } => self.update_part(target, part, etag, now),
            Command::CreateSupplier { code, name } => {
                faults.text(name, true);
                faults.check()?;
                if self.suppliers.contains_key(code.normal()) {
                    return Err(refused(Reason::SupplierExists));
                }
                self.suppliers.insert(code.normal().to_owned(), 1);
                Ok(())
            }
            Command::UpdateSupplier { target, code, name, etag } => {
                faults.text(name, true);
                let old = self.supplier_named(&mut faults, target, now);
                faults.check()?;
                let old = old.unwrap_or_default();
                let version = self.suppliers.get(&old).copied().unwrap_or(0);
                same_etag(version, etag)?;
                if code.normal() != old && self.suppliers.contains_key(code.normal()) {
                    return Err(refused(Reason::SupplierExists));
                }
                self.suppliers.remove(&old);
                self.suppliers.insert(code.normal().to_owned(), version + 1);
                Ok(())
            }
            Command::PutOffer { offer, etag } => self.put_offer(offer, etag.as_deref(), now),
            Command::CreateBin { code, description } => {
                faults.text(description, false);
                faults.check()?;
                match self.bins.insert(code.normal().to_owned()) {
                    true => Ok(()),
                    false => Err(refused(Reason::BinExists)),
                }
            }
            Command::IssueToken { name, roles } => {
                faults.text(name, true);
                faults.some(roles.len());
                faults.check()?;
                let admin = roles.contains(&Role::Admin);
                let name = name.trim().to_uppercase();
                if self.tokens.values().any(|token| token.live && token.name == name) {
                    return Err(refused(Reason::TokenExists));
                }
                let fresh = now.book.tokens.keys().find(|id| !self.tokens.contains_key(&id.0));
                if let Some(id) = fresh {
                    self.tokens.insert(id.0, KnownToken { admin, live: true, name });
                }
                Ok(())
            }
            Command::RevokeToken { token } => {
                let Some(known) = self.tokens.get(token).cloned() else {
                    return Err(refused(Reason::TokenUnknown));
                };
                if !known.live {
                    return Err(refused(Reason::NothingToDo));
                }
                let admins = self.tokens.values().filter(|token| token.admin && token.live).count();
                if known.admin && admins < 2 {
                    return Err(refused(Reason::LastAdmin));
                }
                self.tokens.insert(*token, KnownToken { live: false, ..known });
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn settings(&mut self, settings: &Settings, etag: &str) -> Result<(), Answer> {
        let mut faults = Faults::default();
        faults.text(&settings.name, true);
        faults.when(settings.working_days == [false; 7], Reason::CalendarEmpty);
        faults.when(settings.ordering_days == [false; 7], Reason::CalendarEmpty);
        faults.when(settings.reserve_window_days > 730, Reason::ValueInvalid);
        let tolerance = settings.stall_tolerance;
        faults.when(!(0.0..1.0).contains(&tolerance), Reason::ValueInvalid);
        faults.when(settings.bays > 10_000, Reason::ValueInvalid);
        faults.check()?;
        same_etag(self.settings_version, etag)?;
        self.settings_version += 1;
        self.window_days = settings.reserve_window_days;
        Ok(())
    }

    fn closed(
        &self,
        closures: &[NewClosure],
        now: &Now<'_>,
    ) -> Result<Vec<(Option<String>, jiff::civil::Date, jiff::civil::Date)>, Answer> {
        let mut faults = Faults::default();
        faults.some(closures.len());
        let mut rows = Vec::new();
        for row in closures {
            faults.text(&row.name, false);
            let days = row.first_day.until(row.last_day).map_or(-1, |span| span.get_days());
            faults.when(!(0..3660).contains(&days), Reason::DateInvalid);
            let supplier = row.supplier.as_ref();
            let supplier = supplier.and_then(|row| self.supplier_named(&mut faults, row, now));
            rows.push((supplier, row.first_day, row.last_day));
        }
        faults.check()?;
        Ok(rows)
    }

    fn part_fields(&self, new: &NewPart, now: &Now<'_>) -> Result<Vec<(String, i64)>, Answer> {
        let mut faults = Faults::default();
        faults.text(&new.description, true);
        faults.text(&new.handling_note, false);
        let bad = !new.gtin.is_empty() && !gtin_is_valid(&new.gtin);
        faults.when(bad, Reason::ValueInvalid);
        let made_and_stocked = new.stocked.is_some() && !new.components.is_empty();
        faults.when(made_and_stocked, Reason::ValueInvalid);
        let mut components: Vec<(String, i64)> = Vec::new();
        for (part, quantity) in &new.components {
            faults.positive(*quantity);
            let Some(part) = self.part_named(&mut faults, part, now) else { continue };
            let twice = components.iter().any(|(known, _)| *known == part);
            faults.when(twice, Reason::DuplicateLine);
            components.push((part, quantity.milli()));
        }
        faults.check()?;
        Ok(components)
    }

    fn create_part(&mut self, new: &NewPart, now: &Now<'_>) -> Result<(), Answer> {
        if self.parts.contains_key(new.number.normal()) {
            return Err(refused(Reason::PartExists));
        }
        if new.components.iter().any(|(part, _)| *part == Ref::Number(new.number.clone())) {
            return Err(refused(Reason::KitCycle));
        }
        let components = self.part_fields(new, now)?;
        self.parts.insert(new.number.normal().to_owned(), part_row(new, components, 1));
        Ok(())
    }

    fn update_part(
        &mut self,
        target: &Ref,
        new: &NewPart,
        etag: &str,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let name = self.part_named(&mut faults, target, now);
        faults.check()?;
        let name = name.unwrap_or_default();
        let Some(old) = self.parts.get(&name).cloned() else { return Ok(()) };
        same_etag(old.version, etag)?;
        if new.number.normal() != name && self.parts.contains_key(new.number.normal()) {
            return Err(refused(Reason::PartExists));
        }
        let components = self.part_fields(new, now)?;
        if self.reaches(&components, &name, &mut BTreeSet::new()) {
            return Err(refused(Reason::KitCycle));
        }
        let used = self.stock.keys().any(|(part, _, _)| *part == name)
            || self.builds.values().any(|row| row.lines.iter().any(|line| line.part == name))
            || self.orders.values().any(|row| row.lines.iter().any(|line| line.part == name));
        let becomes_kit = old.components.is_empty() && !components.is_empty();
        let changed = old.unit != new.unit || old.lot_tracked != new.lot_tracked || becomes_kit;
        if used && changed {
            return Err(refused(Reason::UnitFixed));
        }
        // No world renames a part that others name.
        self.parts.remove(&name);
        let row = part_row(new, components, old.version + 1);
        self.parts.insert(new.number.normal().to_owned(), row);
        Ok(())
    }

    fn reaches(&self, list: &[(String, i64)], kit: &str, seen: &mut BTreeSet<String>) -> bool {
        list.iter().any(|(part, _)| {
            part == kit
                || (seen.insert(part.clone())
                    && self.parts.get(part).is_some_and(|p| self.reaches(&p.components, kit, seen)))
        })
    }

    fn put_offer(
        &mut self,
        new: &NewOffer,
        etag: Option<&str>,
        now: &Now<'_>,
    ) -> Result<(), Answer> {
        let mut faults = Faults::default();
        let supplier = self.supplier_named(&mut faults, &new.supplier, now);
        let part = self.part_named(&mut faults, &new.part, now);
        faults.text(&new.item_number, false);
        for quantity in [new.pack_size, new.minimum_quantity].into_iter().flatten() {
            faults.positive(quantity);
        }
        let negative = new.price.is_some_and(|price| price.ten_thousandths < 0);
        faults.when(negative, Reason::MoneyInvalid);
        faults.when(new.quoted_days.is_some_and(|days| days > 3650), Reason::ValueInvalid);
        faults.check()?;
        let key = (supplier.unwrap_or_default(), part.unwrap_or_default());
        let old = self.offers.get(&key).copied();
        match (old, etag) {
            (Some(_), None) => return Err(refused(Reason::OfferExists)),
            (_, Some(etag)) => same_etag(old.unwrap_or(0), etag)?,
            (None, None) => {}
        }
        self.offers.insert(key, old.unwrap_or(0) + 1);
        Ok(())
    }
}

fn part_row(new: &NewPart, components: Vec<(String, i64)>, version: i64) -> PartRow {
    PartRow {
        unit: new.unit,
        consumable: new.consumable,
        lot_tracked: new.lot_tracked,
        components,
        version,
    }
}
