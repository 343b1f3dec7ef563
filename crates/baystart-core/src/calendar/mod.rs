//! Working days, suppliers' closures and the integer axis of working days.
//!
//! Every function here takes its dates as arguments; nothing asks what day it is.

mod axis;
mod closures;
mod days;
mod error;
mod ordering;
mod week;
mod work;

#[cfg(test)]
mod tests;

pub use axis::{DayAxis, HORIZON_DAYS};
pub use closures::Closures;
pub use days::{add_days, days_between};
pub(crate) use days::{day_number, from_day_number};
pub use error::CalendarError;
pub use ordering::next_ordering_day;
pub use week::iso_week_label;
pub use work::{SEARCH_DAYS_MAX, WORKING_DAYS_MAX, WorkCalendar};
