//! What can be wrong with a calendar.

use jiff::civil::Date;
use thiserror::Error;

/// A calendar or a closure that cannot be built.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum CalendarError {
    /// The weekly pattern has no working day at all.
    #[error("the weekly pattern has no working day; mark at least one weekday as worked")]
    NoWorkingDay,
    /// A closed period whose last day lies before its first.
    #[error(
        "the closed period {first} to {last} ends before it begins; give the earlier day first"
    )]
    ClosureReversed {
        /// First closed day as given.
        first: Date,
        /// Last closed day as given.
        last: Date,
    },
}
