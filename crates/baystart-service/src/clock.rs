//! Where the instant comes from at which commands are recorded.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

/// A clock that the server asks; tests and the demo fix it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Clock {
    /// The machine's clock.
    #[default]
    System,
    /// Always this instant.
    Fixed(Timestamp),
}

impl Clock {
    /// The instant now.
    #[must_use]
    pub fn now(&self) -> Timestamp {
        match self {
            Self::System => Timestamp::now(),
            Self::Fixed(instant) => *instant,
        }
    }

    /// Today in a time zone; in UTC where the zone is not known here.
    #[must_use]
    pub fn today(&self, time_zone: &str) -> Date {
        day_of(self.now(), time_zone)
    }
}

/// The day of an instant in a time zone; in UTC where the zone is not known here.
pub(crate) fn day_of(at: Timestamp, time_zone: &str) -> Date {
    let zone = TimeZone::get(time_zone).unwrap_or(TimeZone::UTC);
    zone.to_datetime(at).date()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn today_depends_on_the_shops_time_zone() {
        let clock = Clock::Fixed("2026-09-14T23:30:00Z".parse().unwrap());
        assert_eq!(clock.today("Europe/London"), jiff::civil::date(2026, 9, 15));
        assert_eq!(clock.today("America/New_York"), jiff::civil::date(2026, 9, 14));
    }
}
