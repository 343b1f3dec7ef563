#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use jiff::civil::{Date, date};
use proptest::prelude::*;

use super::*;
use crate::calendar::{Closures, DayAxis, HORIZON_DAYS, WorkCalendar, add_days};

const AS_OF: Date = date(2026, 6, 1);

fn quoted(placed_on: Date, days: u32) -> OpenSupply {
    OpenSupply { placed_on, quoted_days: Some(days), promise: None, despatched_on: None }
}

fn arrival(supply: &OpenSupply) -> ArrivalLaw {
    arrival_cdf(supply, AS_OF, &Closures::none(), HORIZON_DAYS).unwrap()
}

fn close(found: f64, wanted: f64) -> bool {
    (found - wanted).abs() < 1e-12
}

/// Source: run with scipy 1.17.1, `fisk(4, scale=14).cdf(t + 0.5)`.
#[test]
fn the_quote_is_the_median_of_a_log_logistic_law() {
    let cdf = DayLaw::log_logistic(14, 4).conditional(0, 101);
    let wanted = [
        (0, 1.626_923_633_831_551_2e-6),
        (7, 0.076_095_664_839_368_62),
        (13, 0.463_696_353_799_024),
        (14, 0.535_033_817_799_184_1),
        (19, 0.790_083_456_934_657_5),
        (20, 0.821_342_587_250_324_5),
        (29, 0.951_723_595_719_358_6),
        (100, 0.999_623_569_865_069_8),
    ];
    for (day, value) in wanted {
        assert!(close(cdf[day], value), "day {day}: {} against {value}", cdf[day]);
    }
}

/// Source: run with scipy 1.17.1, `1 - sf(t + 0.5) / sf(29.5)` of `fisk(4, scale=14)`.
#[test]
fn an_old_order_is_conditioned_on_its_age() {
    let given_thirty_days = DayLaw::log_logistic(14, 4).conditional(30, 31);
    for (day, value) in [
        (30, 0.119_531_161_342_514_96),
        (40, 0.708_391_766_938_544_6),
        (60, 0.940_774_026_525_876_6),
    ] {
        assert!(close(given_thirty_days[day - 30], value), "day {day}");
    }
}

#[test]
fn a_quote_of_no_days_has_its_median_on_the_day_itself() {
    let law = arrival(&quoted(AS_OF, 0));
    assert!(close(law.cdf()[0], 0.5));
    assert_eq!(law.quantile(0.5), Some(AS_OF));
    assert_eq!(law.quantile(0.8), add_days(AS_OF, 1));
}

#[test]
fn hazards_that_make_no_law_are_refused() {
    let refused = DayLaw::from_hazards(vec![0.1, 1.5], 0.1).unwrap_err();
    assert!(refused.to_string().contains("day 1 is 1.5"));
    assert!(DayLaw::from_hazards(vec![f64::NAN], 0.1).is_err());
    assert_eq!(DayLaw::from_hazards(vec![0.1], 0.0), Err(LawError::EndlessTail));
    assert_eq!(DayLaw::from_hazards(vec![], 1.0).unwrap().conditional(900, 1), vec![1.0]);
}

#[test]
fn an_order_far_older_than_its_quote_still_has_a_date() {
    let law = arrival(&quoted(date(2016, 6, 1), 7));
    assert!(law.cdf()[0] > 0.0 && law.cdf()[0] < 0.01, "not yesterday, and today is unlikely");
    let no_date = 1.0 - law.cdf().last().unwrap();
    assert!(no_date > 0.0 && no_date < 0.2, "{no_date}");
    assert!(law.quantile(0.5).is_some());
}

#[test]
fn a_promise_is_the_median_of_its_law() {
    let promise = Promise { date: date(2026, 6, 11), known_on: AS_OF };
    let supply = OpenSupply { promise: Some(promise), ..quoted(date(2026, 5, 1), 90) };
    let law = arrival(&supply);
    assert_eq!(law.quantile(0.5), Some(date(2026, 6, 11)));
    // Source: run with scipy 1.17.1, 1 - sf(c + 7.5) / sf(6.5) of fisk(8, scale=17), c from 1 June.
    let wanted = [
        (3, 0.020_293_259_727_231_06),
        (9, 0.440_320_711_901_046_16),
        (10, 0.557_514_619_238_655_1),
        (17, 0.948_981_304_646_943_2),
    ];
    for (c, value) in wanted {
        assert!(close(law.cdf()[c], value), "{c}: {} against {value}", law.cdf()[c]);
    }
}

