//! What issue 3 asks to be shown, on worlds whose truth is known. Source of every expectation: the
//! simulation's own truth. Long versions run with `BAYSTART_TEST_NIGHTLY=1`; the tables are printed
//! by `BAYSTART_TEST_NIGHTLY=1 cargo test --release -p baystart-testkit worlds -- --nocapture`.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::ops::ControlFlow;

use baystart_core::{
    backtest::{AGE_BANDS, BacktestPlan, Event, Method, Report, Slice, age_band, run},
    calendar::{add_days, days_between},
    forecast::{CommonCause, RHO_DEFAULT, Source, normal_cdf, start_cdf, start_cdf_with},
    leadtime::{
        Laws, SupplyKeys,
        learn::{LearnSettings, LearnedLaws},
    },
    score::{ClusteredMean, stated_quantile},
};

use super::{draw::Draws, table::backtest, *};

fn nightly() -> bool {
    std::env::var("BAYSTART_TEST_NIGHTLY").is_ok_and(|value| value == "1")
}

/// Sums over one age band: the truth's expected CRPS, what is added to it, and what may be.
#[derive(Clone, Copy, Default)]
struct Excess {
    best: f64,
    added: f64,
    allowed: f64,
}

fn walk_steady(world: &World, from_day: i64, step_days: u32) -> (Report, [Excess; AGE_BANDS]) {
    let plan = BacktestPlan {
        step_days,
        baselines: false,
        ..BacktestPlan::over(add_days(world.first, from_day).unwrap(), world.end)
    };
    let mut excess = [Excess::default(); AGE_BANDS];
    let report = run(&world.history, &plan, &LearnSettings::default(), &mut |event| {
        if let Event::Forecasted(found) = event {
            let line = &world.history.lines[found.line];
            let age = days_between(line.placed.on, found.as_of);
            let truth = truth_cdf(world, found.line, found.as_of, found.cdf.len());
            let at = usize::try_from(age).unwrap();
            let evidence = found.laws.lead_time_evidence(found.keys, line.quoted_days, at);
            let best: f64 = truth.iter().map(|p| p * (1.0 - p)).sum();
            let sum = &mut excess[age_band(age)];
            sum.best += best;
            sum.added += truth.iter().zip(found.cdf).map(|(p, q)| (p - q) * (p - q)).sum::<f64>();
            sum.allowed += best * 1.5 / evidence.offer_orders.max(1.0);
        }
        ControlFlow::Continue(())
    })
    .unwrap();
    (report, excess)
}

/// Every band: at 50, 80 and 90 % the hit rate and the mean stated probability differ by at most 3
/// standard errors, and the expected CRPS exceeds that of the truth by at most 1.5 over the
/// effective number of the offer's own orders at that age, relative.
fn is_calibrated(report: &Report, excess: &[Excess; AGE_BANDS], orders_min: usize) {
    for (band, excess) in excess.iter().enumerate() {
        let scores = report.scores(Method::Learned, Slice::AgeBand(band)).unwrap();
        assert!(scores.orders >= orders_min, "band {band}: {} orders", scores.orders);
        for gap in scores.gap {
            let errors = gap.mean / gap.standard_error;
            println!("band {band} n {} gap {:+.4} = {errors:+.2} s.e.", scores.orders, gap.mean);
            assert!(errors.abs() <= 3.0, "band {band}: {gap:?}");
        }
        println!("band {band} CRPS above the truth {:.3} %", 100.0 * excess.added / excess.best);
        assert!(excess.added <= excess.allowed, "band {band}");
    }
}

#[test]
fn a_steady_world_is_forecast_as_often_as_said() {
    let (report, excess) = walk_steady(&generate(Kind::Steady, 5_000, 6, 5), 900, 28);
    is_calibrated(&report, &excess, 50);
    if nightly() {
        let (report, excess) = walk_steady(&generate(Kind::Steady, 60_000, 6, 5), 700, 7);
        is_calibrated(&report, &excess, 5_600);
    }
}

