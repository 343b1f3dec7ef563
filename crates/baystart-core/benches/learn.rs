#![allow(missing_docs)]
#![allow(clippy::unwrap_used)]
//! Learning: the fit of a million observations, laws from a hundred thousand order lines, one new
//! receipt, and the arrivals of 60 sources under learned laws.

use std::hint::black_box;

use baystart_core::{
    calendar::{HORIZON_DAYS, add_days},
    leadtime::{
        DayLaw, OpenSupply, SupplyKeys,
        estimate::{Counts, Observation, Strength, posterior_law},
        history::{Fact, History, PastLine},
        learn::{LearnSettings, LearnedLaws},
    },
};
use criterion::{Criterion, criterion_group, criterion_main};
use jiff::civil::{Date, date};

const AS_OF: Date = date(2026, 6, 1);

/// Waits of 1 to 200 days, one in eight censored: the same as `fit_beside.py` in the notes.
fn observations(count: u32) -> Vec<Observation> {
    let wait = |k: u32| (k.wrapping_mul(2_654_435_761) >> 8) % 200 + 1;
    (0..count)
        .map(|k| Observation { entry_day: None, day: wait(k), event: k % 8 != 0, weight: 1.0 })
        .collect()
}

fn fit(observations: &[Observation], parent: &DayLaw) -> DayLaw {
    let mut counts = Counts::default();
    for seen in observations {
        counts.add(seen);
    }
    posterior_law(parent, &counts.at_risk(None, 1.0), Strength { orders: 8.0, tail_exponent: 0.5 })
}

fn day(n: i64) -> Fact {
    let on = add_days(AS_OF, n).unwrap();
    Fact { on, recorded_on: on }
}

/// 200 suppliers, 4,000 offers, five years; the last 60 days' orders are open.
fn line(k: u32) -> PastLine {
    let supplier = k % 200;
    let quote = 5 + supplier % 60;
    let placed = -i64::from(k.wrapping_mul(2_654_435_761) >> 8) % 1_825;
    let took = i64::from(quote) * (8 + i64::from(k % 7)) / 10;
    PastLine {
        supplier,
        offer: supplier * 20 + k / 200 % 20,
        order: None,
        quoted_days: Some(quote),
        placed: day(placed),
        taken_over_on: None,
        rejected: false,
        promises: vec![],
        despatched: None,
        completed: (placed + took < 0).then(|| day(placed + took)),
        cancelled: None,
        contacts: vec![],
    }
}

fn bench(criterion: &mut Criterion) {
    let parent = DayLaw::log_logistic(30, 4);
    let million = observations(1_000_000);
    criterion.bench_function("fit_1000000_observations", |b| {
        b.iter(|| fit(black_box(&million), &parent));
    });

    let lines = (0..100_000).map(line).collect();
    let history = History { lines, ..History::default() };
    let settings = LearnSettings::default();
    criterion.bench_function("learn_100000_lines", |b| {
        b.iter(|| LearnedLaws::learn(black_box(&history), AS_OF, &settings));
    });

    let mut laws = LearnedLaws::learn(&history, AS_OF, &settings);
    let open = history
        .lines
        .iter()
        .find(|line| line.completed.is_none() && line.placed.on < AS_OF)
        .unwrap()
        .clone();
    let received = PastLine { completed: Some(day(-1)), ..open.clone() };
    let keys =
        SupplyKeys { supplier: Some(open.supplier), offer: Some(open.offer), order: open.order };
    let supply = OpenSupply {
        placed_on: AS_OF,
        quoted_days: open.quoted_days,
        promise: None,
        despatched_on: None,
    };
    criterion.bench_function("count_one_receipt", |b| {
        b.iter(|| {
            laws.replace(Some(&open), Some(&received));
            laws.replace(Some(&received), Some(&open));
        });
    });
    criterion.bench_function("refit_one_offer_to_an_arrival", |b| {
        b.iter(|| laws.arrival(black_box(keys), &supply, AS_OF, HORIZON_DAYS));
    });
    criterion.bench_function("arrivals_of_60_sources", |b| {
        b.iter(|| {
            for k in 0..60 {
                let line = &history.lines[k * 37];
                let keys = SupplyKeys {
                    supplier: Some(line.supplier),
                    offer: Some(line.offer),
                    order: line.order,
                };
                let supply = OpenSupply { quoted_days: line.quoted_days, ..supply };
                black_box(laws.arrival(keys, &supply, AS_OF, HORIZON_DAYS));
            }
        });
    });
}

criterion_group!(benches, bench);
criterion_main!(benches);
