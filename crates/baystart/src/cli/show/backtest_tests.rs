use super::*;
use v1::backtest_row::Slice;

fn figure(value: f64, error: f64) -> Option<v1::BacktestFigure> {
    Some(v1::BacktestFigure { value, standard_error: Some(error) })
}

fn scores(hit: [f64; 3], stated: [f64; 3], error: f64) -> Option<v1::BacktestScores> {
    let mut levels = Vec::new();
    for ((level, hit), stated) in [0.5, 0.8, 0.9].into_iter().zip(hit).zip(stated) {
        levels.push(v1::BacktestLevel {
            level,
            hit: figure(hit, error),
            stated: figure(stated, 0.001),
            gap: figure(hit - stated, error),
            pinball: figure(3.42, 0.21),
        });
    }
    Some(v1::BacktestScores {
        forecasts: 310,
        levels,
        crps: figure(5.25, 0.4),
        interval: figure(20.0, 2.0),
        pit: vec![0.08, 0.11, 0.1, 0.09, 0.12, 0.1, 0.0, 0.09, 0.1, 0.21],
    })
}

fn row(
    method: v1::BacktestMethod,
    slice: Slice,
    scores: Option<v1::BacktestScores>,
) -> v1::BacktestRow {
    v1::BacktestRow { method: method.into(), slice: Some(slice), scores }
}

fn report() -> v1::BacktestReport {
    let good = || scores([0.51, 0.81, 0.9], [0.52, 0.805, 0.903], 0.021);
    let hopeful = scores([0.3, 0.6, 0.7], [0.52, 0.805, 0.903], 0.03);
    let mut few = good();
    if let Some(level) = few.as_mut().and_then(|few| few.levels.get_mut(1)) {
        level.gap = Some(v1::BacktestFigure { value: 0.1, standard_error: None });
    }
    let band = |from_days, to_days| Slice::AgeBand(v1::BacktestAgeBand { from_days, to_days });
    let supplier = |code: &str| Slice::SupplierCode(code.to_owned());
    let learned = v1::BacktestMethod::Learned;
    v1::BacktestReport {
        first: Some(v1::Date { year: 2025, month: 1, day: 6 }),
        last: Some(v1::Date { year: 2026, month: 3, day: 16 }),
        horizon_days: 180,
        step_days: 28,
        lines: 420,
        kept: Some(v1::BacktestKept {
            orders: 214,
            by_50: 110,
            by_80: 171,
            by_90: 190,
            said_50: 109.4,
            said_80: 172.4,
            said_90: 193.2,
        }),
        rows: vec![
            row(learned, Slice::All(true), good()),
            row(learned, band(0, Some(6)), good()),
            row(learned, band(90, None), hopeful.clone()),
            row(learned, supplier("STRATH"), few),
            row(learned, supplier("CORRIE"), hopeful.clone()),
            row(v1::BacktestMethod::CompletedOnly, Slice::All(true), hopeful.clone()),
        ],
        builds: vec![v1::BacktestBuildRow {
            orders: 20,
            with_common_cause: good(),
            independent: hopeful,
        }],
        cancelled: 8,
        unresolved: 3,
        correlation: 0.15,
        correlation_suggested: Some(0.213),
        ..Default::default()
    }
}