/// From the first year on, and in worlds that change in other ways than steadily.
#[test]
fn a_drifting_world_is_followed_to_within_five_points() {
    let (orders, suppliers) = if nightly() { (6_000, 25) } else { (1_500, 10) };
    let kinds: &[Kind] =
        if nightly() { &[Kind::Drifting, Kind::SlowerAtOnce] } else { &[Kind::Drifting] };
    for kind in kinds.iter().copied() {
        let world = generate(kind, orders, suppliers, 7);
        let scored = |settings: &LearnSettings| {
            let plan = BacktestPlan { baselines: false, ..plan(&world, 28) };
            let go_on = &mut |_: Event<'_>| ControlFlow::Continue(());
            let report = run(&world.history, &plan, settings, go_on).unwrap();
            report.scores(Method::Learned, Slice::All).unwrap().clone()
        };
        let found = scored(&LearnSettings::default());
        let (hit, stated) = (found.hit[1].mean, found.stated[1].mean);
        println!("{}: 80 % hit {hit:.3}, said {stated:.3}", kind.text());
        assert!(found.gap[1].mean.abs() <= 0.05, "{:?}", found.gap);
        let blind = LearnSettings { drift_half_life_days: None, ..LearnSettings::default() };
        let blind = scored(&blind);
        println!("  unwatched {:.3}, CRPS {:.2}", blind.hit[1].mean, blind.crps.mean);
        assert!(blind.gap[1].mean < -0.08, "unwatched drift does show: {:?}", blind.gap);
        assert!(found.crps.mean < blind.crps.mean);
    }
}

/// Builds of 20 open orders in worlds with a common cause, laws learned there. A world gives a
/// build a quarter, of orders that no other build has; standard errors are clustered by world.
#[test]
fn learned_builds_of_twenty_with_a_common_cause_are_covered() {
    let (worlds, rhos): (u32, &[f64]) =
        if nightly() { (480, &[RHO_DEFAULT, 0.3]) } else { (3, &[RHO_DEFAULT]) };
    for rho in rhos.iter().copied() {
        let (mut with, mut without) = (ClusteredMean::default(), ClusteredMean::default());
        let (mut said, mut said_without) = (0.0, 0.0);
        for seed in 0..worlds {
            let world = generate(Kind::CommonCause, 3_000, 4, 1_000 + u64::from(seed));
            let one_build_a_day = BacktestPlan {
                step_days: 91,
                baselines: false,
                forecasts_per_day_max: 20,
                rho,
                ..BacktestPlan::over(add_days(world.first, 700).unwrap(), world.end)
            };
            let go_on = &mut |_: Event<'_>| ControlFlow::Continue(());
            let report =
                run(&world.history, &one_build_a_day, &LearnSettings::default(), go_on).unwrap();
            let Some(row) = report.builds.iter().find(|row| row.orders == 20) else {
                continue;
            };
            let [_, gap, _] = row.with_common_cause.gap;
            let [_, independent, _] = row.independent.gap;
            for _ in 0..gap.count {
                with.add((seed, 0), gap.mean);
                without.add((seed, 0), independent.mean);
                said += row.with_common_cause.stated[1].mean;
                said_without += row.independent.stated[1].mean;
            }
        }
        let (with, without) = (with.estimate(), without.estimate());
        let n = with.count as f64;
        println!(
            "rho {rho}: {} builds, 80 % hit less said: with {:+.4} ± {:.4} of {:.3}, \
             independent {:+.4} ± {:.4} of {:.3}",
            with.count,
            with.mean,
            with.standard_error,
            said / n,
            without.mean,
            without.standard_error,
            said_without / n,
        );
        assert_eq!(with.count, without.count);
        if !nightly() {
            // A handful of builds proves that they are made and scored, not that they are covered.
            assert!(with.count >= 6, "{}", with.count);
            continue;
        }
        assert!(with.count >= 1_600, "{}", with.count);
        // At 0.3, the correlation within a month's orders of these worlds, too wide by 3.5 standard
        // errors: the orders of a build were placed in several months. Printed, not asserted.
        let is_default = rho == RHO_DEFAULT;
        assert!(!is_default || with.mean.abs() <= 3.0 * with.standard_error, "{with:?}");
    }
}

/// Learning from closed orders alone: the quick ones close first.
#[test]
fn the_trap_of_closed_orders_is_visible() {
    let world = generate(Kind::Drifting, 1_500, 10, 7);
    let report = backtest(&world, 56, &LearnSettings::default()).unwrap();
    let gap = |method| report.scores(method, Slice::All).unwrap().gap[1].mean;
    let (learned, closed) = (gap(Method::Learned), gap(Method::CompletedOnly));
    println!("80 % gap: learned {learned:+.3}, completed orders only {closed:+.3}");
    assert!(closed < learned - 0.01);
}

