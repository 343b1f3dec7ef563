//! What was used of a part, day by day.

use super::Book;
use super::model::{Account, Movement};
use crate::ids::PartId;
use crate::quantity::Quantity;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// What was used of a part: fitted or used up in making, less what came back; a correction of stock
/// is no use.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PastUse {
    /// The day of its first booking of any kind.
    pub since: Option<Date>,
    /// Net, by the day on which it happened; days without use are left out.
    pub days: BTreeMap<Date, Quantity>,
}

impl PastUse {
    /// Adds a booking's share.
    fn add(&mut self, part: PartId, movement: &Movement) {
        for entry in movement.entries.iter().filter(|entry| entry.key.part == part) {
            let day = movement.occurred_on;
            self.since = Some(self.since.map_or(day, |since| since.min(day)));
            if matches!(entry.account, Account::Build(_) | Account::Making) {
                *self.days.entry(day).or_default() += entry.quantity;
            }
        }
    }
}

impl Book {
    /// What was used of a part, from the bookings where the book keeps them, else as it was loaded.
    #[must_use]
    pub fn past_use(&self, part: PartId) -> PastUse {
        if !self.keep_ledger {
            return self.used.get(&part).cloned().unwrap_or_default();
        }
        let mut used = PastUse::default();
        for movement in &self.ledger {
            used.add(part, movement);
        }
        used
    }
}
