//! Open lines of which nothing has been heard for long.

use jiff::civil::Date;

use crate::{
    calendar::days_between,
    leadtime::history::{History, Standing},
};

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

/// Whether a line placed on `placed_on` and last expected on `expected_on` is stale at the start of
/// `as_of`: silent for longer than `stale_after_days` and than it was expected to take at all.
pub(crate) fn is_stale(
    placed_on: Date,
    expected_on: Date,
    as_of: Date,
    stale_after_days: u32,
) -> bool {
    let expected_to_take = days_between(placed_on, expected_on);
    days_between(expected_on, as_of) > i64::from(stale_after_days).max(expected_to_take)
}

/// The lines that count as stale at the start of `as_of`, the longest silent first.
#[must_use]
pub fn stale_lines(history: &History, as_of: Date, stale_after_days: u32) -> Vec<StaleLine> {
    let mut stale = Vec::new();
    for (index, line) in history.lines.iter().enumerate() {
        if !line.is_known(as_of) {
            continue;
        }
        let Standing::Open { last_news_on, expected_on } = line.standing(as_of) else {
            continue;
        };
        if is_stale(line.placed.on, expected_on, as_of, stale_after_days) {
            let silent_days = days_between(expected_on, as_of);
            stale.push(StaleLine { index, last_news_on, expected_on, silent_days });
        }
    }
    stale.sort_by_key(|line| (std::cmp::Reverse(line.silent_days), line.index));
    stale
}
