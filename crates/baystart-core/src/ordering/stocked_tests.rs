//! Reorder points by hand, and the service that they reach.
#![allow(clippy::unwrap_used, clippy::cast_precision_loss, clippy::indexing_slicing)]

use super::{StockBasis, StockPoint, daily_use, demand_in_lead_time, stock_rule};
use crate::book::PastUse;
use crate::book::model::StockPolicy;
use crate::calendar::WorkCalendar;
use crate::ids::PartId;
use crate::quantity::Quantity;
use jiff::civil::date;
use uuid::Uuid;

fn part() -> PartId {
    PartId(Uuid::from_u128(7))
}

fn policy(service_permille: u16, cover_days: u16, least: i64) -> StockPolicy {
    StockPolicy { service_permille, cover_days, least: Quantity::whole(least) }
}

fn exactly(days: usize) -> Vec<f64> {
    let mut lead = vec![0.0; days + 1];
    lead[days] = 1.0;
    lead
}

fn alternating(days: usize, high: i64) -> Vec<Quantity> {
    (0..days).map(|day| Quantity::whole(if day % 2 == 0 { high } else { 0 })).collect()
}

/// Every other day one is used, an order takes 4 days: the use of a lead time is binomial (4, 1/2), at
/// most 3 with chance 15/16 and at most 4 with chance 1. By hand.
#[test]
fn the_days_themselves_are_the_law() {
    let daily = alternating(100, 1);
    for (service, expected) in [(937, 3), (938, 4), (999, 4), (687, 2), (688, 3)] {
        let rule = stock_rule(part(), &policy(service, 30, 0), &daily, &exactly(4));
        assert_eq!(rule.basis, StockBasis::Days);
        assert_eq!((rule.days, rule.uses), (100, 50));
        let point = StockPoint {
            part: part(),
            reorder_at: Quantity::whole(expected),
            // Half a piece a day for 30 working days on top.
            order_up_to: Quantity::whole(expected + 15),
        };
        assert_eq!(rule.point, point, "{service}");
    }
    let least = stock_rule(part(), &policy(950, 30, 9), &daily, &exactly(4));
    assert_eq!(least.point.reorder_at, Quantity::whole(9));
}

/// Too short: mean 1, deviation 1 a day, exactly 9 days: 9 + 1.6449 x 3 = 13.93, in whole pieces 14.
/// By hand from the textbook's formula.
#[test]
fn a_short_history_is_taken_as_normal_and_none_as_the_least() {
    let rule = stock_rule(part(), &policy(950, 10, 0), &alternating(10, 2), &exactly(9));
    assert_eq!((rule.basis, rule.point.reorder_at), (StockBasis::Normal, Quantity::whole(14)));
    assert_eq!(rule.point.order_up_to, Quantity::whole(24));
    // Many days, few uses: just as short.
    let mut rare = vec![Quantity::ZERO; 200];
    rare[5] = Quantity::whole(1);
    assert_eq!(
        stock_rule(part(), &policy(950, 10, 0), &rare, &exactly(9)).basis,
        StockBasis::Normal
    );
    for (daily, lead) in [(Vec::new(), exactly(9)), (alternating(90, 1), Vec::new())] {
        let rule = stock_rule(part(), &policy(950, 10, 5), &daily, &lead);
        assert_eq!((rule.basis, rule.point.reorder_at), (StockBasis::Least, Quantity::whole(5)));
    }
}

#[test]
fn use_is_counted_by_working_day() {
    let calendar = WorkCalendar::new(
        [true, true, true, true, true, false, false],
        std::collections::BTreeSet::new(),
    )
    .unwrap();
    // Monday 14 September 2026; the first booking was on Saturday the 5th.
    let mut used = PastUse { since: Some(date(2026, 9, 5)), ..PastUse::default() };
    for (day, quantity) in [(7, 2), (9, 3), (12, 1), (13, 1)] {
        used.days.insert(date(2026, 9, day), Quantity::whole(quantity));
    }
    // More came back on Friday than was used.
    used.days.insert(date(2026, 9, 11), Quantity::whole(-4));
    let days = daily_use(&used, &calendar, date(2026, 9, 15));
    let whole: Vec<i64> = days.iter().map(|day| day.milli() / 1000).collect();
    // Monday to Friday, and Monday with what was used on the weekend.
    assert_eq!(whole, [2, 0, 3, 0, 0, 2]);
    assert!(daily_use(&PastUse::default(), &calendar, date(2026, 9, 15)).is_empty());
    used.since = Some(date(2020, 1, 1));
    assert_eq!(daily_use(&used, &calendar, date(2026, 9, 15)).len(), 250);
}

/// 4,000 lead times of a lumpy part, with days drawn from the same history and lead times from the same
/// law: the share in which stock at the point suffices is the one that the law says, and at least
/// the asked one (seeded; within three standard errors).
#[test]
fn the_asked_service_is_reached() {
    let daily: Vec<Quantity> =
        (0..120).map(|day| Quantity::whole([0, 0, 0, 4, 0, 1, 0, 0, 10, 0][day % 10])).collect();
    let lead = [0.0, 0.0, 0.1, 0.2, 0.3, 0.2, 0.1, 0.05, 0.05];
    let mut seed: u64 = 20_260_914;
    // Knuth's MMIX constants.
    let mut unit = move || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / (1_u64 << 53) as f64
    };
    for service in [800, 950, 990] {
        let rule = stock_rule(part(), &policy(service, 30, 0), &daily, &lead);
        let point = rule.point.reorder_at;
        let mut enough = 0_u32;
        for _ in 0..4_000 {
            let (mut left, mut days) = (unit(), 0);
            while days + 1 < lead.len() && left >= lead[days] {
                left -= lead[days];
                days += 1;
            }
            let mut use_ = Quantity::ZERO;
            for _ in 0..days {
                use_ += daily[(unit() * 120.0) as usize];
            }
            enough += u32::from(use_ <= point);
        }
        let (cdf, step) = demand_in_lead_time(&daily, &lead).unwrap();
        let at = usize::try_from(point.milli() / step.milli()).unwrap();
        let said = cdf[at.min(cdf.len() - 1)];
        let kept = f64::from(enough) / 4_000.0;
        let error = (said * (1.0 - said) / 4_000.0).sqrt();
        assert!((kept - said).abs() < 3.0 * error, "{service}: {kept} of {said}");
        assert!(said >= f64::from(service) / 1000.0 - 1e-9, "{service}: {said}");
    }
}