#[test]
fn a_report_from_the_plain_sentence_down() {
    let expected = "\
Of 214 past orders, 171 (80 %) came by the 80 % date; it was said of them that 172 would.
At 50 %: 110 came, 109 were said to. At 90 %: 190 came, 193 were said to.
Each order once, on the first forecast day that found it open: every 28 days from Mon 2025-01-06 to Mon 2026-03-16,
with what was on record on that day. Arrivals within 180 days count.

By the age of the order. came: how often in 100 it was here by the date given at that level, with
its standard error; said: how often that date was said to hold. The two should be alike.
order's age       forecasts  50 %: came  said  80 %: came  said  90 %: came  said  dates
----------------------------------------------------------------------------------------------
all                     310      51 ± 2    52      81 ± 2    80      90 ± 2    90  hold
up to 6 days            310      51 ± 2    52      81 ± 2    80      90 ± 2    90  hold
90 days and more        310      30 ± 3    52      60 ± 3    80      70 ± 3    90  too hopeful

In days, less is better. 80 % date cost: each day late costs 0.8, each day waited for nothing 0.2;
whole forecast off: the continuous ranked probability score (CRPS).
order's age       80 % date cost  whole forecast off
----------------------------------------------------
all                    3.4 ± 0.2           5.2 ± 0.4
up to 6 days           3.4 ± 0.2           5.2 ± 0.4
90 days and more       3.4 ± 0.2           5.2 ± 0.4

By supplier. hold: what came and what was said differ by no more than chance would make them.
supplier  forecasts  80 %: came  said  80 % date cost  whole forecast off  dates
-----------------------------------------------------------------------------------------
CORRIE          310      60 ± 3    80       3.4 ± 0.2           5.2 ± 0.4  too hopeful
STRATH          310      81 ± 2    80       3.4 ± 0.2           5.2 ± 0.4  too few to say

Beside simpler ways to give a date. Traps: of the orders that are complete the quick ones came
first, so dates learned from them alone tend to be too early; and a bare date says that it is certain.
date given by                     forecasts  80 %: came  said  80 % date cost  whole forecast off
-------------------------------------------------------------------------------------------------
this program                            310      81 ± 2    80       3.4 ± 0.2           5.2 ± 0.4
trap: from completed orders only        310      60 ± 3    80       3.4 ± 0.2           5.2 ± 0.4

Where in its own forecast each order came, ten steps from the soonest to the latest:
  ▃▄▄▄▅▄ ▄▄█   8 11 10 9 12 10 0 9 10 21 %
Level, 10 % a step, is right. High on the right: dates too hopeful; on the left: too careful;
at both ends: too sure of themselves.

Builds that wait for the last of so many open orders. Orders of one supplier are late together;
the right half is what came of it if every order were late for itself.
open orders  builds  80 %: came  said  dates  if independent: came  said  dates
-------------------------------------------------------------------------------------
20              310      81 ± 2    80  hold                 60 ± 3    80  too hopeful
Delays within a supplier: forecast with a correlation of 0.15; this past suggests 0.21.
next: baystart shop set --correlation 0.21

Forecasts not judged: 8 were cancelled later, 3 have no known outcome.
";
    assert_eq!(text(Console::default(), &report()), expected);
}

#[test]
fn a_brief_report_has_neither_builds_nor_simpler_methods() {
    let mut brief = report();
    brief.builds.clear();
    brief.rows.retain(|row| row.method() == v1::BacktestMethod::Learned);
    let shown = text(Console::default(), &brief);
    assert!(!shown.contains("trap") && !shown.contains("correlation"), "{shown}");
    assert!(shown.contains("By supplier") && shown.contains("Level, 10 %"), "{shown}");
}

#[test]
fn a_correlation_that_fits_is_left_alone() {
    let with = |suggested| v1::BacktestReport { correlation_suggested: suggested, ..report() };
    assert!(correlation(&with(Some(0.154))).contains("0.15, fits"));
    assert!(correlation(&with(None)).contains("too few orders"));
}

#[test]
fn a_short_past_says_so() {
    for short in [
        v1::BacktestReport { lines: 3, horizon_days: 365, ..Default::default() },
        v1::BacktestReport { kept: None, lines: 3, horizon_days: 365, ..report() },
    ] {
        let shown = text(Console::default(), &short);
        assert!(shown.starts_with("The past is too short to judge by: 3 order lines"), "{shown}");
        assert!(shown.contains("365 days back") && shown.contains("import history"), "{shown}");
    }
}

#[test]
fn few_forecasts_and_lucky_ones_are_not_judged_harshly() {
    let verdict = |forecasts, hit: f64, error| {
        let mut found = scores([hit; 3], [0.805; 3], error).unwrap_or_default();
        found.forecasts = forecasts;
        tables::verdict(&found)
    };
    assert_eq!(verdict(2, 0.0, 0.0), "too few to say");
    assert_eq!(verdict(12, 1.0, 0.0), "hold");
    assert_eq!(verdict(300, 1.0, 0.0), "too careful");
    assert_eq!(verdict(300, 0.7, 0.03), "too hopeful");
}
