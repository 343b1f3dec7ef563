//! Reorder points by hand, and the service that they reach.
#![allow(clippy::unwrap_used, clippy::cast_precision_loss, clippy::indexing_slicing)]

use super::{StockBasis, StockPoint, daily_use, reorder_point_reviewed, stock_rule};
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
/// most 3 with chance 15/16 and at most 4 with chance 1. It is ordered *below* the point, which is
/// then passed by exactly one piece, so the point lies one higher. By hand.
#[test]
fn the_days_themselves_are_the_law() {
    let daily = alternating(100, 1);
    for (service, expected) in [(937, 4), (938, 5), (999, 5), (687, 3), (688, 4)] {
        let rule = stock_rule(part(), &policy(service, 30, 0), &daily, &exactly(4), 1);
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
    let least = stock_rule(part(), &policy(950, 30, 9), &daily, &exactly(4), 1);
    assert_eq!(least.point.reorder_at, Quantity::whole(9));
}

/// Too short: mean 1, deviation 1 a day, exactly 9 days, and always 2 below the point when it is
/// ordered: 9 + 2 + 1.6449 x 3 = 15.93, in whole pieces 16.
/// By hand from the textbook's formula.
#[test]
fn a_short_history_is_taken_as_normal_and_none_as_the_least() {
    let rule = stock_rule(part(), &policy(950, 10, 0), &alternating(10, 2), &exactly(9), 1);
    assert_eq!((rule.basis, rule.point.reorder_at), (StockBasis::Normal, Quantity::whole(16)));
    assert_eq!(rule.point.order_up_to, Quantity::whole(26));
    // Many days, few uses: just as short.
    let mut rare = vec![Quantity::ZERO; 200];
    rare[5] = Quantity::whole(1);
    assert_eq!(
        stock_rule(part(), &policy(950, 10, 0), &rare, &exactly(9), 1).basis,
        StockBasis::Normal
    );
    for (daily, lead) in [(Vec::new(), exactly(9)), (alternating(90, 1), Vec::new())] {
        let rule = stock_rule(part(), &policy(950, 10, 5), &daily, &lead, 1);
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

/// Knuth's MMIX constants; in [0, 1).
fn unit(seed: &mut u64) -> f64 {
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (*seed >> 11) as f64 / (1_u64 << 53) as f64
}

fn drawn(seed: &mut u64, law: &[f64]) -> usize {
    let mut left = unit(seed);
    for (at, chance) in law.iter().enumerate() {
        if left < *chance {
            return at;
        }
        left -= chance;
    }
    law.len() - 1
}

/// 1 or 3 a day with even chances, an order takes a day. Stock is found 1, 2, 3 below the level with
/// chances 1/2, 1/4, 1/4; with the day's use that makes 2 to 6 with 2, 1, 3, 1, 1 eighths. By hand.
#[test]
fn what_passes_the_level_counts() {
    let daily = [Quantity::whole(1), Quantity::whole(3)];
    for (service, point) in [(0.25, 2), (0.3, 3), (0.4, 4), (0.75, 4), (0.8, 5), (0.9, 6)] {
        let found = reorder_point_reviewed(&daily, &exactly(1), 1, service).unwrap();
        assert_eq!(found, Quantity::whole(point), "{service}");
    }
    // Always 1 a day, looked at every 5 days: found 1 to 5 below, each with a fifth.
    let one = [Quantity::whole(1)];
    for (service, point) in [(0.2, 4), (0.4, 5), (0.8, 7), (0.81, 8)] {
        let found = reorder_point_reviewed(&one, &exactly(3), 5, service).unwrap();
        assert_eq!(found, Quantity::whole(point), "{service}");
    }
}

const CYCLES: u32 = 10_000;

/// Share of orders that came before stock ran out, with the policy itself and seeded draws: on every
/// `review`-th morning what is below the point is ordered up to the level; then days are used. Since an
/// order brings the position to the level whatever is still to come, its cycle is looked at by itself.
fn kept(point: StockPoint, daily: &[Quantity], lead: &[f64], review: usize) -> f64 {
    let mut seed: u64 = 20_260_914;
    let mut position = point.order_up_to;
    let (mut good, mut cycles) = (0_u32, 0_u32);
    while cycles < CYCLES {
        for _ in 0..review {
            position -= daily[(unit(&mut seed) * daily.len() as f64) as usize];
        }
        if position >= point.reorder_at {
            continue;
        }
        for _ in 0..drawn(&mut seed, lead) {
            position -= daily[(unit(&mut seed) * daily.len() as f64) as usize];
        }
        good += u32::from(position >= Quantity::ZERO);
        cycles += 1;
        position = point.order_up_to;
    }
    f64::from(good) / f64::from(CYCLES)
}

/// The point is the least at which the asked service is reached: within three standard errors it is
/// there, and one piece lower it is not. Looked at daily and weekly; orders of 30 days of use.
#[test]
fn the_policy_reaches_the_asked_service_and_no_lower_point_does() {
    let lead = [0.0, 0.0, 0.1, 0.2, 0.3, 0.2, 0.1, 0.05, 0.05];
    let lumpy: Vec<Quantity> =
        (0..120).map(|day| Quantity::whole([0, 0, 0, 4, 0, 1, 0, 0, 10, 0][day % 10])).collect();
    for daily in [alternating(100, 1), lumpy] {
        for review in [1, 5] {
            for permille in [800, 950, 990] {
                let asked = f64::from(permille) / 1000.0;
                let error = (asked * (1.0 - asked) / f64::from(CYCLES)).sqrt();
                let rule = stock_rule(part(), &policy(permille, 30, 0), &daily, &lead, review);
                let point = rule.point;
                let found = kept(point, &daily, &lead, review);
                assert!(found > asked - 3.0 * error, "{review} {point:?}: {found} of {asked}");
                let lower =
                    StockPoint { reorder_at: point.reorder_at - Quantity::whole(1), ..point };
                let less = kept(lower, &daily, &lead, review);
                assert!(less < asked + 3.0 * error, "{review} {lower:?}: {less} of {asked}");
            }
        }
    }
}
