//! The shop's and the suppliers' days, from settings and closures.

use super::Book;
use super::model::Closure;
use crate::calendar::{Closures, WorkCalendar, add_days};
use crate::ids::SupplierId;
use jiff::civil::Date;
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
        for closure in self.closures_for(None) {
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
        let own = self.closures_for(Some(supplier));
        let pairs = own.map(|closure| (closure.first_day, closure.last_day));
        Closures::new(pairs).unwrap_or_else(|_| Closures::none())
    }

    /// The closures of a supplier, or of the shop, by first day.
    pub fn closures_for(&self, supplier: Option<SupplierId>) -> impl Iterator<Item = &Closure> {
        let first =
            Closure { supplier, first_day: Date::MIN, last_day: Date::MIN, name: String::new() };
        self.closures.range(first..).take_while(move |closure| closure.supplier == supplier)
    }

    /// The closure of a supplier, or of the shop, on just these days.
    #[must_use]
    pub fn closure_on(
        &self,
        supplier: Option<SupplierId>,
        first_day: Date,
        last_day: Date,
    ) -> Option<&Closure> {
        let first = Closure { supplier, first_day, last_day, name: String::new() };
        self.closures.range(first..).next().filter(|row| {
            (row.supplier, row.first_day, row.last_day) == (supplier, first_day, last_day)
        })
    }
}
