//! Open lines of which nothing has been heard for long.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::{
    calendar::days_between,
    leadtime::history::{History, PastLine, Standing},
};

/// Received orders from which a supplier's own longest wait is known well enough.
const RECEIVED_MIN: u32 = 20;
/// Longest wait, as a multiple of the expected, where nobody's is known.
const OVERRUN_DEFAULT: f64 = 3.0;

/// An open line without news.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StaleLine {
    /// Its place among the history's lines.
    pub index: usize,
    /// The last day on which it was truly known to be open.
    pub last_news_on: Date,
    /// The day it was last expected.
    pub expected_on: Date,
    /// Calendar days since it was last expected.
    pub silent_days: i64,
}

/// How long is too long: by the longest waits that did end with a receipt.
///
/// A fixed limit would set aside orders that are merely late with a slow supplier, and so make its
/// law too short (in a steady simulated world by two points at 90 %).
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Patience {
    stale_after_days: u32,
    /// Received orders, and the longest wait over the expected one.
    suppliers: BTreeMap<u32, (u32, f64)>,
    shop: (u32, f64),
}

impl Patience {
    pub(crate) fn of(history: &History, as_of: Date, stale_after_days: u32) -> Self {
        let mut found = Self { stale_after_days, ..Self::default() };
        for line in &history.lines {
            if let Some(overrun) = overrun(line, as_of) {
                found.add(line.supplier, overrun);
            }
        }
        found
    }

    fn add(&mut self, supplier: u32, overrun: f64) {
        let supplier = self.suppliers.entry(supplier).or_default();
        for (received, longest) in [supplier, &mut self.shop] {
            *received += 1;
            *longest = longest.max(overrun);
        }
    }

    /// Takes over that a line came between two days, if it did.
    pub(super) fn came(&mut self, line: &PastLine, before: Date, as_of: Date) {
        if let (None, Some(overrun)) = (overrun(line, before), overrun(line, as_of)) {
            self.add(line.supplier, overrun);
        }
    }

    /// Takes over one line's change; whether every other line is still judged as it was.
    pub(super) fn renew(
        &mut self,
        before: Option<&PastLine>,
        after: Option<&PastLine>,
        as_of: Date,
    ) -> bool {
        let was = before.and_then(|line| Some((line.supplier, overrun(line, as_of)?)));
        let is = after.and_then(|line| Some((line.supplier, overrun(line, as_of)?)));
        if was == is {
            return true;
        }
        // What the longest wait was without a receipt is not kept.
        let (None, Some((supplier, overrun))) = (was, is) else {
            return false;
        };
        let limits = |patience: &Self| (patience.limit(supplier), limit_of(patience.shop));
        let before = limits(self);
        self.add(supplier, overrun);
        before == limits(self)
    }

    /// The longest wait of a supplier, as a multiple of the expected.
    fn limit(&self, supplier: u32) -> f64 {
        let own = self.suppliers.get(&supplier).copied().unwrap_or_default();
        match own.0 >= RECEIVED_MIN {
            true => limit_of(own),
            false => limit_of(self.shop),
        }
    }

    /// Whether an open line last expected on `expected_on` is stale at the start of `as_of`: silent
    /// for longer than the setting, and older than any order that its supplier (with few receipts:
    /// anybody) ever delivered, both in proportion to the expected wait.
    pub(crate) fn is_stale(&self, line: &PastLine, expected_on: Date, as_of: Date) -> bool {
        let silent = days_between(expected_on, as_of);
        if silent <= i64::from(self.stale_after_days) {
            return false;
        }
        let expected = days_between(line.placed.on, expected_on).max(1);
        days_between(line.placed.on, as_of) as f64 > self.limit(line.supplier) * expected as f64
    }
}

fn limit_of((received, longest): (u32, f64)) -> f64 {
    if received >= RECEIVED_MIN { longest.max(1.0) } else { OVERRUN_DEFAULT }
}

/// How long a received line took, over the expected wait; None if it had not come.
fn overrun(line: &PastLine, as_of: Date) -> Option<f64> {
    let Standing::Received(on) = line.standing(as_of) else {
        return None;
    };
    let expected = days_between(line.placed.on, line.expected_on(as_of)).max(1);
    line.is_known(as_of).then(|| days_between(line.placed.on, on) as f64 / expected as f64)
}

/// The lines that count as stale at the start of `as_of`, the longest silent first.
#[must_use]
pub fn stale_lines(history: &History, as_of: Date, stale_after_days: u32) -> Vec<StaleLine> {
    let patience = Patience::of(history, as_of, stale_after_days);
    let mut stale = Vec::new();
    for (index, line) in history.lines.iter().enumerate() {
        if !line.is_known(as_of) {
            continue;
        }
        let Standing::Open { last_news_on, expected_on } = line.standing(as_of) else {
            continue;
        };
        if patience.is_stale(line, expected_on, as_of) {
            let silent_days = days_between(expected_on, as_of);
            stale.push(StaleLine { index, last_news_on, expected_on, silent_days });
        }
    }
    stale.sort_by_key(|line| (std::cmp::Reverse(line.silent_days), line.index));
    stale
}
