#![allow(missing_docs)]
#![allow(clippy::unwrap_used)]
//! The forecast of a build of 60 sources over the 730-day horizon, beside the bare product of the
//! same distribution functions and the making of the arrivals themselves.

use std::hint::black_box;

use baystart_core::{
    calendar::{Closures, DayAxis, HORIZON_DAYS, WorkCalendar, add_days},
    forecast::{CommonCause, Source, forecast, forecast_with, start_cdf},
    leadtime::{OpenSupply, Promise, arrival_cdf, on_axis},
};
use criterion::{Criterion, criterion_group, criterion_main};
use jiff::civil::{Date, date};

const AS_OF: Date = date(2026, 6, 1);
const SOURCES: u32 = 60;

/// Quotes of 3 to 120 days, ages of 0 to 80 days, every third promised, offsets of 0 to 14 days.
fn supply(k: u32) -> OpenSupply {
    let day = |n: u32| add_days(AS_OF, i64::from(n)).unwrap();
    let placed_on = add_days(AS_OF, -i64::from(k * 7 % 81)).unwrap();
    let promise =
        k.is_multiple_of(3).then(|| Promise { date: day(k * 11 % 90), known_on: placed_on });
    OpenSupply { placed_on, quoted_days: Some(3 + k * 37 % 118), promise, despatched_on: None }
}

fn sources(axis: &DayAxis, closures: &Closures) -> Vec<Source> {
    let mut sources = Vec::new();
    for k in 0..SOURCES {
        let law = arrival_cdf(&supply(k), AS_OF, closures, HORIZON_DAYS).unwrap();
        sources.push(Source::new(k * 5 % 15, Some(k % 20), on_axis(&law, axis)).unwrap());
    }
    sources
}

fn bench(criterion: &mut Criterion) {
    let mut closed = Vec::new();
    for year in [2026, 2027] {
        closed.push((date(year, 8, 3), date(year, 8, 21)));
        closed.push((date(year, 12, 24), date(year, 12, 31)));
    }
    let closures = Closures::new(closed).unwrap();
    let five_days = WorkCalendar::monday_to_friday();
    let seven_days = WorkCalendar::new([true; 7], five_days.closed().clone()).unwrap();
    for (name, calendar) in [("522_working_days", &five_days), ("731_working_days", &seven_days)] {
        let axis = DayAxis::new(calendar, AS_OF);
        let made = sources(&axis, &closures);
        let mut group = criterion.benchmark_group(format!("60_sources_{name}"));
        group.bench_function("forecast", |b| b.iter(|| forecast(black_box(&made), axis.len())));
        group
            .bench_function("bare_product", |b| b.iter(|| start_cdf(black_box(&made), axis.len())));
        for (name, one_group) in [("20_suppliers", false), ("one_supplier", true)] {
            let grouped: Vec<_> = (0_u32..)
                .zip(&made)
                .map(|(k, source)| {
                    let supplier = if one_group { 0 } else { k % 20 };
                    Source::new(source.offset_days(), Some(supplier), source.cdf().to_vec())
                        .unwrap()
                })
                .collect();
            let cause = CommonCause::new(0.15).unwrap();
            group.bench_function(format!("common_cause_{name}"), |b| {
                b.iter(|| forecast_with(black_box(&grouped), axis.len(), &cause));
            });
        }
        group.bench_function("make_arrivals", |b| b.iter(|| sources(black_box(&axis), &closures)));
        group.finish();
    }
}

/// The table of a correlation, made once for many forecasts.
fn table(criterion: &mut Criterion) {
    criterion
        .bench_function("common_cause_table", |b| b.iter(|| CommonCause::new(black_box(0.15))));
}

criterion_group!(benches, bench, table);
criterion_main!(benches);
