//! What came of the lines that were placed together.

use std::collections::HashMap;

use jiff::civil::Date;

use crate::{
    calendar::day_number,
    leadtime::history::{PastLine, Standing},
};

/// Lines, and how many of them have arrived.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Lines {
    placed: u32,
    here: u32,
}

/// Lines placed together, by what was known.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Batches {
    /// With one supplier on one day.
    by_day: HashMap<(u32, i64), Lines>,
    by_order: HashMap<u64, Lines>,
}

/// What an open line knows of those that were placed with it.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Beside {
    /// Other lines of its supplier and day that were not cancelled.
    pub others: u32,
    /// Those of them that have arrived.
    pub arrived: u32,
    /// Whether its order has other lines.
    pub in_order: bool,
    /// Whether one of those has arrived.
    pub in_order_here: bool,
}

/// How many things are known of a batch: the constant, and four of [`Beside`].
pub const BATCH_FACTS: usize = 5;

impl Beside {
    /// (1, s / (1 + s), arrived / max(s, 1), [its order has other lines], [one of those is here]), s
    /// the other lines of its supplier and day (design.md, section 5).
    #[must_use]
    pub fn facts(&self) -> [f64; BATCH_FACTS] {
        let others = f64::from(self.others);
        [
            1.0,
            others / (1.0 + others),
            f64::from(self.arrived) / others.max(1.0),
            f64::from(u8::from(self.in_order)),
            f64::from(u8::from(self.in_order_here)),
        ]
    }
}

impl Batches {
    /// Adds (`sign` 1) or takes away (-1) a line as it stood at the start of `as_of`.
    pub(super) fn count(&mut self, line: &PastLine, as_of: Date, sign: f64) {
        if !line.is_known(as_of) {
            return;
        }
        let here = match line.standing(as_of) {
            Standing::Received(_) => true,
            Standing::Open { .. } => false,
            Standing::Withdrawn(_) | Standing::Failed(_) => return,
        };
        let day = (line.supplier, day_number(line.placed.on));
        self.by_day.entry(day).or_default().change(here, sign);
        if let Some(order) = line.order {
            self.by_order.entry(order).or_default().change(here, sign);
        }
    }

    /// What an open line of this supplier, day and order knows.
    pub(super) fn beside(&self, supplier: u32, placed_day: i64, order: Option<u64>) -> Beside {
        let day = self.by_day.get(&(supplier, placed_day)).copied().unwrap_or_default();
        let order = order.and_then(|order| self.by_order.get(&order)).copied().unwrap_or_default();
        Beside {
            others: day.placed.saturating_sub(1),
            arrived: day.here,
            in_order: order.placed > 1,
            in_order_here: order.placed > 1 && order.here > 0,
        }
    }
}

impl Lines {
    fn change(&mut self, here: bool, sign: f64) {
        let here = u32::from(here);
        if sign > 0.0 {
            self.placed += 1;
            self.here += here;
        } else {
            self.placed = self.placed.saturating_sub(1);
            self.here = self.here.saturating_sub(here);
        }
    }
}
