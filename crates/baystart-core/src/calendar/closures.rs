//! The days on which a supplier or finisher does nothing.

use jiff::civil::Date;

use super::{
    CalendarError,
    days::{day_number, from_day_number},
};

/// One closed range, in day numbers, with the closed days of all earlier ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct ClosedRange {
    first: i64,
    last: i64,
    closed_before: i64,
}

/// Closed date ranges, inclusive at both ends, kept sorted and merged.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Closures {
    ranges: Vec<ClosedRange>,
}

impl Closures {
    /// Closures from `(first closed day, last closed day)` pairs in any order; overlaps are merged.
    ///
    /// # Errors
    /// [`CalendarError::ClosureReversed`] if a pair ends before it begins.
    pub fn new(pairs: impl IntoIterator<Item = (Date, Date)>) -> Result<Self, CalendarError> {
        let mut sorted = Vec::new();
        for (first, last) in pairs {
            if last < first {
                return Err(CalendarError::ClosureReversed { first, last });
            }
            sorted.push((day_number(first), day_number(last)));
        }
        sorted.sort_unstable();
        let mut ranges: Vec<ClosedRange> = Vec::with_capacity(sorted.len());
        for (first, last) in sorted {
            match ranges.last_mut() {
                Some(open) if first <= open.last + 1 => open.last = open.last.max(last),
                _ => ranges.push(ClosedRange { first, last, closed_before: 0 }),
            }
        }
        let mut closed_before = 0;
        for range in &mut ranges {
            range.closed_before = closed_before;
            closed_before += range.last - range.first + 1;
        }
        Ok(Self { ranges })
    }

    /// Never closed.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// Whether `date` is closed.
    #[must_use]
    pub fn is_closed(&self, date: Date) -> bool {
        let day = day_number(date);
        self.range_from(day).is_some_and(|range| range.last >= day)
    }

    /// The first open day on or after `date`, or `None` past the years that a date can hold.
    #[must_use]
    pub fn first_open(&self, date: Date) -> Option<Date> {
        from_day_number(self.first_open_number(day_number(date)))
    }

    /// Open days `d` with `from < d <= to`: the days that a lead time begun on `from` has used up
    /// by the end of `to`. When `to` is earlier, minus the count of the swapped range.
    #[must_use]
    pub fn open_days_between(&self, from: Date, to: Date) -> i64 {
        self.open_days_between_numbers(day_number(from), day_number(to))
    }

    /// The earliest day on which [`Self::open_days_between`] counted from `from` reaches `n`;
    /// `from` itself for 0. `None` past the years that a date can hold.
    #[must_use]
    pub fn date_after_open_days(&self, from: Date, n: u32) -> Option<Date> {
        let mut day = day_number(from);
        let mut left = i64::from(n);
        let later = self.ranges.partition_point(|range| range.last <= day);
        for range in self.ranges.iter().skip(later) {
            let open_before = (range.first - 1 - day).max(0);
            if left <= open_before {
                break;
            }
            left -= open_before;
            day = range.last;
        }
        from_day_number(day + left)
    }

    /// The last range that begins on or before `day`.
    fn range_from(&self, day: i64) -> Option<&ClosedRange> {
        let begun = self.ranges.partition_point(|range| range.first <= day);
        self.ranges.get(begun.checked_sub(1)?)
    }

    fn closed_up_to(&self, day: i64) -> i64 {
        match self.range_from(day) {
            Some(range) => range.closed_before + day.min(range.last) - range.first + 1,
            None => 0,
        }
    }

    pub(crate) fn open_days_between_numbers(&self, from: i64, to: i64) -> i64 {
        (to - from) - (self.closed_up_to(to) - self.closed_up_to(from))
    }

    pub(crate) fn first_open_number(&self, day: i64) -> i64 {
        match self.range_from(day) {
            // Ranges are merged, so the day after a range is open.
            Some(range) if range.last >= day => range.last + 1,
            _ => day,
        }
    }
}