/// Six orders in a hundred that nobody booked as received must not bend the tail of the others.
#[test]
fn the_trap_of_forgotten_orders_is_visible() {
    let world = generate(Kind::Sloppy, 1_500, 10, 7);
    let as_of = add_days(world.first, 1_400).unwrap();
    let mean_q95 = |stale_after_days| {
        let settings = LearnSettings { stale_after_days, ..LearnSettings::default() };
        let laws = LearnedLaws::learn(&world.history, as_of, &settings);
        let (mut sum, mut truth) = (0.0, 0.0);
        for (line, (median, sigma)) in world.history.lines.iter().zip(&world.truth).take(200) {
            let keys = SupplyKeys {
                supplier: Some(line.supplier),
                offer: Some(line.offer),
                order: line.order,
            };
            let law = laws.lead_time(keys, line.quoted_days).unwrap().conditional(0, 2_000);
            sum += law.partition_point(|p| *p < 0.95) as f64;
            truth += median * (1.644_853_626_951_472_2 * sigma).exp();
        }
        sum / truth
    };
    let (watched, believed) =
        (mean_q95(LearnSettings::default().stale_after_days), mean_q95(1_000_000));
    println!(
        "95 % date by the true one: stale orders set aside {watched:.2}, believed {believed:.2}"
    );
    assert!((0.85..1.35).contains(&watched), "{watched}");
    assert!(believed > 2.0 * watched, "{believed}");
}

/// Builds of 20 open orders at three suppliers, each with its own spell; the laws are the truth, so
/// only the common cause is on trial.
#[test]
fn builds_with_a_common_cause_are_covered_with_the_factor() {
    const BUILDS: u32 = 4_000;
    let mut draws = Draws::new(20);
    let laws: Vec<(f64, f64)> =
        (0..20).map(|_| (20.0 + 40.0 * draws.unit(), 0.2 + 0.2 * draws.unit())).collect();
    for rho in [0.15_f64, 0.5] {
        let mut sources = Vec::new();
        for (k, (median, sigma)) in (0_u32..).zip(&laws) {
            let cdf = (0..300).map(|t| normal_cdf(((f64::from(t) + 0.5) / median).ln() / sigma));
            sources.push(Source::new(0, Some(k % 3), cdf.collect()).unwrap());
        }
        let with = start_cdf_with(&sources, 300, &CommonCause::new(rho).unwrap());
        let (with, without) = (stated_quantile(&with, 0.8).unwrap(), {
            stated_quantile(&start_cdf(&sources, 300), 0.8).unwrap()
        });
        let mut gap = ClusteredMean::default();
        let mut independent = ClusteredMean::default();
        for build in 0..BUILDS {
            let spells = [draws.normal(), draws.normal(), draws.normal()];
            let mut latest = 0;
            for (k, (median, sigma)) in laws.iter().enumerate() {
                let score = rho.sqrt() * spells[k % 3] + (1.0 - rho).sqrt() * draws.normal();
                latest = latest.max((median * (sigma * score).exp()).round() as usize);
            }
            let hit = |(day, stated): (usize, f64)| f64::from(u8::from(latest <= day)) - stated;
            gap.add((build, 0), hit(with));
            independent.add((build, 0), hit(without));
        }
        let (gap, independent) = (gap.estimate(), independent.estimate());
        println!(
            "rho {rho}: with {:+.4} ± {:.4}, independent {:+.4}",
            gap.mean, gap.standard_error, independent.mean
        );
        assert!(gap.mean.abs() <= 3.0 * gap.standard_error, "{gap:?}");
        assert!(rho < 0.5 || independent.mean > 3.0 * independent.standard_error);
    }
}

#[test]
fn each_world_has_its_table() {
    for kind in Kind::ALL {
        let (orders, step_days) = if nightly() { (12_000, 28) } else { (240, 182) };
        let suppliers = if kind == Kind::CommonCause { 4 } else { 25 };
        let world = generate(kind, orders, suppliers, 11);
        let report = backtest(&world, step_days, &LearnSettings::default()).unwrap();
        let plan = plan(&world, step_days);
        let trap = forgotten_believed(&world, &plan, &LearnSettings::default()).unwrap();
        let learned = report.scores(Method::Learned, Slice::All).unwrap();
        assert_eq!(trap.orders, learned.orders);
        if kind == Kind::Sloppy {
            assert!(trap.crps.mean > learned.crps.mean, "the trap costs: {:?}", trap.crps);
        }
        let table = table(&world, &report, &trap);
        assert!(table.contains("completed orders only") && table.contains("| quote |"));
        println!("{table}");
    }
}
