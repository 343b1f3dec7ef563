//! The shop's and the suppliers' days, from settings and closures.

use super::Book;
use crate::calendar::{Closures, WorkCalendar, add_days};
use crate::ids::SupplierId;
use std::collections::BTreeSet;

/// Days of one closure that are taken at most: a longer one is refused when it
/// is added, so this bounds memory and nothing else.
pub const CLOSURE_DAYS_MAX: i64 = 3660;

impl Book {
    /// The shop's working days: weekly pattern less its closures. Monday to
    /// Friday where nothing is set.
    #[must_use]
    pub fn calendar(&self) -> WorkCalendar {
        let Some(settings) = &self.settings else {
            return WorkCalendar::monday_to_friday();
        };
        let mut closed = BTreeSet::new();
        for closure in self.closures.iter().filter(|closure| closure.supplier.is_none()) {
            let mut day = closure.first_day;
            while day <= closure.last_day {
                closed.insert(day);
                let Some(next) = add_days(day, 1) else { break };
                day = next;
            }
        }
        WorkCalendar::new(settings.working_days, closed)
            .unwrap_or_else(|_| WorkCalendar::monday_to_friday())
    }

    /// The days on which a supplier is closed.
    #[must_use]
    pub fn closures_of(&self, supplier: SupplierId) -> Closures {
        let own = self.closures.iter().filter(|closure| closure.supplier == Some(supplier));
        let pairs = own.map(|closure| (closure.first_day, closure.last_day));
        Closures::new(pairs).unwrap_or_else(|_| Closures::none())
    }
}
