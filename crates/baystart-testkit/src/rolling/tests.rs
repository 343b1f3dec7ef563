#![allow(clippy::unwrap_used)]
use super::figures::between;
use super::*;
use baystart_core::book::Book;
use baystart_core::book::model::NEWS_DEFAULT;
use baystart_core::invariants;

const SPAN: Span = Span { fill_days: 0, days: 30 };

fn policy(way: Way, ordering: Ordering) -> Policy {
    Policy {
        name: String::new(),
        way,
        ordering,
        calls: 3,
        news: NEWS_DEFAULT,
        alone: false,
        to_come: true,
    }
}

fn ways() -> [Policy; 2] {
    [
        policy(Way::Forecast, Ordering::Suggested(0.8)),
        policy(Way::LongestQuote, Ordering::AtAcceptance),
    ]
}

/// Every week the whole book keeps every rule, ledger included. The same seed says the same again, without a
/// ledger; and both policies are asked for the same builds on the same days.
#[test]
fn a_seed_plays_through_and_says_the_same_twice() {
    let mut asked = Vec::new();
    for policy in ways() {
        let mut weeks = 0;
        let mut check = |book: &Book| {
            weeks += 1;
            assert_eq!(invariants::check(book), []);
        };
        let first = play(3, Assumed::default(), &policy, SPAN, Some(&mut check)).unwrap();
        assert!(weeks > 10 && !first.builds.is_empty(), "{weeks} {first:?}");
        let again = play(3, Assumed::default(), &policy, SPAN, None).unwrap();
        assert_eq!(first, again);
        asked.push((
            first.builds.iter().map(|row| row.build).collect::<Vec<_>>(),
            first.bay_days[0],
        ));
    }
    assert_eq!(asked.first(), asked.last());
}

#[test]
fn another_seed_says_something_else() {
    let [_, policy] = ways();
    let [one, other] =
        [3, 4].map(|seed| play(seed, Assumed::default(), &policy, SPAN, None).unwrap());
    assert_ne!(one, other);
}

/// Ordered and started as the promise takes it for granted: all at once, and on the booked day. (Ordered line by
/// line at 80 %, or started only when a stall is unlikely, the shop waits for parts that it does not know to be
/// punctual, and misses some promises even here; see crates/baystart-testkit/README.md.)
#[test]
fn where_everything_takes_its_quote_every_promise_by_forecast_is_kept() {
    let policy = policy(Way::ForecastBooked, Ordering::NextOrderingDay);
    let outcome = play(2, Assumed::exact(), &policy, Span { days: 60, ..SPAN }, None).unwrap();
    assert!(outcome.builds.len() > 1, "{outcome:?}");
    for build in &outcome.builds {
        assert!(build.promise().kept && build.parts_in_time, "{build:?}");
    }
}

/// By hand: seeds {1, 0, 1} and {0, 0} have mean 2/5; residual sums 2 - 3 x .4 = .8 and 0 - 2 x .4 = -.8;
/// standard error sqrt(2/1 x (.64 + .64)) / 5 = .32. Abramowitz and Stegun, table 26.10: t(.975) is 2.262 for
/// 9, 2.086 for 20 and 1.960 for no end of degrees of freedom.
#[test]
fn the_interval_by_hand() {
    let found = between(vec![vec![1.0, 0.0, 1.0], vec![0.0, 0.0]]);
    assert!((found.mean - 0.4).abs() < 1e-12 && found.builds == 5);
    assert!((found.half / t_quantile(0.975, 1.0) - 0.32).abs() < 1e-12);
    for (freedom, t) in [(9.0, 2.262), (20.0, 2.086), (1e9, 1.960)] {
        assert!((t_quantile(0.975, freedom) - t).abs() < 1e-3, "{freedom}");
    }
    assert!(between(vec![vec![1.0, 2.0]]).half.is_nan());
}