#[test]
fn a_broken_promise_forecasts_today_at_the_earliest() {
    let promise = Promise { date: date(2026, 4, 10), known_on: date(2026, 3, 1) };
    let supply = OpenSupply { promise: Some(promise), ..quoted(date(2026, 2, 1), 20) };
    let law = arrival(&supply);
    let days_late = law.cdf().partition_point(|arrived| *arrived < 0.5);
    assert!((1..30).contains(&days_late), "{days_late}");
    assert!(law.arrived_by(date(2026, 5, 31)) == 0.0);
}

#[test]
fn news_is_taken_in_the_order_promise_despatch_quote() {
    let quote = quoted(date(2026, 5, 1), 90);
    let promise = Promise { date: date(2026, 6, 20), known_on: date(2026, 5, 4) };
    let left = Some(date(2026, 5, 30));
    let promised = OpenSupply { promise: Some(promise), ..quote };
    let on_its_way = OpenSupply { despatched_on: left, ..quote };
    let both = OpenSupply { despatched_on: left, ..promised };
    assert_eq!(arrival(&both), arrival(&promised), "a promise ahead stays in force");
    assert!(arrival(&on_its_way).quantile(0.8) < arrival(&promised).quantile(0.2));

    let overdue = Promise { date: date(2026, 5, 20), known_on: date(2026, 5, 4) };
    let overdue = OpenSupply { promise: Some(overdue), ..on_its_way };
    assert_eq!(arrival(&overdue), arrival(&on_its_way), "a passed promise says nothing of transit");

    let given_at_despatch = Promise { date: date(2026, 5, 29), known_on: date(2026, 5, 31) };
    let corrected = OpenSupply { promise: Some(given_at_despatch), ..on_its_way };
    assert_ne!(arrival(&corrected), arrival(&on_its_way), "newer than the despatch");
}

#[test]
fn facts_after_the_as_of_date_are_not_known_yet() {
    let quote = quoted(date(2026, 5, 1), 90);
    let promise = Promise { date: date(2026, 6, 20), known_on: date(2026, 6, 2) };
    let later =
        OpenSupply { promise: Some(promise), despatched_on: Some(date(2026, 6, 3)), ..quote };
    assert_eq!(arrival(&later), arrival(&quote));
}

#[test]
fn a_supply_without_any_news_has_no_date() {
    let supply = OpenSupply { quoted_days: None, ..quoted(AS_OF, 1) };
    assert_eq!(arrival_cdf(&supply, AS_OF, &Closures::none(), 10), None);
    assert_eq!(not_ordered(AS_OF, None, AS_OF, &Closures::none(), 10), None);
}

#[test]
fn a_shortage_waits_for_its_ordering_day() {
    let law = not_ordered(date(2026, 6, 5), Some(10), AS_OF, &Closures::none(), 60).unwrap();
    assert!(law.arrived_by(date(2026, 6, 4)) == 0.0);
    assert!(law.arrived_by(date(2026, 6, 5)) > 0.0);
    assert_eq!(law.quantile(0.5), Some(date(2026, 6, 15)));
    let past = not_ordered(date(2026, 5, 1), Some(10), AS_OF, &Closures::none(), 60).unwrap();
    assert_eq!(past.quantile(0.5), Some(date(2026, 6, 11)));
}

#[test]
fn closed_days_of_the_supplier_do_not_count() {
    let closures = Closures::new([(date(2026, 6, 8), date(2026, 6, 21))]).unwrap();
    let law = arrival_cdf(&quoted(AS_OF, 10), AS_OF, &closures, 60).unwrap();
    assert_eq!(law.quantile(0.5), Some(date(2026, 6, 25)));
    assert_eq!(law.arrived_by(date(2026, 6, 7)), law.arrived_by(date(2026, 6, 21)));
    let inside = arrival_cdf(&quoted(AS_OF, 10), date(2026, 6, 10), &closures, 60).unwrap();
    assert!(
        inside.arrived_by(date(2026, 6, 21)) == 0.0 && inside.arrived_by(date(2026, 6, 22)) > 0.0
    );
    let placed_inside = arrival_cdf(&quoted(date(2026, 6, 10), 0), AS_OF, &closures, 60).unwrap();
    assert_eq!(placed_inside.quantile(0.01), Some(date(2026, 6, 22)));
    let promise = Promise { date: date(2026, 6, 12), known_on: AS_OF };
    let promised = OpenSupply { promise: Some(promise), ..quoted(AS_OF, 10) };
    let law = arrival_cdf(&promised, AS_OF, &closures, 60).unwrap();
    assert_eq!(law.quantile(0.5), Some(date(2026, 6, 22)), "promised inside the closure");
}

