//! Pieces of news: what came together counts as one.
//!
//! Lines that were placed with one supplier on one day mostly come together, as do lines that left or
//! were promised on one day. They say as much as one line would, however many they are. What the
//! hazard is does not change by that, only how far it is believed against the parent's: a level's
//! evidence counts times `sum w^2 / sum (sum of w in a piece)^2`, the inverse of Kish's design effect
//! of whole clusters (Kish 1965, *Survey Sampling*). The pieces are known when the wait begins, never
//! from how it ended, so that nothing is learned from the quick ones alone.

use std::collections::HashMap;

use jiff::civil::Date;

use super::levels::Weights;
use crate::calendar::day_number;

/// Whose news it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum NewsOf {
    /// Lines of an offer, by their placing.
    Offer(u32),
    /// Lines of a supplier, by their placing.
    Supplier(u32),
    /// Promises of a supplier in one notice band, by the day they became known.
    Promise(u32, usize),
    /// A supplier's despatches.
    Despatch(u32),
}

/// A piece of news: whose, and of which day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct NewsAt {
    of: NewsOf,
    day: i64,
}

impl NewsAt {
    pub(super) fn new(of: NewsOf, on: Date) -> Self {
        Self { of, day: day_number(on) }
    }

    /// The day, as a number.
    pub(super) fn day(self) -> i64 {
        self.day
    }
}

impl Default for NewsAt {
    fn default() -> Self {
        Self { of: NewsOf::Offer(0), day: 0 }
    }
}

/// How many lines each piece of news has.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct NewsLines(HashMap<NewsAt, u32>);

impl NewsLines {
    pub(super) fn of(&self, at: NewsAt) -> u32 {
        self.0.get(&at).copied().unwrap_or(0)
    }

    /// One line more (`sign` 1) or less.
    pub(super) fn change(&mut self, at: NewsAt, sign: f64) {
        let lines = self.0.entry(at).or_default();
        *lines = if sign > 0.0 { *lines + 1 } else { lines.saturating_sub(1) };
        if *lines == 0 {
            self.0.remove(&at);
        }
    }
}

/// The sums from which a level's effective share is reckoned, by expert.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct PiecesOfNews {
    /// Sum of squared weights of lines.
    lines: Weights,
    /// Sum of squared weights of pieces.
    pieces: Weights,
}

impl PiecesOfNews {
    /// A line of these weights joins (`sign` 1) or leaves (-1) a piece that has `lines` lines before.
    pub(super) fn count(&mut self, weights: &Weights, sign: f64, lines: u32) {
        // (k + 1)^2 - k^2, or (k - 1)^2 - k^2.
        let more = sign.mul_add(2.0 * f64::from(lines), 1.0);
        for ((lines, pieces), weight) in self.lines.iter_mut().zip(&mut self.pieces).zip(weights) {
            *lines += sign * weight * weight;
            *pieces += more * weight * weight;
        }
    }

    /// What a line counts for by an expert, 0 to 1, those of `child` left out; 1 where nothing is
    /// counted.
    pub(super) fn scale(&self, expert: usize, child: Option<&Self>) -> f64 {
        let of = |sums: &Self| {
            let at = |sums: &Weights| sums.get(expert).copied().unwrap_or_default();
            [at(&sums.lines), at(&sums.pieces)]
        };
        let [lines, pieces] = of(self);
        let [child_lines, child_pieces] = child.map(of).unwrap_or_default();
        let (lines, pieces) = (lines - child_lines, pieces - child_pieces);
        if lines > 0.0 && pieces > lines { lines / pieces } else { 1.0 }
    }

    /// Adds another level's.
    pub(super) fn add(&mut self, other: &Self) {
        let sums = self.lines.iter_mut().chain(&mut self.pieces);
        for (sum, more) in sums.zip(other.lines.iter().chain(&other.pieces)) {
            *sum += more;
        }
    }
}
