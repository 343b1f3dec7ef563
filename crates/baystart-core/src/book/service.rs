//! The order of service: who comes first where there is not enough for all.

use super::Book;
use super::model::Build;
use jiff::Timestamp;
use jiff::civil::Date;

/// Sorts builds in the order in which they are served: priority, then planned
/// start or required date (none last), then opening time, then number.
pub type ServiceKey = (i32, Date, Timestamp, String);

impl Book {
    /// Where a build stands in the order of service.
    #[must_use]
    pub fn service_key(&self, build: &Build) -> ServiceKey {
        (
            build.priority,
            build.planned_start.or(build.required_by).unwrap_or(Date::MAX),
            build.opened_at.unwrap_or(Timestamp::MAX),
            build.number.normal().to_owned(),
        )
    }
}