#[test]
fn arrivals_on_closed_days_of_the_shop_count_on_the_next_working_day() {
    let axis = DayAxis::with_horizon(&WorkCalendar::monday_to_friday(), AS_OF, 11);
    let saturday = ArrivalLaw::on_date(date(2026, 6, 6), AS_OF, 11);
    assert_eq!(on_axis(&saturday, &axis), [0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0]);
    let past = ArrivalLaw::on_date(date(2026, 5, 1), AS_OF, 11);
    assert!(on_axis(&past, &axis).iter().all(|arrived| *arrived == 1.0));
    let beyond = ArrivalLaw::on_date(date(2026, 6, 13), AS_OF, 11);
    assert!(on_axis(&beyond, &axis).iter().all(|arrived| *arrived == 0.0));
    let long = arrival_cdf(&quoted(AS_OF, 12), AS_OF, &Closures::none(), 11).unwrap();
    assert!(*on_axis(&long, &axis).last().unwrap() < 0.5, "mass past the horizon has no date");
}

proptest! {
    #[test]
    fn an_arrival_is_a_distribution_that_never_speaks_of_yesterday(
        placed_days_ago in -100_i64..6_000,
        quoted_days in prop::option::of(0_u32..4_000),
        promise in prop::option::of((-400_i64..400, 0_i64..400)),
        despatched_days_ago in prop::option::of(0_i64..400),
        closed in prop::collection::vec((-400_i64..400, 0_i64..30), 0..5),
    ) {
        let day = |n: i64| add_days(AS_OF, n).unwrap();
        let closures = Closures::new(closed.iter().map(|(first, n)| (day(*first), day(first + n)))).unwrap();
        let supply = OpenSupply {
            placed_on: day(-placed_days_ago),
            quoted_days,
            promise: promise.map(|(date, ago)| Promise { date: day(date), known_on: day(-ago) }),
            despatched_on: despatched_days_ago.map(|ago| day(-ago)),
        };
        let Some(law) = arrival_cdf(&supply, AS_OF, &closures, HORIZON_DAYS) else {
            prop_assert!(quoted_days.is_none() && promise.is_none() && despatched_days_ago.is_none());
            return Ok(());
        };
        prop_assert_eq!(law.cdf().len(), 731);
        prop_assert!(law.arrived_by(day(-1)) == 0.0);
        let mut before = 0.0;
        for arrived in law.cdf() {
            prop_assert!(*arrived >= before && *arrived <= 1.0);
            before = *arrived;
        }
        let known = quoted_days.is_some_and(|q| q < 300 && placed_days_ago >= 0) || despatched_days_ago.is_some();
        if known && promise.is_none() {
            prop_assert!(before > 0.5, "a known supply has a date within two years: {}", before);
        }
    }

    /// A later ask, with nothing come: the same law, conditioned. Checked as a ratio of tails, which
    /// is exact enough while the tails are large.
    #[test]
    fn conditioning_twice_is_conditioning_once(age in 0_usize..40, more in 1_usize..20, m in 0_u32..40) {
        let law = DayLaw::log_logistic(m, 4);
        let once = law.conditional(age + more, 50);
        let first = law.conditional(age, more + 50);
        for (step, arrived) in once.iter().enumerate() {
            let ratio = (1.0 - first[more + step]) / (1.0 - first[more - 1]);
            prop_assert!((1.0 - arrived - ratio).abs() < 1e-9);
        }
    }
}

/// Quotes of 10, 30 and 20 days in the order of placing, and an order without one: the last quote is
/// 20, whatever the order of the lines, and the median 20.
#[test]
fn quotes_of_past_orders() {
    use super::history::{Fact, History, PastLine};
    let line = |day: i8, quoted_days| PastLine {
        supplier: 3,
        offer: 7,
        order: None,
        quoted_days,
        placed: Fact { on: date(2026, 3, day), recorded_on: date(2026, 3, day) },
        taken_over_on: None,
        rejected: false,
        promises: Vec::new(),
        despatched: None,
        completed: None,
        cancelled: None,
        contacts: Vec::new(),
    };
    let lines = vec![line(9, Some(20)), line(2, Some(10)), line(5, Some(30)), line(12, None)];
    let history = History { lines, ..History::default() };
    assert_eq!(history.last_quotes(), [(7, 20)].into());
    assert_eq!(history.median_quotes(|line| Some(line.supplier)), [(3, 20)].into());
    assert!(history.median_quotes(|_| None::<u32>).is_empty());
}
