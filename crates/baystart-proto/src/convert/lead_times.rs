//! Requests about lead times.

use super::read::{Reader, Unread};
use crate::v1;
use baystart_core::refs::Ref;
use baystart_core::refusal::{FieldPath, Reason};
use jiff::civil::Date;
use std::ops::RangeInclusive;

/// Days from one forecast day to the next.
const STEP_DAYS: RangeInclusive<i32> = 1..=366;
const STEP_DAYS_DEFAULT: u32 = 28;
/// Days that are scored.
const HORIZON_DAYS: RangeInclusive<i32> = 7..=730;
const HORIZON_DAYS_DEFAULT: u32 = 365;

/// Whose profile is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfileAsked {
    /// The supplier.
    pub supplier: Ref,
    /// None: everything ordered from it.
    pub part: Option<Ref>,
    /// None: today.
    pub as_of: Option<Date>,
}

/// Which backtest is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BacktestAsked {
    /// First forecast day; None: some time after the first order.
    pub first: Option<Date>,
    /// Outcomes are those known at its start; None: today.
    pub end: Option<Date>,
    /// Days from one forecast day to the next.
    pub step_days: u32,
    /// Days that are scored from each forecast day.
    pub horizon_days: u32,
    /// No baselines and no builds.
    pub brief: bool,
}

/// Reads `GetLeadTimeProfile`.
///
/// # Errors
/// Every fault of the request.
pub fn get_lead_time_profile(
    request: &v1::GetLeadTimeProfileRequest,
) -> Result<ProfileAsked, Unread> {
    let mut read = Reader::new();
    let supplier = read.supplier("supplier", request.supplier.as_ref());
    let part = match &request.part {
        None => Some(None),
        Some(part) => read.part("part", Some(part)).map(Some),
    };
    let as_of = read.date("as_of", request.as_of.as_ref());
    let asked = supplier.zip(part).zip(as_of);
    read.finish(asked.map(|((supplier, part), as_of)| ProfileAsked { supplier, part, as_of }))
}

/// Reads `RunBacktest`.
///
/// # Errors
/// Every fault of the request.
pub fn run_backtest(request: &v1::RunBacktestRequest) -> Result<BacktestAsked, Unread> {
    let mut read = Reader::new();
    let first = read.date("first", request.first.as_ref());
    let end = read.date("end", request.end.as_ref());
    if let (Some(Some(first)), Some(Some(end))) = (first, end)
        && first >= end
    {
        let message = format!("{first} is not before the end, {end}");
        read.fault("first", Reason::DateInvalid, message);
    }
    let step_days = days(&mut read, "step_days", request.step_days, STEP_DAYS, STEP_DAYS_DEFAULT);
    let horizon_days =
        days(&mut read, "horizon_days", request.horizon_days, HORIZON_DAYS, HORIZON_DAYS_DEFAULT);
    let asked = first.zip(end).zip(step_days.zip(horizon_days));
    read.finish(asked.map(|((first, end), (step_days, horizon_days))| BacktestAsked {
        first,
        end,
        step_days,
        horizon_days,
        brief: request.brief,
    }))
}

fn days(
    read: &mut Reader,
    field: impl Into<FieldPath>,
    asked: Option<i32>,
    range: RangeInclusive<i32>,
    default: u32,
) -> Option<u32> {
    let Some(days) = asked else { return Some(default) };
    let found = u32::try_from(days).ok().filter(|_| range.contains(&days));
    if found.is_none() {
        let message =
            format!("{days} days; it must lie between {} and {}", range.start(), range.end());
        read.fault(field, Reason::ValueInvalid, message);
    }
    found
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_backtest_that_says_nothing_is_monthly_over_a_year() {
        let asked = run_backtest(&v1::RunBacktestRequest::default()).unwrap();
        assert_eq!((asked.step_days, asked.horizon_days), (28, 365));
        assert_eq!((asked.first, asked.end, asked.brief), (None, None, false));
    }

    #[test]
    fn all_faults_of_a_backtest_come_at_once() {
        let request = v1::RunBacktestRequest {
            first: Some(v1::Date { year: 2026, month: 5, day: 2 }),
            end: Some(v1::Date { year: 2026, month: 5, day: 1 }),
            step_days: Some(0),
            horizon_days: Some(731),
            brief: false,
        };
        let refusal = run_backtest(&request).unwrap_err().faults.check().unwrap_err();
        let fields: Vec<_> = refusal.faults.iter().map(|fault| fault.field.to_string()).collect();
        assert_eq!(fields, ["first", "step_days", "horizon_days"]);
    }

    #[test]
    fn a_profile_needs_a_supplier_and_a_day_that_exists() {
        let request = v1::GetLeadTimeProfileRequest {
            as_of: Some(v1::Date { year: 2026, month: 2, day: 30 }),
            ..v1::GetLeadTimeProfileRequest::default()
        };
        let refusal = get_lead_time_profile(&request).unwrap_err().faults.check().unwrap_err();
        let fields: Vec<_> = refusal.faults.iter().map(|fault| fault.field.to_string()).collect();
        assert_eq!(fields, ["supplier", "as_of"]);
    }
}
