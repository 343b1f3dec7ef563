//! Lead-time profiles and stale orders.

use super::date;
use crate::v1;
use baystart_core::leadtime::ArrivalLaw;
use baystart_core::leadtime::learn::{Evidence, Profile, Reach, StaleLine};
use jiff::civil::Date;

/// Smaller steps of a chance are left out of a distribution.
const STEP_MIN: f64 = 1e-6;
/// Tolerance of "reaches p": a product of many factors may end a rounding error below it.
const TOLERANCE: f64 = 1e-12;

/// Whose profile it is.
#[derive(Clone, Debug, Default)]
pub struct ProfileOf {
    /// The supplier's code.
    pub supplier_code: String,
    /// The supplier's name.
    pub supplier_name: String,
    /// Empty: all that the supplier was ever ordered.
    pub part_number: String,
    /// Empty where the part is not in the catalogue.
    pub part_description: String,
}

/// A count as the wire has it.
pub(super) fn count(count: usize) -> i32 {
    i32::try_from(count).unwrap_or(i32::MAX)
}

/// A profile without its forecast; `with_curve`: with its distribution.
#[must_use]
pub fn lead_time_profile(
    of: ProfileOf,
    as_of: Date,
    profile: &Profile,
    with_curve: bool,
) -> v1::LeadTimeProfile {
    let came = profile.survival.iter().map(|(waiting, _)| 1.0 - waiting);
    v1::LeadTimeProfile {
        supplier_code: of.supplier_code,
        supplier_name: of.supplier_name,
        part_number: of.part_number,
        part_description: of.part_description,
        as_of: Some(date(as_of)),
        all: Some(reach(&profile.all)),
        last_year: Some(reach(&profile.last_year)),
        before: Some(reach(&profile.before)),
        orders_open: count(profile.open),
        orders_stale: count(profile.stale),
        orders_received: count(profile.received),
        orders_cancelled_by_us: count(profile.withdrawn),
        orders_failed: count(profile.failures),
        orders_rejected: count(profile.rejected),
        orders_on_time: count(profile.on_time),
        orders_promised: count(profile.promised),
        slip_days_50: profile.slip_days_50.map(|days| i32::try_from(days).unwrap_or(i32::MAX)),
        came: if with_curve { steps(came) } else { Vec::new() },
        forecast: None,
        drifting: false,
    }
}

fn reach(reach: &Reach) -> v1::LeadTimeReach {
    v1::LeadTimeReach {
        orders: count(reach.orders),
        days_50: reach.days_50.map(count),
        days_80: reach.days_80.map(count),
        days_95: reach.days_95.map(count),
    }
}

/// What an order placed on the as-of date would take; without a law there is no
/// date.
#[must_use]
pub fn lead_time_forecast(
    quoted_days: Option<u32>,
    law: Option<&ArrivalLaw>,
    evidence: &Evidence,
    with_curve: bool,
) -> v1::LeadTimeForecast {
    let cdf = law.map_or(&[][..], ArrivalLaw::cdf);
    let within = |p: f64| cdf.iter().position(|arrived| *arrived >= p - TOLERANCE).map(count);
    v1::LeadTimeForecast {
        quoted_days: quoted_days.map(|days| i32::try_from(days).unwrap_or(i32::MAX)),
        days_50: within(0.5),
        days_80: within(0.8),
        days_95: within(0.95),
        evidence: Some(v1::LeadTimeEvidence {
            offer_orders: evidence.offer_orders,
            supplier_orders: evidence.supplier_orders,
            shop_orders: evidence.shop_orders,
            offer_share: evidence.offer_share,
            supplier_share: evidence.supplier_share,
            shop_share: evidence.shop_share,
            default_share: evidence.default_share,
        }),
        distribution: if with_curve { steps(cdf.iter().copied()) } else { Vec::new() },
        ..v1::LeadTimeForecast::default()
    }
}

/// The days on which a distribution function rises.
fn steps(cdf: impl Iterator<Item = f64>) -> Vec<v1::LeadTimePoint> {
    let mut points = Vec::new();
    let mut before = 0.0;
    for (days, probability) in (0..).zip(cdf) {
        if probability - before >= STEP_MIN {
            points.push(v1::LeadTimePoint { days, probability });
            before = probability;
        }
    }
    points
}

/// What people call an order line without news.
#[derive(Clone, Debug, Default)]
pub struct StaleOf {
    /// The supplier's code.
    pub supplier_code: String,
    /// The order's number.
    pub order_number: String,
    /// The line's number; 0: none.
    pub line: i32,
    /// The part's number.
    pub part_number: String,
    /// From an imported history.
    pub imported: bool,
}

/// An open order line without news, placed on a day.
#[must_use]
pub fn stale_order(of: StaleOf, placed_on: Date, line: &StaleLine) -> v1::StaleOrder {
    v1::StaleOrder {
        supplier_code: of.supplier_code,
        order_number: of.order_number,
        order_line_number: of.line,
        part_number: of.part_number,
        placed_on: Some(date(placed_on)),
        last_news_on: Some(date(line.last_news_on)),
        expected_on: Some(date(line.expected_on)),
        silent_days: i32::try_from(line.silent_days).unwrap_or(i32::MAX),
        imported: of.imported,
    }
}
